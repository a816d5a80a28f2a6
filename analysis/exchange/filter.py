"""The Kalman filter of the exchange model as a loop over time, and the model run forward into a future.

The filter gives what the record up to each moment says: the state a forecast starts from, and the one-step errors
whose whiteness tells whether the model leaves anything unexplained. Its likelihood equals that of `likelihood.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.likelihood import (
    LOG_TWO_PI,
    START_CENTRE_PERCENT,
    TEMPERATURE_RESPONSE_SD,
    board_readings,
    noise_precision,
    process_variance,
    start_precision,
)
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, scaling_of_leakage, transition
from isohume.analysis.exchange.moisture_scale import MoistureScale

VAGUE = 3.0  # times the usual expected error: the state had been lost


@dataclass(frozen=True, slots=True, kw_only=True)
class FilteredStates:
    """What the record up to each time says.

    The state holds the air, the layers of the panel [%RH on the moisture scale], the present offset b [%RH] and β
    [%RH/K]: s + 2 numbers, on the scale of the inside logger then in place.
    """

    states: FloatArray  # (n, s + 2)
    covariances: FloatArray  # (n, s + 2, s + 2)
    errors: FloatArray  # (n,) reading minus its one-step prediction [%RH]; NaN where there is no reading
    error_sds: FloatArray  # (n,) what the model expects of them
    log_likelihood: float


def filter_states(
    parameters: ExchangeParameters, data: ExchangeData, *, leak_factor: FloatArray | None = None
) -> FilteredStates:
    """Run the Kalman filter over a record; arguments as `likelihood.loglikelihood`."""
    s, n = parameters.n_states, data.observed.size
    matrices, pushes = transition(parameters, data.scaling, data.step_days, leak_factor=leak_factor)
    added = process_variance(parameters, data)
    precision = noise_precision(parameters, data)
    start = np.linalg.inv(start_precision(s, data.panel_start_sd))
    state, covariance = np.zeros(s + 2), np.zeros((s + 2, s + 2))
    covariance[-1, -1] = TEMPERATURE_RESPONSE_SD**2
    move, warming_between = np.eye(s + 2), data.warming_between
    states, covariances = np.empty((n, s + 2)), np.empty((n, s + 2, s + 2))
    errors, error_sds = np.full(n, np.nan), np.full(n, np.nan)
    log_likelihood = 0.0
    read, of_offset = board_readings(parameters, data)
    to_air = 1 - parameters.direct_share
    see = np.zeros(s + 2)
    see[0], see[s] = 1.0, of_offset
    for t in range(n):
        if t == 0 or data.pair[t] != data.pair[t - 1]:
            state[s] = 0.0
            covariance[s, :] = covariance[:, s] = 0.0
            covariance[s, s] = data.offset_sd[data.pair[t]] ** 2
        if t > 0:
            move[:s, :s] = matrices[:, :, t - 1]
            move[:s, s] = pushes[:, t - 1] * data.scaling[t - 1]
            move[:s, s + 1] = -move[:s, s] * warming_between[t - 1]
            state = move @ state
            state[:s] += pushes[:, t - 1] * data.scaled_drive[t - 1]
            covariance = move @ covariance @ move.T
            covariance[np.arange(s), np.arange(s)] += added[:, t - 1]
            if data.inside_logger[t] != data.inside_logger[t - 1]:
                # Another inside logger: all that is measured on its scale moves by the same unknown step.
                covariance[:-1, :-1] += data.shift_sd**2
        if data.segment_start[t]:
            state[:s] = START_CENTRE_PERCENT
            covariance[:s, :] = covariance[:, :s] = 0.0
            covariance[:s, :s] = start
        if precision[t] > 0:
            see[-1] = data.warming[t]
            towards = covariance @ see
            variance = see @ towards + 1 / precision[t]
            error = read[t] - see @ state
            errors[t], error_sds[t] = error * to_air, np.sqrt(variance) * to_air
            state = state + towards * (error / variance)
            covariance = covariance - np.outer(towards, towards) / variance
            log_likelihood -= 0.5 * (np.log(variance) + error**2 / variance + LOG_TWO_PI) + np.log(to_air)
        states[t], covariances[t] = state, covariance
    return FilteredStates(
        states=states,
        covariances=covariances,
        errors=errors,
        error_sds=error_sds,
        log_likelihood=float(log_likelihood),
    )


def standardised(filtered: FilteredStates) -> FloatArray:
    """Return the one-step errors over their expected size, (n,); NaN where that is vague, after a start or a gap."""
    usual = np.nanmedian(filtered.error_sds)
    vague = ~(filtered.error_sds < VAGUE * usual)
    return np.where(vague, np.nan, filtered.errors / filtered.error_sds)


def simulate_inside(
    parameters: ExchangeParameters | Sequence[ExchangeParameters],
    state: FloatArray,
    drive_percent: FloatArray,
    temperature_celsius: FloatArray,
    *,
    step_days: float,
    reference_celsius: float,
    offset_percent: FloatArray | float = 0.0,
    temperature_response: FloatArray | float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Run the model forward, without disturbances, for one or many members of an ensemble.

    Parameters
    ----------
    parameters : ExchangeParameters or sequence of them
        One for all members, or one each; all with the same number of states.
    state : (s,) or (m, s) array [%RH, moisture scale]
        State of each member at the first time.
    drive_percent : (n,) or (n, m) array [%RH]
        u at each time: the RH the room's vapour would have at the inside temperature.
    temperature_celsius : (n,) or (n, m) array [°C]
        Inside temperature.
    step_days : float [days]
        From each time to the next; drive and temperature are averaged over it.
    reference_celsius : float [°C]
        T_ref of the fit.
    offset_percent, temperature_response : (m,) arrays or floats
        b and β of each member.

    Returns
    -------
    rh_percent : (n, m) array [%RH]
        What the inside logger would read, without its noise.
    states : (n, m, s) array [%RH, moisture scale]
    """
    scale = MoistureScale(reference_celsius)
    state = np.atleast_2d(state)
    drive, celsius = (np.asarray(a if a.ndim == 2 else a[:, None]) for a in (drive_percent, temperature_celsius))
    frames = [parameters] if isinstance(parameters, ExchangeParameters) else list(parameters)
    m = max(len(state), drive.shape[1], celsius.shape[1], len(frames), np.size(offset_percent))
    n, s = len(drive), frames[0].n_states
    drive, celsius = np.broadcast_to(drive, (n, m)), np.broadcast_to(celsius, (n, m))
    state = np.broadcast_to(state, (m, s))

    scaling = scaling_of_leakage(celsius, reference_celsius)
    mean_scaling = (scaling[1:] + scaling[:-1]) / 2
    matrix, push = np.empty((n - 1, m, s, s)), np.empty((n - 1, m, s))
    if len(frames) == 1:
        both = transition(frames[0], mean_scaling.ravel(), step_days)
        matrix[:] = np.moveaxis(both[0], -1, 0).reshape(n - 1, m, s, s)
        push[:] = np.moveaxis(both[1], -1, 0).reshape(n - 1, m, s)
    else:
        for k, frame in enumerate(frames):
            both = transition(frame, mean_scaling[:, k], step_days)
            matrix[:, k], push[:, k] = np.moveaxis(both[0], -1, 0), np.moveaxis(both[1], -1, 0)
    scaled_drive = (scaling * drive)[1:] / 2 + (scaling * drive)[:-1] / 2

    warming = temperature_response * (celsius - reference_celsius)
    direct = np.array([frame.direct_share for frame in frames])
    states, rh_percent, board = np.empty((n, m, s)), np.empty((n, m)), np.empty(m)
    for t in range(n):
        if t > 0:
            # The leak follows the RH difference; the state is moisture. As in `drive.exchange_data`.
            bend = states[t - 1, :, 0] - board + offset_percent
            pushed = scaled_drive[t - 1] + mean_scaling[t - 1] * bend
            state = np.einsum("mij,mj->mi", matrix[t - 1], state) + push[t - 1] * pushed[:, None]
        states[t] = state
        board = scale.to_rh(state[:, 0] + warming[t], celsius[t])
        rh_percent[t] = board + direct * (drive[t] + offset_percent - board)
    return rh_percent, states
