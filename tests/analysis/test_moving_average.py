"""Moving averages against the published gains of a 30-day mean, and against a plain weighted sum."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from isohume.analysis.moving_average import centred_mean, trailing_mean

GAINS = pd.read_csv(Path(__file__).parents[1] / "reference" / "moving_average_30d_gain.csv", comment="#")
MONTH, DAY = pd.Timedelta(days=30), pd.Timedelta(hours=24)


def hourly(values: np.ndarray) -> pd.Series:
    return pd.Series(values, index=pd.date_range("2025-01-01", periods=len(values), freq="h", tz="UTC"), name="rh")


@pytest.mark.parametrize("row", list(GAINS.itertuples()), ids=lambda row: f"{row.sine_period_days:g}d")
def test_30_day_mean_has_the_published_gain(row: tuple) -> None:
    hours = np.arange(24 * 400)
    wave = np.cos(2 * np.pi * hours / (24 * row.sine_period_days))
    mean = centred_mean(hourly(wave), window=MONTH).dropna()
    at = hours[360 : 360 + len(mean)]
    gain = (mean.to_numpy() @ wave[at]) / (wave[at] @ wave[at])
    # 2e-5: hourly points with half-weight edges against the continuous mean, and the print of six decimals.
    assert gain == pytest.approx(row.gain_continuous, abs=2e-5)


def test_24_hour_mean_removes_the_daily_cycle_entirely() -> None:
    hours = np.arange(24 * 20)
    mean = centred_mean(hourly(50 + 10 * np.sin(2 * np.pi * hours / 24 + 0.7)), window=DAY)
    np.testing.assert_allclose(mean.dropna(), 50, atol=1e-11)


def test_centred_mean_needs_a_full_window_and_each_half_covered() -> None:
    values = np.full(24 * 10, 50.0)
    mean = centred_mean(hourly(values), window=DAY)
    assert mean.notna().sum() == 240 - 24
    assert mean.iloc[:12].isna().all()
    assert mean.iloc[-12:].isna().all()
    values[100:103] = np.nan  # 3 of 12 hours: less than 80 % in any half that holds them all
    mean = centred_mean(hourly(values), window=DAY)
    assert mean.iloc[101] == 50  # 1.5 hours lost in each half
    assert np.isnan(mean.iloc[95])
    assert np.isnan(mean.iloc[107])
    assert mean.iloc[115] == 50


def test_trailing_mean_ends_with_its_hour() -> None:
    series = hourly(np.arange(24 * 9.0))
    mean = trailing_mean(series, window=pd.Timedelta(days=7))
    assert mean.iloc[:168].isna().all()
    assert mean.iloc[168] == pytest.approx(84)
    assert mean.iloc[-1] == pytest.approx(series.iloc[-1] - 84)


@settings(max_examples=40)
@given(hnp.arrays(float, st.integers(30, 90), elements=st.one_of(st.floats(0, 100), st.just(np.nan))))
def test_centred_mean_equals_the_weighted_mean_written_out(values: np.ndarray) -> None:
    computed = centred_mean(hourly(values), window=DAY, least_coverage=0.5).to_numpy()
    weights = np.ones(25)
    weights[[0, -1]] = 0.5
    half = np.ones(13)
    half[[0, -1]] = 0.5
    for middle in range(len(values)):
        window = values[max(0, middle - 12) : middle + 13]
        expected = np.nan
        if len(window) == 25 and middle >= 12:
            known = ~np.isnan(window)
            if half @ known[:13] >= 6 and half @ known[12:] >= 6:
                expected = weights[known] @ window[known] / weights[known].sum()
        np.testing.assert_allclose(computed[middle], expected, atol=1e-9)


def test_refuses_a_broken_grid_and_an_odd_window() -> None:
    series = hourly(np.zeros(100))
    with pytest.raises(ValueError, match="step by one hour"):
        centred_mean(series.drop(series.index[50]), window=DAY)
    with pytest.raises(ValueError, match="even number"):
        centred_mean(series, window=pd.Timedelta(hours=25))
    with pytest.raises(ValueError, match="whole hours"):
        trailing_mean(series, window=pd.Timedelta(minutes=90))
