from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from isohume.analysis.exchange.fit import CannotTell, FittedExchange, fit_exchange
from isohume.analysis.forecast.fan import Fan, passage
from isohume.analysis.forecast.finding import forecast_finding, venue_trial
from isohume.analysis.forecast.room import daily_means
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord

NOW = pd.Timestamp("2026-01-01", tz="UTC")


@pytest.fixture(scope="module")
def fitted(year_pair: Any) -> FittedExchange:
    found = fit_exchange(year_pair.inside, year_pair.outside)
    assert isinstance(found, FittedExchange)
    return found


def fan_of(members: np.ndarray) -> Fan:
    return Fan(start=NOW, members=members, reading_sd_percent=0.3)


def test_passage_is_the_first_by_which_members_have_left_not_the_share_outside_at_once() -> None:
    # Two members of three leave below, at different times and come back: by day 30 both have been outside.
    members = np.full((61, 3), 50.0)
    members[10:20, 0] = 30.0
    members[30:40, 1] = 30.0
    found = passage(fan_of(members), np.full(6, 50.0), low=45, high=55)
    # A 7-day mean of 50 takes two days at 30 to fall below 45: (5·50 + 2·30)/7 = 44.3.
    assert found.earliest == NOW + pd.Timedelta(days=11)
    assert found.likely == NOW + pd.Timedelta(days=31)
    assert found.chance_at_horizon == pytest.approx(2 / 3)


def test_recent_days_belong_to_the_first_means() -> None:
    members = np.full((20, 4), 50.0)
    found = passage(fan_of(members), np.full(6, 40.0), low=45, high=55)
    assert found.outside_now
    assert found.earliest == NOW
    # (4·40 + 3·50)/7 = 44.3, (3·40 + 4·50)/7 = 45.7: back after three more days.
    assert found.back_by == NOW + pd.Timedelta(days=3)


def test_reading_fan_is_wider_than_the_fan_of_means() -> None:
    rng = np.random.default_rng(4)
    fan = fan_of(50 + rng.normal(0, 1.0, (30, 2000)))
    low, high = fan.reading_fan()
    # Independent spreads of 1.0 and 0.3 add in squares: 2·1.2816·√(1 + 0.09).
    assert np.mean(high - low) == pytest.approx(2 * 1.2816 * np.sqrt(1.09), rel=0.03)


def test_daily_means_end_at_the_moment_given() -> None:
    index = pd.date_range("2026-01-01T05:00", periods=72, freq="h", tz="UTC")
    series = pd.Series(np.repeat([1.0, 2.0, 3.0], 24), index=index)
    means = daily_means(series, end=pd.Timestamp("2026-01-04T04:00", tz="UTC"))
    np.testing.assert_allclose(means, [1.0, 2.0, 3.0])


def test_days_of_sparse_readings_rest_on_the_time_they_cover() -> None:
    index = pd.date_range("2026-01-01", periods=7, freq="4h", tz="UTC")
    series, end = pd.Series(np.arange(0.0, 28.0, 4.0), index=index), pd.Timestamp("2026-01-02", tz="UTC")
    (before, day) = daily_means(series, end=end, step=pd.Timedelta(hours=4))
    assert np.isnan(before)  # one lone hour
    assert day == pytest.approx(12.5)  # a ramp of 1 an hour, hours 1 to 24
    gap = daily_means(series.iloc[[0, 1, 5, 6]], end=end, step=pd.Timedelta(hours=4))
    assert np.isnan(gap[-1])  # 16 h without a reading are no record


def test_forecast_starts_where_the_record_ends_and_repeats_exactly(fitted: FittedExchange, year_pair: Any) -> None:
    frame = FrameFacts(band=(44, 56))
    one, other = (forecast_finding(fitted, year_pair.inside, year_pair.outside, frame=frame, seed=3) for _ in range(2))
    assert one.series is not None
    assert other.series is not None
    pd.testing.assert_frame_equal(one.series, other.series)
    now = float(year_pair.inside.rh_percent.iloc[-24:].mean())
    assert one.series["median"].iloc[0] == pytest.approx(now, abs=1.0)
    assert (one.series["low10"] <= one.series["median"]).all()
    assert (one.series["low10"] - one.series["reading_low10"]).mean() > 0
    assert (one.series["reading_high90"] - one.series["high90"]).mean() > 0
    assert one.chance_outside_at_horizon is not None
    assert 0 <= one.chance_outside_at_horizon <= 1
    if one.leave_by is not None:
        assert one.earliest_plausible is not None
        assert one.earliest_plausible <= one.leave_by


def test_an_undetermined_model_gives_no_forecast(year_pair: Any) -> None:
    unknown = CannotTell(why="Too short.")
    found = forecast_finding(unknown, year_pair.inside, year_pair.outside, frame=FrameFacts(band=(44, 56)))
    assert "Too short" in found.why
    assert found.series is None


def test_venue_trial_follows_the_venue(fitted: FittedExchange, year_pair: Any) -> None:
    index = pd.date_range("2026-05-01", periods=91 * 24, freq="h", tz="UTC")

    def venue(rh: float) -> AirRecord:
        table = {"rh_percent": np.full(len(index), rh), "temperature_celsius": np.full(len(index), 20.0)}
        return AirRecord(readings=pd.DataFrame(table, index=index))

    ends = [
        float(
            np.median(
                venue_trial(fitted, year_pair.inside, frame=FrameFacts(), days=90, venue=venue(rh)).fan.members[-1]
            )
        )
        for rh in (35.0, 50.0, 65.0)
    ]
    assert ends[0] < ends[1] < ends[2]
    with pytest.raises(ValueError, match="91 whole days of the 200"):
        venue_trial(fitted, year_pair.inside, frame=FrameFacts(), days=200, venue=venue(50.0))
    with pytest.raises(KeyError, match="controlled gallery"):
        venue_trial(fitted, year_pair.inside, frame=FrameFacts(), days=30, climate="the moon")


def test_reading_fan_of_normal_courses_holds_eight_in_ten() -> None:
    # The sum of independent normal spreads is normal; where all courses agree only the scatter of readings is left.
    rng = np.random.default_rng(3)
    for spread, scatter in ((0.0, 0.25), (0.2, 0.25), (3.0, 0.25)):
        members = 45 + spread * rng.standard_normal((2, 40_000))
        low, high = Fan(start=NOW, members=members, reading_sd_percent=scatter).reading_fan()
        half = norm.ppf(0.9) * np.hypot(spread, scatter)
        np.testing.assert_allclose(low, 45 - half, atol=0.03 * half)
        np.testing.assert_allclose(high, 45 + half, atol=0.03 * half)
