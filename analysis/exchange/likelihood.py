"""The likelihood of the exchange model, by one banded factorisation instead of a loop over time.

A Kalman filter and smoother solve a linear Gaussian chain. The same chain written as one least-squares problem has a
banded normal matrix (two states per time, each tied to its neighbours only), so that LAPACK's banded Cholesky gives
the exact likelihood of the Kalman filter, missing readings and changing k(T) included, some fifty times faster than a
loop in Python. `filter.py` holds the loop; the tests hold the two and a third, independent filter against each other.

The offsets b and the temperature response β enter linearly. They are integrated out with their priors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dpbtrf, dpbtrs

from isohume.analysis.exchange.drive import BoolArray, ExchangeData
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, transition

# The disturbance of the panel, as a share of that of the air: hands and drafts reach the panel through the air.
PANEL_DISTURBANCE_SHARE = 0.1
# Start of the record, and again after every opening.
START_CENTRE_PERCENT = 50.0
START_SD_PERCENT = 30.0  # nothing is known of the air before its first reading
LAYER_START_SHARE = 0.5  # SD from one layer of the panel to the next, as a share of that of x₂ − x₁
# What the temperature does beyond the handbook's isotherm, which the moisture scale holds; [%RH/K].
TEMPERATURE_RESPONSE_SD = 0.3
LOG_TWO_PI = float(np.log(2 * np.pi))


@dataclass(frozen=True, slots=True)
class Smoothed:
    """What the whole record says, given the parameters.

    Attributes
    ----------
    log_likelihood : float
    states : (n, 1 or 2) array [%RH]
        Smoothed air and panel, on the moisture scale and that of the inside logger in place.
    offsets : (n − 1,) array [%RH]
        b in each step, for the pair of loggers then in place.
    linear, linear_covariance : (m,) and (m, m) arrays
        Offset b of each room logger, step at each change of the inside logger [%RH], then β [%RH/K].
    residuals : (n,) array [%RH]
        Readings minus smoothed readings; NaN where there is none.
    end_state, end_covariance : (k,) and (k, k) arrays
        At the last time: air, layers of the panel, b and β, on the scale of the inside logger then in place.
    """

    log_likelihood: float
    states: FloatArray
    offsets: FloatArray
    linear: FloatArray
    linear_covariance: FloatArray
    residuals: FloatArray
    end_state: FloatArray
    end_covariance: FloatArray


def loglikelihood(
    parameters: ExchangeParameters, data: ExchangeData, *, leak_factor: FloatArray | None = None
) -> float:
    """Return the log likelihood of the inside readings, with b, β and the start integrated out.

    Parameters
    ----------
    parameters : ExchangeParameters
    data : ExchangeData
    leak_factor : (n − 1,) array, optional
        Factor on the leakage in each step, few different values: 1 everywhere for a seal that did not change.
    """
    return _assemble(parameters, data, leak_factor).log_likelihood


def smooth(parameters: ExchangeParameters, data: ExchangeData, *, leak_factor: FloatArray | None = None) -> Smoothed:
    """Estimate states, offsets and temperature response from the whole record."""
    problem = _assemble(parameters, data, leak_factor)
    size = parameters.n_states
    weights = np.concatenate([[1.0], problem.linear])
    states = (problem.solution @ weights).reshape(-1, size)
    residuals = np.where(np.isnan(data.observed), np.nan, weights @ problem.readings - states[:, 0])
    covariance: FloatArray = np.asarray(np.linalg.inv(problem.precision))
    # The last block of the factor holds the last state's own uncertainty; the linear parameters add theirs.
    rooms = data.offset_sd.size
    spread = np.vstack([problem.solution[-size:, 1:], np.zeros((2, weights.size - 1))])
    spread[size, data.pair[-1]] = spread[-1, -1] = 1
    spread[size, rooms:-1] = data.pair[data.inside_changes] == data.pair[-1]
    end_state = spread @ problem.linear
    end_state[:size] += problem.solution[-size:, 0] + START_CENTRE_PERCENT
    end_covariance = spread @ covariance @ spread.T
    end_covariance[:size, :size] += problem.last_block_covariance
    return Smoothed(
        log_likelihood=problem.log_likelihood,
        states=states + START_CENTRE_PERCENT,
        offsets=problem.linear[data.pair[1:]] + problem.linear[rooms:-1] @ _shifts_of_offset(data),
        linear=problem.linear,
        linear_covariance=covariance,
        residuals=residuals,
        end_state=end_state,
        end_covariance=end_covariance,
    )


@dataclass(frozen=True, slots=True)
class _Problem:
    log_likelihood: float
    solution: FloatArray  # (n·s, 1 + m): response of the states to the data and to each linear parameter
    readings: FloatArray  # (1 + m, n)
    linear: FloatArray
    precision: FloatArray
    last_block_covariance: FloatArray


def board_readings(parameters: ExchangeParameters, data: ExchangeData) -> tuple[FloatArray, float]:
    """Return what the readings say of x₁ if b is 0, (n,) [%RH], and how it falls with b [%RH per %RH].

    The air that is read is x₁ + φ·(u + b − x₁).
    """
    direct = parameters.direct_share
    return (data.observed - direct * data.drive_now) / (1 - direct), direct / (1 - direct)


def noise_precision(parameters: ExchangeParameters, data: ExchangeData) -> FloatArray:
    """Return one over the variance of `board_readings`, 0 where there is no reading, (n,) [%RH⁻²]."""
    precision = data.n_readings * ((1 - parameters.direct_share) / parameters.noise_percent) ** 2
    return np.where(np.isnan(data.observed), 0.0, precision)


def process_variance(parameters: ExchangeParameters, data: ExchangeData) -> FloatArray:
    """Return the variance added to each state in each step, (s, n − 1) [%RH²].

    Where the room went unrecorded, the drive is interpolated and its uncertainty added.
    """
    own = parameters.process_percent_per_sqrt_day**2 * data.step_days
    variance = np.full((parameters.n_states, data.scaling.size), own * PANEL_DISTURBANCE_SHARE**2)
    variance[0] = own + data.drive_variance * (data.scaling / parameters.tau_leak) ** 2 * data.step_days
    return variance


def start_precision(n_states: int, panel_start_sd: float) -> FloatArray:
    """Return the inverse covariance of the state at a start, (s, s) [%RH⁻²]."""
    contrast = np.eye(n_states) - np.eye(n_states, k=-1)
    deviation = np.full(n_states, LAYER_START_SHARE * panel_start_sd)
    deviation[:2] = (START_SD_PERCENT, panel_start_sd)[:n_states]
    return np.asarray(contrast.T @ (contrast / deviation[:, None] ** 2))


def shift_pushes(data: ExchangeData, push: FloatArray) -> FloatArray:
    """Return what one %RH of step at each change of the inside logger does to the states, (s, changes, n − 1).

    All that is measured on the logger's scale moves with it: at once the states, and the drive for as long as the
    room's logger stays.
    """
    pushes = push[:, None, :] * (data.scaling * _shifts_of_offset(data))
    for k, change in enumerate(data.inside_changes):
        pushes[:, k, change - 1] = 1
    return pushes


def _shifts_of_offset(data: ExchangeData) -> FloatArray:
    """Return 1 in the steps in which b carries the step of a change of the inside logger, (changes, n − 1)."""
    changes = data.inside_changes[:, None]
    after = np.arange(data.scaling.size) >= changes
    return np.asarray(after & (data.pair[1:] == data.pair[changes]), dtype=np.float64)


def shifts_at_readings(data: ExchangeData) -> FloatArray:
    """Return 1 at the readings at which b carries the step of a change of the inside logger, (changes, n)."""
    changes = data.inside_changes[:, None]
    return np.asarray((np.arange(data.observed.size) >= changes) & (data.pair == data.pair[changes]), dtype=np.float64)


def _assemble(parameters: ExchangeParameters, data: ExchangeData, leak_factor: FloatArray | None) -> _Problem:
    s, n, rooms, changes = parameters.n_states, data.observed.size, data.offset_sd.size, data.inside_changes
    m = rooms + changes.size + 1
    scaling = data.scaling
    matrix, push = transition(parameters, scaling, data.step_days, leak_factor=leak_factor)

    # Right-hand sides, one a row: the data, then the response to each unit of a linear parameter.
    readings, drive = np.zeros((1 + m, n)), np.zeros((1 + m, n - 1))
    read, of_offset = board_readings(parameters, data)
    readings[0] = np.where(np.isnan(read), 0.0, read - START_CENTRE_PERCENT)
    readings[1 + data.pair, np.arange(n)] = -of_offset
    readings[-1] = -data.warming
    drive[0] = data.scaled_drive - scaling * START_CENTRE_PERCENT
    drive[1 + data.pair[1:], np.arange(n - 1)] = scaling
    drive[-1] = -scaling * data.warming_between
    pushed = push[:, None, :] * drive  # (s, 1 + m, n − 1)
    if changes.size:
        readings[1 + rooms : -1] = -of_offset * shifts_at_readings(data)
        pushed[:, 1 + rooms : -1] = shift_pushes(data, push)
    of_reading = noise_precision(parameters, data)
    variance = process_variance(parameters, data)
    linked = ~data.segment_start[1:]
    of_process = linked / variance
    at_start = start_precision(s, data.panel_start_sd)

    band = _normal_equations(matrix, of_reading, of_process, data.segment_start, at_start)
    weighted = of_process[:, None, :] * pushed
    side = np.zeros((s, 1 + m, n))
    side[0] = of_reading * readings
    side[:, :, 1:] += weighted
    side[:, :, :-1] -= np.einsum("ijn,imn->jmn", matrix, weighted)
    factor, failed = dpbtrf(band, lower=1, overwrite_ab=1)
    if failed:
        raise np.linalg.LinAlgError("the normal matrix of the exchange model is not positive definite")
    by_time = np.ascontiguousarray(side.transpose(1, 2, 0)).reshape(1 + m, n * s).T
    solution, _ = dpbtrs(factor, by_time, lower=1, overwrite_b=1)

    # Weighted products of what the fitted states leave of each right-hand side.
    states = np.ascontiguousarray(solution.T.reshape(1 + m, n, s).transpose(2, 0, 1))
    left = readings - states[0]
    gram = (of_reading * left) @ left.T
    for start in np.flatnonzero(data.segment_start):
        gram += states[:, :, start].T @ at_start @ states[:, :, start]
    change = states[:, :, 1:] - pushed - np.einsum("ijn,jmn->imn", matrix, states[:, :, :-1])
    gram += ((of_process[:, None, :] * change) @ change.transpose(0, 2, 1)).sum(axis=0)

    sds = [*data.offset_sd, *[data.shift_sd] * changes.size, TEMPERATURE_RESPONSE_SD]
    prior = 1 / np.array(sds) ** 2
    precision = gram[1:, 1:] + np.diag(prior)
    linear = -np.linalg.solve(precision, gram[1:, 0])
    quadratic = gram[0, 0] + linear @ gram[1:, 0]
    log_determinant = (
        2 * np.log(factor[0]).sum()
        + np.linalg.slogdet(precision)[1]
        + np.log(variance[:, linked]).sum()
        - data.segment_start.sum() * np.linalg.slogdet(at_start)[1]
        - np.log(of_reading[of_reading > 0]).sum()
        - np.log(prior).sum()
    )
    count = int((of_reading > 0).sum())
    to_air = count * np.log1p(-parameters.direct_share)  # from the density of what is said of x₁ to that of the air
    return _Problem(
        log_likelihood=float(-0.5 * (log_determinant + quadratic + count * LOG_TWO_PI) - to_air),
        solution=solution,
        readings=readings,
        linear=linear,
        precision=precision,
        last_block_covariance=_last_block_covariance(factor, s),
    )


def _normal_equations(
    matrix: FloatArray,
    of_reading: FloatArray,
    of_process: FloatArray,
    segment_start: BoolArray,
    at_start: FloatArray,
) -> FloatArray:
    """Return the normal matrix of all states as its lower band, (2s, n·s), ordered by time."""
    s, n = matrix.shape[0], of_reading.size
    band = np.zeros((2 * s, n, s))
    weighted = of_process[:, None, :] * matrix  # (s, s, n − 1)
    starts = np.flatnonzero(segment_start)
    for i in range(s):
        for j in range(i + 1):
            own = band[i - j, :, j]
            own[starts] = at_start[i, j]
            own[:-1] += (weighted[:, i] * matrix[:, j]).sum(axis=0)
            if i == j:
                own[1:] += of_process[i]
        for j in range(s):
            band[s + i - j, :-1, j] = -weighted[i, j]
    band[0, :, 0] += of_reading
    return np.asfortranarray(band.reshape(2 * s, n * s))


def _last_block_covariance(factor: FloatArray, s: int) -> FloatArray:
    """Return the covariance of the last state given the linear parameters, from the factor's last block."""
    block = np.zeros((s, s))
    for j in range(s):
        block[j:, j] = factor[: s - j, factor.shape[1] - s + j]
    return np.asarray(np.linalg.inv(block @ block.T))
