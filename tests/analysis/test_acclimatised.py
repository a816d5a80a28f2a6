from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.acclimatised import acclimatised_limits, judge_acclimatised


def years(start: str, days: int, *, daily: float, level: float = 50.0) -> pd.Series[float]:
    index = pd.date_range(start, periods=days * 24, freq="h", tz="UTC")
    hours = np.arange(len(index))
    season = 6 * np.cos(2 * np.pi * (index.day_of_year.to_numpy() - 1) / 366)
    return pd.Series(level + season + daily * np.cos(2 * np.pi * hours / 24), index=index, name="rh_percent")


def test_pure_daily_cosine_has_its_known_percentiles() -> None:
    # Hourly samples of a daily cosine of amplitude A: 7th and 93rd percentile at ∓0.96593 A (computed with NumPy).
    index = pd.date_range("2023-01-01", periods=400 * 24, freq="h", tz="UTC")
    pure = pd.Series(50 + 20 * np.cos(2 * np.pi * np.arange(len(index)) / 24), index=index, name="rh_percent")
    limits = acclimatised_limits(pure)
    assert limits.percentile_low == pytest.approx(-0.96593 * 20, abs=1e-3)
    assert limits.percentile_high == pytest.approx(0.96593 * 20, abs=1e-3)
    assert (limits.lower, limits.upper) == (limits.percentile_low, limits.percentile_high)


def test_limits_are_never_narrower_than_ten_percent() -> None:
    limits = acclimatised_limits(years("2023-01-01", 400, daily=2))
    assert (limits.lower, limits.upper) == (-10, 10)


def test_a_later_year_is_held_to_the_season_of_the_reference() -> None:
    limits = acclimatised_limits(years("2023-01-01", 400, daily=2))
    same = judge_acclimatised(years("2025-01-01", 365, daily=2), limits)
    assert same.hours_below == 0
    assert same.hours_above == 0
    drier = judge_acclimatised(years("2025-01-01", 365, daily=2, level=50 - 13), limits)
    assert drier.hours_below == pytest.approx(drier.hours_covered)
    partly = judge_acclimatised(years("2025-01-01", 365, daily=2, level=50 - 10), limits)
    # 10 lower: below the limit for the half of the day in which the cosine is negative.
    assert partly.hours_below / partly.hours_covered == pytest.approx(0.5, abs=0.03)


def test_a_climate_is_not_judged_by_itself() -> None:
    reference = years("2023-01-01", 400, daily=2)
    with pytest.raises(ValueError, match="overlaps the reference"):
        judge_acclimatised(reference.iloc[-1000:], acclimatised_limits(reference))


def test_thirteen_months_are_asked_for() -> None:
    with pytest.raises(ValueError, match="at least 13 months"):
        acclimatised_limits(years("2023-01-01", 365, daily=2))
