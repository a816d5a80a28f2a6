"""The scan for a changed leak, held against the exact likelihood and against frames whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize_scalar

from isohume.analysis.exchange import fit_exchange
from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.exchange.likelihood import loglikelihood
from isohume.analysis.readings import AirRecord
from isohume.analysis.seal.scan import scan_seal

START = pd.Timestamp("2025-01-10T00:00Z")
DAYS, CHANGE_DAY, FACTOR = 150, 100, 2.0


def record(humidity: np.ndarray, celsius: np.ndarray | float = 20.0) -> AirRecord:
    index = pd.date_range(START, periods=len(humidity), freq="h", tz="UTC")
    table = {"rh_percent": humidity, "temperature_celsius": np.broadcast_to(celsius, humidity.shape).astype(float)}
    return AirRecord(readings=pd.DataFrame(table, index=index), uncertainty_percent=2.0)


def weather(rng: np.random.Generator, n: int) -> np.ndarray:
    """A room that wanders over days, about 10 %RH drier than the frame."""
    course = np.zeros(n)
    for k in range(1, n):
        course[k] = course[k - 1] * np.exp(-1 / 96) + rng.normal(0, 5 * np.sqrt(2 / 96))
    return 40 + course


def frame_of_two_reservoirs(rng: np.random.Generator, room: np.ndarray, factor: np.ndarray) -> np.ndarray:
    """Inside air by Euler's method in steps of an hour, independent of the model's own discretisation."""
    tau_leak, tau_12, tau_21 = 20.0, 6.0, 12.0
    air, panel = 50.0, 50.0
    seen = np.empty(len(room))
    for k in range(len(room)):
        flow = (panel - air) / tau_12
        panel += (air - panel) / tau_21 / 24
        air += (factor[k] * (room[k] - air) / tau_leak + flow) / 24
        seen[k] = air + rng.normal(0, 0.25)
    return seen


@pytest.fixture(scope="module")
def fitted() -> FittedExchange:
    rng = np.random.default_rng(5)
    n = DAYS * 24
    factor = np.where(np.arange(n) < CHANGE_DAY * 24, 1.0, FACTOR)
    room = weather(rng, n)
    answer = fit_exchange(record(frame_of_two_reservoirs(rng, room, factor)), record(room))
    fitted = answer.fitted if isinstance(answer, CannotTell) else answer
    assert fitted is not None
    return fitted


def test_date_and_factor_of_a_frame_that_obeys_the_model(fitted: FittedExchange) -> None:
    scan = scan_seal(fitted)
    assert scan is not None
    best = int(np.argmax(scan.log_likelihood_ratio))
    # A day: the spacing of the fine scan. The factor: two of its standard deviations.
    assert abs(scan.dates[best] - (START + pd.Timedelta(days=CHANGE_DAY))) <= pd.Timedelta(days=2)
    assert abs(scan.factor[best] - FACTOR) < 2 * scan.factor_sd[best] + 0.1
    assert scan.beyond_rivals[best] > 10


def test_likelihood_ratio_agrees_with_the_exact_likelihood(fitted: FittedExchange) -> None:
    scan = scan_seal(fitted)
    assert scan is not None
    best = int(np.argmax(scan.log_likelihood_ratio))
    data, parameters = fitted.data, fitted.parameters
    after = data.times[1:] > scan.dates[best]

    def cost(log_factor: float, log_level: float) -> float:
        there = replace(parameters, tau_leak=parameters.tau_leak * np.exp(-log_level))
        return -loglikelihood(there, data, leak_factor=np.where(after, np.exp(log_factor), 1.0))

    def best_level(log_factor: float) -> float:
        return float(minimize_scalar(lambda level: cost(log_factor, level), bounds=(-1, 1), method="bounded").fun)

    found = minimize_scalar(best_level, bounds=(0.1, 1.5), method="bounded", options={"xatol": 1e-3})
    # The scan also lets sensors drift and the panel's shape adapt, which explains a part of the change.
    assert scan.factor[best] == pytest.approx(np.exp(found.x), rel=0.1)
    exact = best_level(0.0) - found.fun
    assert 0.5 * exact < scan.log_likelihood_ratio[best] < 1.3 * exact
