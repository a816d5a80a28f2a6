"""Seasonal drift against Sen's example, NIST's ENSO record, closed forms, and simulated autoregressive days."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter
from scipy.stats import theilslopes

from isohume.analysis.drift import fit_harmonic, seasonal_drift, theil_sen_slope
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import DriftFinding

ENSO = pd.read_csv(Path(__file__).parents[1] / "reference" / "nist_enso.csv", comment="#")
YEAR_HOURS = 365.25 * 24


def air(rh: np.ndarray, start: str = "2024-01-01") -> AirRecord:
    index = pd.date_range(start, periods=len(rh), freq="h", tz="UTC", name="time_utc")
    return AirRecord(readings=pd.DataFrame({"rh_percent": rh, "temperature_celsius": 20 + 0 * rh}, index=index))


def drift(inside: AirRecord, outside: AirRecord | None, *, conditioned: float | None = None) -> DriftFinding:
    return seasonal_drift(inside, outside, conditioned_percent=conditioned)


def test_theil_sen_gives_the_slope_of_sen_1968() -> None:
    # Sen (1968), J. Am. Stat. Assoc. 63:1379-1389, example: slope 4.
    x = np.array([1.0, 2, 3, 4, 10, 12, 18])
    y = np.array([9.0, 15, 19, 20, 45, 55, 78])
    assert theil_sen_slope(x, y) == 4
    assert theil_sen_slope(np.arange(3.0), np.array([0.0, 1, 1])) == 0.5


@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(0.01, 9)), min_size=2, max_size=30))
def test_theil_sen_equals_the_general_library(points: list[tuple[float, float]]) -> None:
    values, time = np.array([value for value, _ in points]), np.cumsum([step for _, step in points])
    assert theil_sen_slope(time, values) == pytest.approx(theilslopes(values, time).slope, abs=1e-9)


def test_annual_harmonic_of_the_enso_record() -> None:
    # NIST StRD ENSO data; ordinary least squares with the 12-month terms alone: computed beside the certified values.
    x, y = ENSO["x"].to_numpy(float), ENSO["y"].to_numpy(float)
    assert len(x) == 168
    mean, cosine, sine = fit_harmonic(x, y, period=12.0)
    assert mean == pytest.approx(10.64166667, abs=1e-8)
    assert cosine == pytest.approx(3.05288721, abs=1e-8)
    assert sine == pytest.approx(0.48018313, abs=1e-8)
    residuals = y - mean - cosine * np.cos(2 * np.pi * x / 12) - sine * np.sin(2 * np.pi * x / 12)
    assert residuals @ residuals == pytest.approx(1160.7698567, abs=1e-6)


def test_annual_cycle_is_that_of_a_first_order_frame() -> None:
    # τ = 60 d over one year: gain 0.69583, lag 46.576 d (computed, 1/√(1+(ωτ)²) and arctan(ωτ)/ω).
    hours = np.arange(24 * 400)
    phase = 2 * np.pi * hours / YEAR_HOURS
    lag_turn = 2 * np.pi * 46.576 / 365.25
    finding = drift(air(50 + 6.9583 * np.cos(phase - lag_turn)), air(48 + 10 * np.cos(phase)))
    annual = finding.annual
    assert annual is not None
    assert annual.attenuation == pytest.approx(1 / 0.69583, rel=1e-3)
    assert annual.lag_days == pytest.approx(46.576, abs=0.1)
    assert annual.inside_mean_percent == pytest.approx(50, abs=0.01)
    # Room lowest half a year after 1 January 2024; the inside 46.6 days later.
    assert abs(annual.outside_minimum_date - pd.Timestamp("2024-07-01", tz="UTC")) <= pd.Timedelta(days=1)
    assert abs(annual.inside_minimum_date - pd.Timestamp("2024-08-17", tz="UTC")) <= pd.Timedelta(days=1)


def test_30_day_means_departure_and_dates() -> None:
    hours = np.arange(24 * 400)
    rh = 46 + 5 * np.cos(2 * np.pi * (hours - 20 * 24) / YEAR_HOURS) + 2 * np.sin(2 * np.pi * hours / 24)
    finding = drift(air(rh), air(rh), conditioned=50.0)
    gain = 0.98894  # of a 30-day mean on the annual cycle, computed table of moving averages
    newest = 46 + gain * 5 * np.cos(2 * np.pi * (400 - 15 - 20) / 365.25)
    assert finding.mean30d_percent == pytest.approx(newest, abs=0.01)
    assert finding.departure_percent == pytest.approx(newest - 50, abs=0.01)
    assert finding.lowest30d is not None
    assert finding.highest30d is not None
    assert finding.lowest30d.percent == pytest.approx(46 - gain * 5, abs=0.01)
    assert abs(finding.lowest30d.date - pd.Timestamp("2024-07-21", tz="UTC")) <= pd.Timedelta(days=1)
    assert finding.highest30d.percent == pytest.approx(46 + gain * 5, abs=0.02)


def test_steady_fall_has_its_slope_and_daily_swings_do_not_matter() -> None:
    hours = np.arange(24 * 90)
    rh = 50 - 4 * hours / (30 * 24) + 3 * np.sin(2 * np.pi * hours / 24)
    finding = drift(air(rh), air(rh))
    assert finding.slope_percent_per_30d == pytest.approx(-4, abs=1e-9)
    assert finding.slope_low == pytest.approx(-4, abs=1e-6)
    assert finding.annual is None
    assert "No annual cycle" in finding.why
    assert "not recorded" in finding.why


def test_only_the_last_60_days_make_the_slope() -> None:
    hours = np.arange(24 * 200)
    rh = np.where(hours < 24 * 140, 60.0, 60 - 3 * (hours - 24 * 140) / 720)
    assert drift(air(rh), air(rh)).slope_percent_per_30d == pytest.approx(-3, abs=1e-9)


def test_interval_of_the_slope_allows_for_the_memory_of_daily_means() -> None:
    # 60 trials of a trend in autoregressive days (memory 0.9): a 95 % interval that treated the days as independent
    # would hold the truth in about a third of them.
    rng = np.random.default_rng(12)
    held = 0
    for _ in range(60):
        days = lfilter([0.3], [1, -0.9], rng.normal(size=500))[-60:]
        rh = np.repeat(50 + days - 2 * np.arange(60) / 30, 24)
        finding = drift(air(rh), air(rh))
        assert finding.slope_low is not None
        assert finding.slope_high is not None
        held += finding.slope_low <= -2 <= finding.slope_high
    assert held >= 50


def test_short_record_and_hole_are_said() -> None:
    short = drift(air(np.full(24 * 20, 50.0)), air(np.full(24 * 20, 50.0)), conditioned=50.0)
    assert short.mean30d_percent is None
    assert short.slope_percent_per_30d is None
    assert short.lowest30d is None
    assert "No 30-day mean" in short.why
    assert "No slope" in short.why
    rh = np.full(24 * 200, 50.0)
    rh[24 * 180 : 24 * 190] = np.nan
    holed = drift(air(rh), air(rh))
    assert holed.mean30d_percent == 50
    assert "around 2024-06" in holed.why


def test_humidity_that_never_changes_has_no_annual_cycle() -> None:
    hours = np.arange(24 * 380)
    finding = drift(air(np.full(hours.size, 50.0)), air(45 + 8 * np.sin(2 * np.pi * hours / YEAR_HOURS)))
    assert finding.annual is None
    assert "the same all year" in finding.why
    assert finding.slope_percent_per_30d == finding.slope_low == finding.slope_high == 0


def test_empty_inside_says_why() -> None:
    finding = drift(air(np.full(100, np.nan)), None)
    assert finding.mean30d_percent is None
    assert "no record of the room" in finding.why
