"""What a finding says of itself where its interval is known to be too narrow."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from isohume.analysis.exchange.finding import (
    COLD_AND_DAMP,
    COLD_CELSIUS,
    DAMP_PERCENT,
    LONG_DAYS,
    finding_from,
)
from isohume.analysis.exchange.fit import FittedExchange, fit_exchange


@pytest.fixture(scope="module")
def fitted(year_pair: Any) -> FittedExchange:
    first = year_pair.inside.readings.index[0]
    answer = fit_exchange(year_pair.inside, year_pair.outside, as_of=first + np.timedelta64(60, "D"))
    assert isinstance(answer, FittedExchange)
    return answer


@pytest.mark.parametrize(
    ("percent", "celsius", "days", "warned"),
    [(1.0, -1.0, -1.0, True), (-1.0, -1.0, -1.0, False), (1.0, 1.0, -1.0, False), (1.0, -1.0, 1.0, False)],
)
def test_short_records_from_cold_damp_air_are_warned_of(
    fitted: FittedExchange, percent: float, celsius: float, days: float, *, warned: bool
) -> None:
    reference = COLD_CELSIUS + celsius
    case = replace(fitted, reference_celsius=reference)
    level = case.scale.from_rh(DAMP_PERCENT + percent, reference)
    n = round((LONG_DAYS + days) / fitted.data.step_days) + 1
    grid = replace(fitted.data, observed=np.full(n, float(level)))
    assert (COLD_AND_DAMP in finding_from(replace(case, data=grid)).notes) is warned
