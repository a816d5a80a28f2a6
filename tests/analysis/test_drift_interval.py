"""The interval of the 60-day slope: what a frame of known dynamics makes of weather of known spectrum."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from isohume.analysis.drift import seasonal_drift
from isohume.analysis.drift_interval import daily_covariance, slope_standard_error, weather
from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.exchange.model import ExchangeParameters


@pytest.fixture(scope="module")
def fitted(year_pair: Any) -> FittedExchange:
    answer = fit_exchange(year_pair.inside, year_pair.outside)
    assert isinstance(answer, FittedExchange)
    return answer


def autoregressive(memory_days: float, *, sd: float, n: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    kept = np.exp(-1 / memory_days)
    course = np.empty(n)
    course[0] = rng.normal(0, sd)
    kicks = rng.normal(0, sd * np.sqrt(1 - kept**2), n)
    for day in range(1, n):
        course[day] = kept * course[day - 1] + kicks[day]
    return course


@pytest.mark.parametrize("memory_days", [1.5, 4.0, 8.0])
@pytest.mark.parametrize("n_days", [200, 400])
def test_weather_is_told_from_the_season(memory_days: float, n_days: int) -> None:
    day = np.arange(n_days)
    found = [
        weather(50 + 12 * np.cos(2 * np.pi * day / 365.25) + autoregressive(memory_days, sd=4.0, n=n_days, seed=seed))
        for seed in range(12)
    ]
    sd, memory = np.median(found, axis=0)
    assert sd == pytest.approx(4.0, rel=0.15)
    # The integral of a correlation that falls to 1/e in m days, day by day, from its middle: 1/(1 − e^(−1/m)) − ½.
    assert memory == pytest.approx(1 / -np.expm1(-1 / memory_days) - 0.5, rel=0.35)


def test_a_slower_frame_remembers_longer_and_moves_less(fitted: FittedExchange) -> None:
    one = replace(fitted, parameters=ExchangeParameters(tau_leak=10.0))
    other = replace(fitted, parameters=ExchangeParameters(tau_leak=100.0))
    quick, slow = (daily_covariance(answer, n_recent_days=60) for answer in (one, other))
    assert quick[0] > slow[0]
    assert quick[30] / quick[0] < slow[30] / slow[0]


def test_variance_inside_is_that_of_filtered_weather(fitted: FittedExchange) -> None:
    """Weather of variance σ² and memory m through a first-order lag τ leaves σ²·m/(m + τ), in continuous time."""
    quiet = ExchangeParameters(tau_leak=60.0, tau_board=0.0, process_percent_per_sqrt_day=1e-6, noise_percent=1e-6)
    still = replace(fitted.data, warming=np.zeros_like(fitted.data.warming), scaling=np.ones_like(fitted.data.scaling))
    case = replace(fitted, parameters=quiet, data=replace(still, scaled_drive=fitted.data.scaled_drive))
    per_day = round(1 / still.step_days)
    daily = (case.data.scaled_drive / case.data.scaling)[: -(case.data.scaling.size % per_day) or None]
    sd, memory = weather(daily.reshape(-1, per_day).mean(axis=1))
    expected = sd**2 * memory / (memory + 60.0)
    assert daily_covariance(case, n_recent_days=60)[0] == pytest.approx(expected, rel=0.05)


def test_longer_stretches_are_surer_of_their_slope(fitted: FittedExchange) -> None:
    month, season = (slope_standard_error(np.arange(n, dtype=float), fitted) for n in (30, 60))
    assert season < month


def test_the_interval_of_the_finding_comes_from_the_fit(year_pair: Any, fitted: FittedExchange) -> None:
    drift = seasonal_drift(year_pair.inside, year_pair.outside, fitted=fitted)
    assert drift.slope_low is not None
    assert drift.slope_high is not None
    half = (drift.slope_high - drift.slope_low) / 2
    assert half == pytest.approx(30 * 1.96 * slope_standard_error(np.arange(60.0), fitted), rel=0.02)
    without = seasonal_drift(year_pair.inside, year_pair.outside)
    assert without.slope_percent_per_30d == drift.slope_percent_per_30d
    assert without.slope_low != drift.slope_low
