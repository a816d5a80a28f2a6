"""Maximum likelihood: from a record on a grid to the parameters of one or two reservoirs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.likelihood import loglikelihood
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, half_time_days, scaled

# Everything is estimated as a logarithm: half-time [days]; τ₁₂/τ_leak; τ₂₁/τ₁₂, the panel's capacity over the board's;
# disturbance [%RH/√day]; noise [%RH]. The half-time stands first so that its interval and its profile are direct.
# Weak priors keep a short record from leaving the range of possible frames: board of 0.4 to 4 kg/m² against panels of
# 2 to 13 kg/m² give capacity ratios of 0.5 to 30; loggers scatter by 0.1 to 0.6 %RH.
PRIOR_MEAN = np.array([3.4, -1.0, 0.5, np.log(0.05), np.log(0.25)])
PRIOR_SD = np.array([3.0, 1.5, 1.2, 2.0, 0.7])
ONE = [0, 3, 4]  # of these, the parameters of one reservoir
# The search does not look beyond: half-times of half an hour and of 300 years, logarithms of ratios of ±7.
LOWEST = np.array([-4.0, -7.0, -7.0, -8.0, -4.5])
HIGHEST = np.array([11.5, 7.0, 7.0, 2.0, 2.0])
START_HALF_TIMES_DAYS = (1.5, 4.0, 10.0, 25.0, 60.0, 150.0, 400.0)
START_SHAPES = ((-1.0, 0.5), (-2.5, 0.5), (0.3, 0.8))
START_FACTORS = (0.9, 1.2, 1.7)  # one reservoir finds half-times that are too short
HESSIAN_STEP = 0.03
GRADIENT_STEP = 1e-5
GRADIENT_TOLERANCE = 0.02  # of a log likelihood per unit of a logarithm


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The best parameters of one order, and how sharply the record holds them."""

    parameters: ExchangeParameters
    logs: FloatArray  # (3,) or (5,), half-time first
    covariance: FloatArray  # of `logs`, by the information matrix alone
    log_likelihood: float
    bic: float
    positive_definite: bool  # the likelihood has a peak here


def parameters_from(logs: FloatArray) -> ExchangeParameters:
    """Return the parameters that logarithms, (3,) or (5,), stand for."""
    process, noise = float(np.exp(logs[-2])), float(np.exp(logs[-1]))
    shape = ExchangeParameters(tau_leak=1.0, process_percent_per_sqrt_day=process, noise_percent=noise)
    if logs.size == 5:
        tau_12 = float(np.exp(logs[1]))
        shape = ExchangeParameters(
            tau_leak=1.0,
            tau_12=tau_12,
            tau_21=tau_12 * float(np.exp(logs[2])),
            process_percent_per_sqrt_day=process,
            noise_percent=noise,
        )
    return scaled(shape, float(np.exp(logs[0])) / half_time_days(shape))


def estimate(data: ExchangeData, *, reservoirs: int, start: FloatArray | None = None) -> Estimate:
    """Find the parameters of one order.

    Parameters
    ----------
    data : ExchangeData
    reservoirs : {1, 2}
    start : (3,) or (5,) array, optional
        Logarithms to start from; searched for where left out.
    """
    cost = _cost(data, reservoirs)
    if start is None:
        start = _start(data, cost, reservoirs)
    found = minimize(cost, start, method="BFGS", jac=_gradient(cost), options={"gtol": GRADIENT_TOLERANCE})
    curvature = _hessian(cost, found.x)
    values, vectors = np.linalg.eigh(curvature)
    peak = bool(values[0] > 0)
    covariance = (vectors / np.maximum(values, 1e-2)) @ vectors.T
    parameters = parameters_from(found.x)
    log_likelihood = loglikelihood(parameters, data)
    n_readings = int(np.isfinite(data.observed).sum())
    return Estimate(
        parameters=parameters,
        logs=found.x,
        covariance=covariance,
        log_likelihood=log_likelihood,
        bic=found.x.size * float(np.log(n_readings)) - 2 * log_likelihood,
        positive_definite=peak,
    )


def profile(data: ExchangeData, best: Estimate, log_half_time: float, start: FloatArray) -> tuple[float, FloatArray]:
    """Return how far the log likelihood falls if the half-time is held, and the other parameters then."""
    cost = _cost(data, best.parameters.reservoirs)

    def held(others: FloatArray) -> float:
        return cost(np.concatenate([[log_half_time], others]))

    found = minimize(held, start, method="BFGS", jac=_gradient(held), options={"gtol": 0.1, "maxiter": 25})
    return float(found.fun - cost(best.logs)), found.x


def _cost(data: ExchangeData, reservoirs: int) -> Callable[[FloatArray], float]:
    """Return minus the log posterior as a function of the logarithms."""
    which = ONE if reservoirs == 1 else list(range(5))
    mean, sd, lowest, highest = (table[which] for table in (PRIOR_MEAN, PRIOR_SD, LOWEST, HIGHEST))

    def cost(logs: FloatArray) -> float:
        away = (logs - mean) / sd
        held = np.clip(logs, lowest, highest)
        outside = logs - held
        return 0.5 * float(away @ away) + float(outside @ outside) - loglikelihood(parameters_from(held), data)

    return cost


def _start(data: ExchangeData, cost: Callable[[FloatArray], float], reservoirs: int) -> FloatArray:
    """Return the best of a coarse grid."""
    process, noise = PRIOR_MEAN[3:]
    half_times = np.log(START_HALF_TIMES_DAYS)
    if reservoirs == 1:
        starts = [np.array([t, process, noise]) for t in half_times]
    else:
        one = estimate(data, reservoirs=1).logs
        around = one[0] + np.log(START_FACTORS)
        starts = [np.array([t, *shape, one[1], noise]) for t in around for shape in START_SHAPES]
    return min(starts, key=cost)


def _gradient(cost: Callable[[FloatArray], float]) -> Callable[[FloatArray], FloatArray]:
    def gradient(logs: FloatArray) -> FloatArray:
        here = cost(logs)
        return np.array([cost(logs + step) - here for step in np.eye(logs.size) * GRADIENT_STEP]) / GRADIENT_STEP

    return gradient


def _hessian(cost: Callable[[FloatArray], float], logs: FloatArray) -> FloatArray:
    """Return the second derivatives by central differences."""
    n, steps = logs.size, np.eye(logs.size) * HESSIAN_STEP
    here = cost(logs)
    above, below = ([cost(logs + sign * step) for step in steps] for sign in (1, -1))
    curvature = np.empty((n, n))
    for i in range(n):
        curvature[i, i] = (above[i] - 2 * here + below[i]) / HESSIAN_STEP**2
        for j in range(i):
            both = cost(logs + steps[i] + steps[j]) + cost(logs - steps[i] - steps[j])
            single = above[i] + below[i] + above[j] + below[j]
            curvature[i, j] = curvature[j, i] = (both - single + 2 * here) / (2 * HESSIAN_STEP**2)
    return curvature
