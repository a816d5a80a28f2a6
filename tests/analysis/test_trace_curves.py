"""The curves for figures agree with the figures beside them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from isohume.analysis.exchange.finding import finding_from
from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.exchange.model import GAIN_PERIODS_DAYS
from isohume.analysis.trace_curves import gain_curve, step_curve


@pytest.fixture(scope="module")
def fitted(year_pair: Any) -> FittedExchange:
    answer = fit_exchange(year_pair.inside, year_pair.outside)
    assert isinstance(answer, FittedExchange)
    return answer


def test_half_of_a_step_is_in_after_the_half_time(fitted: FittedExchange) -> None:
    curve = step_curve(fitted)
    assert np.interp(fitted.half_time_days, curve.index, curve["share"]) == pytest.approx(0.5, abs=0.005)
    assert curve["share"].is_monotonic_increasing
    within = curve.iloc[1:]  # at once there is no doubt
    assert ((within["low"] < within["share"]) & (within["share"] < within["high"])).all()
    # Where the interval of the curve crosses one half lies the interval of the half-time.
    crossing = [np.interp(0.5, curve[edge], curve.index) for edge in ("high", "low")]
    assert crossing == pytest.approx([fitted.half_time_low, fitted.half_time_high], rel=0.03)


def test_gains_along_the_curve_are_those_of_the_finding(fitted: FittedExchange) -> None:
    curve, finding = gain_curve(fitted), finding_from(fitted)
    assert curve["gain"].is_monotonic_increasing
    assert curve["gain"].between(0, 1).all()
    for name, days in GAIN_PERIODS_DAYS.items():
        told = finding.gain[name]
        for column, value in (("gain", told.gain), ("low", told.low), ("high", told.high)):
            assert value is not None
            assert np.interp(np.log(days), np.log(curve.index), curve[column]) == pytest.approx(value, rel=0.05)
