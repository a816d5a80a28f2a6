from __future__ import annotations

import numpy as np
import pytest

from isohume.analysis.forecast.room_courses import (
    DRIVE_PRIOR,
    SeasonPrior,
    fitted_courses,
    recorded_years,
    weather_of,
)

RNG_SEED = 11


def autocorrelated(rng: np.random.Generator, n: int, sd: float, memory: float) -> np.ndarray:
    kept = np.exp(-1 / memory)
    values = np.empty(n)
    values[0] = rng.normal(0, sd)
    for day in range(1, n):
        values[day] = kept * values[day - 1] + rng.normal(0, sd * np.sqrt(1 - kept**2))
    return values


def annual(days: np.ndarray) -> np.ndarray:
    return np.asarray(48 + 9 * np.cos(2 * np.pi * days / 365.25))


def draw(daily: np.ndarray, n_days: int, *, n_members: int = 300, prior: SeasonPrior = DRIVE_PRIOR) -> np.ndarray:
    rng = np.random.default_rng(RNG_SEED)
    return fitted_courses(daily, first_day_of_year=0, n_days=n_days, n_members=n_members, prior=prior, rng=rng)


def test_a_recorded_season_is_expected_to_return() -> None:
    rng = np.random.default_rng(RNG_SEED)
    days = np.arange(800)
    courses = draw((annual(days) + autocorrelated(rng, 800, 3, 3))[:420], 365)
    # 2 %RH: one year of weather of 3 %RH and three days leaves a few tenths; two thirds of a %RH of slow anomaly more.
    assert np.abs(np.median(courses, axis=0)[30:] - annual(days[450:785])).max() < 2.0


def test_a_short_record_leaves_the_season_open() -> None:
    rng = np.random.default_rng(RNG_SEED)
    record = annual(np.arange(420)) + autocorrelated(rng, 420, 3, 3)
    spreads = []
    for n in (60, 420):
        low, high = np.percentile(draw(record[-n:], 180)[:, -1], [10, 90])
        spreads.append(high - low)
    assert spreads[0] > 1.5 * spreads[1]


def test_tomorrow_resembles_today() -> None:
    rng = np.random.default_rng(RNG_SEED)
    record = 50 + autocorrelated(rng, 400, 5, 5)
    record[-4:] = 64
    courses = draw(record, 60)
    assert courses[:, 0].mean() > 58
    assert abs(courses[:, -1].mean() - 50) < 4


def test_courses_stay_possible() -> None:
    rng = np.random.default_rng(RNG_SEED)
    wet = draw(95 + autocorrelated(rng, 100, 5, 3), 365)
    assert wet.max() <= 100
    assert wet.min() >= 5


@pytest.mark.parametrize("memory", [2.0, 5.0])
def test_weather_is_measured(memory: float) -> None:
    rng = np.random.default_rng(RNG_SEED)
    n = 2500
    sd, found = weather_of(annual(np.arange(n)) + autocorrelated(rng, n, 4, memory), DRIVE_PRIOR)
    assert sd == pytest.approx(4, rel=0.1)
    assert found == pytest.approx(memory, rel=0.25)


def test_gaps_keep_their_place_in_the_year() -> None:
    days = np.arange(420)
    record = annual(days) + autocorrelated(np.random.default_rng(RNG_SEED), 420, 2, 3)
    record[100:160] = np.nan
    assert np.abs(np.median(draw(record, 100), axis=0) - annual(np.arange(420, 520))).max() < 3


def test_too_short_a_record_is_refused() -> None:
    with pytest.raises(ValueError, match="recorded on 9 days"):
        draw(np.full(9, 50.0), 30)


def test_recorded_years_start_on_the_same_date() -> None:
    days = np.arange(4 * 365 + 1)
    courses = recorded_years(annual(days), n_days=300)
    assert courses.shape == (4, 300)
    expected = annual(np.arange(len(days), len(days) + 300))
    # A calendar year is not a whole number of days: half a day of a cycle of 9 %RH.
    assert np.abs(courses - expected).max() < 0.1


def test_a_year_with_too_many_gaps_is_left_out() -> None:
    record = annual(np.arange(3 * 366))
    record[-365:-300] = np.nan
    assert recorded_years(record, n_days=300).shape == (2, 300)
