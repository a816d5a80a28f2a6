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
    DISTURBED,
    LONG_DAYS,
    finding_from,
)
from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.exchange.interval import CALIBRATION, half_time_interval


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


def wandering(n: int, *, sd_percent: float, memory_hours: float) -> np.ndarray:
    rng = np.random.default_rng(4)
    kept = np.exp(-1 / memory_hours)
    course = np.zeros(n)
    for hour, kick in enumerate(rng.normal(0, sd_percent * np.sqrt(1 - kept**2), n - 1), 1):
        course[hour] = kept * course[hour - 1] + kick
    return course


def test_a_climate_of_its_own_around_the_rooms_logger_widens_the_interval_and_is_said(
    year_pair: Any, fitted: FittedExchange
) -> None:
    room = year_pair.outside.readings
    apart = room.assign(rh_percent=room["rh_percent"] + wandering(len(room), sd_percent=2.0, memory_hours=72.0))
    first = room.index[0]
    outside = replace(year_pair.outside, readings=apart)
    disturbed = fit_exchange(year_pair.inside, outside, as_of=first + np.timedelta64(60, "D"))
    assert isinstance(disturbed, FittedExchange)
    # √(variance × twice the memory) = 2 %RH × √(6 days) = 4.9; the fit finds about half of it.
    assert CALIBRATION.disturbance_to < disturbed.parameters.drive_disturbance < 6.0
    assert DISTURBED in finding_from(disturbed).notes
    low, _ = half_time_interval(disturbed.half_time_days, disturbed.log_standard_error)
    assert disturbed.half_time_low < low
    assert fitted.parameters.drive_disturbance < CALIBRATION.disturbance_from
    assert DISTURBED not in finding_from(fitted).notes
    assert fitted.half_time_low == half_time_interval(fitted.half_time_days, fitted.log_standard_error)[0]


def test_doubt_begins_and_ends_where_published() -> None:
    ends = CALIBRATION.disturbance_from, CALIBRATION.disturbance_to
    assert [CALIBRATION.doubt(value) for value in ends] == pytest.approx([0.0, CALIBRATION.disturbed])
    assert CALIBRATION.doubt(100.0) == pytest.approx(CALIBRATION.disturbed)
