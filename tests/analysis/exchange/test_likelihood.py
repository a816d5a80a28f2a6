"""Three routes to one likelihood: banded factorisation, our loop, and statsmodels' state space."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from statsmodels.tsa.statespace.kalman_filter import KalmanFilter

from isohume.analysis.exchange import ExchangeData, ExchangeParameters, filter_states, loglikelihood, smooth
from isohume.analysis.exchange.likelihood import (
    START_CENTRE_PERCENT,
    TEMPERATURE_RESPONSE_SD,
    process_variance,
    start_precision,
)
from isohume.analysis.exchange.model import FloatArray, transition

FRAMES = {
    "one reservoir": ExchangeParameters(tau_leak=14.0),
    "two reservoirs": ExchangeParameters(tau_leak=14.0, tau_12=6.0, tau_21=30.0, process_percent_per_sqrt_day=0.05),
    "a leaky frame": ExchangeParameters(tau_leak=1.1, tau_12=0.5, tau_21=3.0, tau_board=0.3),
    "panel in one layer": ExchangeParameters(tau_leak=14.0, tau_12=6.0, tau_21=30.0, panel_layers=1),
}


def record(seed: int = 3, n: int = 160) -> ExchangeData:
    """A record with everything that can happen: gaps, an opening, another logger, a room that went unrecorded."""
    rng = np.random.default_rng(seed)
    scaling = np.exp(rng.normal(0, 0.1, n - 1))
    observed = 50 + np.cumsum(rng.normal(0, 0.3, n))
    observed[20:35] = np.nan
    start = np.zeros(n, dtype=bool)
    start[[0, 90]] = True
    observed[90:92] = np.nan
    drive_variance = np.zeros(n - 1)
    drive_variance[60:70] = 25.0
    return ExchangeData(
        start_utc=pd.Timestamp("2026-01-01", tz="UTC"),
        step_days=0.25,
        observed=observed,
        n_readings=rng.integers(3, 7, n).astype(float),
        warming=rng.normal(0, 2, n),
        scaled_drive=scaling * (45 + rng.normal(0, 3, n - 1)),
        scaling=scaling,
        drive_now=45 + rng.normal(0, 3, n),
        drive_variance=drive_variance,
        segment_start=start,
        pair=np.where(np.arange(n) < 120, 0, 1),
        offset_sd=np.array([1.6, 1.6]),
        inside_logger=np.where(np.arange(n) < 50, 0, 1),
        shift_sd=1.9,
        reference_celsius=20.0,
    )


def statsmodels_log_likelihood(frame: ExchangeParameters, data: ExchangeData) -> tuple[float, FloatArray]:
    """State: air, panel, b, β. statsmodels carries x(t) to x(t + 1) with the matrices of index t."""
    n, s = data.observed.size, frame.n_states
    matrix, push = transition(frame, data.scaling, data.step_days)
    added = process_variance(frame, data)
    start = np.linalg.inv(start_precision(s, data.panel_start_sd))
    model = KalmanFilter(k_endog=1, k_states=s + 2, k_posdef=s + 2)
    model.bind(data.observed[None, :].copy())
    design = np.zeros((1, s + 2, n))
    direct = frame.direct_share
    design[0, 0], design[0, s], design[0, -1] = 1 - direct, direct, (1 - direct) * data.warming
    move, noise = np.zeros((s + 2, s + 2, n)), np.zeros((s + 2, s + 2, n))
    intercept = np.zeros((s + 2, n))
    for t in range(n - 1):
        move[s, s, t] = move[s + 1, s + 1, t] = 1.0
        if data.pair[t + 1] != data.pair[t]:
            move[s, s, t], noise[s, s, t] = 0.0, data.offset_sd[1] ** 2
            # The new offset drives the state at once: it enters with the step that leads to its first reading.
            noise[:s, s, t] = noise[s, :s, t] = push[:, t] * data.scaling[t] * data.offset_sd[1] ** 2
            noise[:s, :s, t] = np.outer(push[:, t], push[:, t]) * (data.scaling[t] * data.offset_sd[1]) ** 2
        else:
            move[:s, s, t] = push[:, t] * data.scaling[t]
        if data.inside_logger[t + 1] != data.inside_logger[t]:
            noise[: s + 1, : s + 1, t] += data.shift_sd**2
        if data.segment_start[t + 1]:
            move[:s, s, t] = 0.0
            intercept[:s, t] = START_CENTRE_PERCENT
            noise[:s, :s, t] = start
            continue
        move[:s, :s, t] = matrix[:, :, t]
        move[:s, s + 1, t] = -push[:, t] * data.scaling[t] * data.warming_between[t]
        intercept[:s, t] = push[:, t] * data.scaled_drive[t]
        noise[np.arange(s), np.arange(s), t] += added[:, t]
    variance = frame.noise_percent**2 / data.n_readings
    model["obs_intercept"] = direct * data.drive_now[None, :]
    model["design"], model["transition"], model["state_cov"] = design, move, noise
    model["state_intercept"], model["selection"] = intercept, np.eye(s + 2)
    model["obs_cov"] = variance[None, None, :]
    mean = np.append(np.full(s, START_CENTRE_PERCENT), [0.0, 0.0])
    covariance = np.zeros((s + 2, s + 2))
    covariance[:s, :s] = start
    covariance[s, s], covariance[-1, -1] = data.offset_sd[0] ** 2, TEMPERATURE_RESPONSE_SD**2
    model.initialize_known(mean, covariance)
    found = model.filter()
    return float(found.llf_obs.sum()), found.filtered_state[:, -1]


@pytest.mark.parametrize("name", FRAMES)
def test_three_filters_agree_on_likelihood_and_state(name: str) -> None:
    frame, data = FRAMES[name], record()
    theirs, their_state = statsmodels_log_likelihood(frame, data)
    ours = filter_states(frame, data)
    assert loglikelihood(frame, data) == pytest.approx(theirs, abs=1e-6)
    assert ours.log_likelihood == pytest.approx(theirs, abs=1e-6)
    assert ours.states[-1] == pytest.approx(their_state, abs=1e-6)


@pytest.mark.parametrize("name", FRAMES)
def test_smoother_and_filter_end_alike(name: str) -> None:
    frame, data = FRAMES[name], record()
    smoothed, filtered = smooth(frame, data), filter_states(frame, data)
    assert smoothed.end_state == pytest.approx(filtered.states[-1], abs=1e-7)
    assert smoothed.end_covariance == pytest.approx(filtered.covariances[-1], abs=1e-9)


def test_a_leak_factor_moves_both_routes_alike() -> None:
    frame, data = FRAMES["two reservoirs"], record()
    factor = np.where(np.arange(data.scaling.size) < 80, 1.0, 2.5)
    banded = loglikelihood(frame, data, leak_factor=factor)
    assert banded == pytest.approx(filter_states(frame, data, leak_factor=factor).log_likelihood, abs=1e-6)
    assert banded != pytest.approx(loglikelihood(frame, data), abs=1e-3)


def test_shifting_room_and_inside_alike_changes_nothing_once_the_start_is_forgotten() -> None:
    """Only differences count: the same frame 5 %RH higher, inside and out, is as likely but for the vague start."""
    frame, data = FRAMES["two reservoirs"], replace(record(), segment_start=np.arange(160) == 0)
    higher = replace(
        data,
        observed=data.observed + 5,
        scaled_drive=data.scaled_drive + 5 * data.scaling,
        drive_now=data.drive_now + 5,
    )
    here, there = smooth(frame, data), smooth(frame, higher)
    # The start's standard deviation of 30 %RH leaves a trace of the order of (5/30)².
    assert there.log_likelihood == pytest.approx(here.log_likelihood, abs=0.1)
    assert there.linear == pytest.approx(here.linear, abs=0.02)


def test_missing_readings_are_bridged_by_the_model() -> None:
    frame, data = FRAMES["two reservoirs"], record()
    smoothed = smooth(frame, data)
    assert np.isnan(smoothed.residuals[20:35]).all()
    assert np.isfinite(smoothed.states).all()
