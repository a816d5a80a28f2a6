"""Maximum likelihood: from a record on a grid to the parameters of one or two reservoirs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize

from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.likelihood import loglikelihood
from isohume.analysis.exchange.model import HALF, ExchangeParameters, FloatArray, board_half_time_days, scaled
from isohume.analysis.exchange.thinning import coarsened

# Everything is estimated as a logarithm: half-time [days]; τ₁₂/τ_leak; τ₂₁/τ₁₂, the panel's capacity over the board's;
# disturbance [%RH/√day]; noise [%RH]. The half-time stands first so that its interval and its profile are direct.
# Weak priors keep a short record from leaving the range of possible frames: board of 0.4 to 4 kg/m² against panels of
# 2 to 13 kg/m² give capacity ratios of 0.5 to 30; loggers scatter by 0.1 to 0.6 %RH.
PRIOR_MEAN = np.array([3.4, -1.0, 0.5, np.log(0.05), np.log(0.25)])
PRIOR_SD = np.array([3.0, 1.5, 1.2, 2.0, 0.7])
TYPICAL_SD = np.array([0.1, 0.3, 0.3, 0.2, 0.05])  # of a fit; scales the search
ALL = [0, 1, 2, 3, 4]
ONE = [0, 3, 4]  # of these, the parameters of one reservoir
# The search does not look beyond: half-times of half an hour and of 300 years, logarithms of ratios of ±7.
LOWEST = np.array([-4.0, -7.0, -7.0, -8.0, -4.5])
HIGHEST = np.array([11.5, 7.0, 7.0, 2.0, 2.0])
START_HALF_TIMES_DAYS = (1.5, 4.0, 10.0, 25.0, 60.0, 150.0, 400.0)
# A short record can have two peaks: a panel that follows the board closely, and one that lags it. Both are climbed.
CLOSE_SHAPES, LAGGING_SHAPES = ((-1.0, 0.5), (-2.5, 0.5)), ((0.3, 0.8),)
SAME_PEAK = 0.02  # of ln(half-time)
SHARP = 0.03  # standard error of ln(half-time) under which there is no second peak to look for
START_FACTORS = (0.9, 1.2, 1.7)  # one reservoir finds half-times that are too short
FLATTEST = 0.01  # curvature; a standard deviation of 10 in a logarithm
LONGEST_STEP, SHORTEST_STEP, MOST_STEPS = 1.0, 1e-3, 40  # of a climb, in logarithms
SPACING = (0.0005, 0.1)  # of finite differences, in logarithms
SLOPE_STEP = 1e-4
# Log likelihood that the last step may promise. Near a peak the next one promises some thirty times less.
ROUGH, FINE = 1.0, 0.1

Cost = Callable[[FloatArray], float]


class Peak(NamedTuple):
    """Where a climb ended."""

    logs: FloatArray
    cost: float
    spacing: FloatArray  # half a standard error of each logarithm, the others held


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """The best parameters of one order, and how sharply the record holds them."""

    parameters: ExchangeParameters
    logs: FloatArray  # (3,) or (5,), half-time first
    covariance: FloatArray  # of `logs`, by the information matrix alone
    log_likelihood: float
    bic: float
    positive_definite: bool  # the likelihood has a peak here
    rival: FloatArray | None = None  # logarithms at a second peak
    rival_fall: float = float("inf")  # how far the log likelihood lies lower there


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
    return scaled(shape, float(np.exp(logs[0])) / board_half_time_days(shape))


def estimate(data: ExchangeData, *, reservoirs: int, one: Estimate | None = None) -> Estimate:
    """Find the parameters of one order.

    Parameters
    ----------
    data : ExchangeData
    reservoirs : {1, 2}
    one : Estimate, optional
        That of one reservoir, around which two are sought.
    """
    cost, coarse = _cost(data, reservoirs), _cost(coarsened(data), reservoirs)
    around = (one or estimate(data, reservoirs=1)).logs if reservoirs == 2 else None
    first, *more = _starts(around)
    peaks = [_climb(coarse, min(first, key=coarse), enough=ROUGH)]
    found = _climb(cost, peaks[0].logs, enough=FINE)
    covariance, positive_definite = _inverse(_curvature(cost, found))
    if covariance[0, 0] > SHARP**2 and more:
        peaks += [_climb(coarse, min(starts, key=coarse), enough=ROUGH) for starts in more]
        peaks.sort(key=lambda peak: peak.cost)
        if abs(peaks[0].logs[0] - found.logs[0]) > SAME_PEAK:
            found = _climb(cost, peaks[0].logs, enough=FINE)
            covariance, positive_definite = _inverse(_curvature(cost, found))
    rivals = [peak for peak in peaks if abs(peak.logs[0] - found.logs[0]) > SAME_PEAK]
    parameters = parameters_from(found.logs)
    log_likelihood = loglikelihood(parameters, data)
    n_readings = int(np.isfinite(data.observed).sum())
    return Estimate(
        parameters=parameters,
        logs=found.logs,
        covariance=covariance,
        log_likelihood=log_likelihood,
        bic=found.logs.size * float(np.log(n_readings)) - 2 * log_likelihood,
        positive_definite=positive_definite,
        rival=rivals[0].logs if rivals else None,
        rival_fall=rivals[0].cost - peaks[0].cost if rivals else float("inf"),
    )


def within_search(logs: FloatArray) -> FloatArray:
    """Return logarithms, (…, 3) or (…, 5), moved to the nearest that a fit looks for.

    Far beyond, the slow mode of one leak drowns in the rounding of the fast one.
    """
    which = ONE if logs.shape[-1] == len(ONE) else ALL
    return np.asarray(np.clip(logs, LOWEST[which], HIGHEST[which]))


def log_slopes(logs: FloatArray, quantity: Callable[[ExchangeParameters], float]) -> FloatArray:
    """Return the derivatives of a function of the parameters by their logarithms, for the delta method."""
    steps = np.eye(logs.size) * SLOPE_STEP
    rises = [quantity(parameters_from(logs + step)) - quantity(parameters_from(logs - step)) for step in steps]
    return np.array(rises) / (2 * SLOPE_STEP)


def profile(data: ExchangeData, best: Estimate, log_half_time: float, start: FloatArray) -> tuple[float, FloatArray]:
    """Return how far the log likelihood falls if the half-time is held, and the other parameters then."""
    cost = _cost(data, best.parameters.reservoirs)

    def held(others: FloatArray) -> float:
        return cost(np.concatenate([[log_half_time], others]))

    found = minimize(held, start, method="BFGS", options={"gtol": 0.1, "maxiter": 25, "eps": 1e-5})
    return float(found.fun - cost(best.logs)), found.x


def _cost(data: ExchangeData, reservoirs: int) -> Cost:
    """Return minus the log posterior as a function of the logarithms."""
    which = ONE if reservoirs == 1 else ALL
    mean, sd = PRIOR_MEAN[which], PRIOR_SD[which]

    def cost(logs: FloatArray) -> float:
        away = (logs - mean) / sd
        held = within_search(logs)
        outside = logs - held
        return 0.5 * float(away @ away) + float(outside @ outside) - loglikelihood(parameters_from(held), data)

    return cost


def _starts(one: FloatArray | None) -> list[list[FloatArray]]:
    """Return groups of starting points, of each of which the best is used; for two reservoirs around those of one."""
    process, noise = PRIOR_MEAN[3:]
    if one is None:
        return [[np.array([t, process, noise]) for t in np.log(START_HALF_TIMES_DAYS)]]
    around = one[0] + np.log(START_FACTORS)
    return [
        [np.array([t, *shape, one[1], noise]) for t in around for shape in shapes]
        for shapes in (CLOSE_SHAPES, LAGGING_SHAPES)
    ]


def _climb(cost: Cost, start: FloatArray, *, enough: float) -> Peak:
    """Climb to a peak by Newton's method, until a step promised less than `enough` log likelihood.

    The five logarithms have very different curvatures and strong correlations: with all second derivatives by finite
    differences some six steps suffice, where a quasi-Newton search needs twice as many evaluations.
    """
    here, logs = cost(start), start
    spacing = TYPICAL_SD[ONE if start.size == len(ONE) else ALL] / 2
    for _ in range(MOST_STEPS):
        gradient, curvature = _derivatives(cost, logs, here, spacing)
        values, vectors = np.linalg.eigh(curvature)
        values = np.maximum(np.abs(values), FLATTEST)
        step = -vectors @ (vectors.T @ gradient / values)
        step *= min(1.0, LONGEST_STEP / float(np.abs(step).max()))
        spacing = np.clip(HALF / np.sqrt((vectors**2 * values).sum(axis=1)), *SPACING)
        promised = -float(gradient @ step) / 2
        there = cost(logs + step)
        while there > here and float(np.abs(step).max()) > SHORTEST_STEP:
            step = step / 4
            there = cost(logs + step)
        if there >= here:
            break
        logs, here = logs + step, there
        if promised < enough:
            break
    return Peak(logs, here, spacing)


def _inverse(curvature: FloatArray) -> tuple[FloatArray, bool]:
    """Return the inverse of a curvature, flat directions held to a wide end, and whether it is that of a peak."""
    values, vectors = np.linalg.eigh((curvature + curvature.T) / 2)
    inverse: FloatArray = (vectors / np.maximum(values, FLATTEST)) @ vectors.T
    return (inverse + inverse.T) / 2, bool(values[0] > 0)


def _derivatives(cost: Cost, logs: FloatArray, here: float, spacing: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return gradient and curvature, with one evaluation for each mixed derivative."""
    n, steps = logs.size, np.diag(spacing)
    above, below = (np.array([cost(logs + sign * step) for step in steps]) for sign in (1, -1))
    curvature = np.diag((above - 2 * here + below) / spacing**2)
    for i in range(n):
        for j in range(i):
            both = cost(logs + steps[i] + steps[j])
            mixed = both - above[i] - above[j] + here
            curvature[i, j] = curvature[j, i] = mixed / (spacing[i] * spacing[j])
    return (above - below) / (2 * spacing), curvature


def _curvature(cost: Cost, peak: Peak) -> FloatArray:
    """Return the second derivatives at a peak, by central differences over a standard error."""
    logs, here, spacing = peak.logs, peak.cost, peak.spacing
    n, steps = logs.size, np.diag(spacing)
    above, below = ([cost(logs + sign * step) for step in steps] for sign in (1, -1))
    curvature = np.empty((n, n))
    for i in range(n):
        curvature[i, i] = (above[i] - 2 * here + below[i]) / spacing[i] ** 2
        for j in range(i):
            both = cost(logs + steps[i] + steps[j]) + cost(logs - steps[i] - steps[j])
            single = above[i] + below[i] + above[j] + below[j]
            curvature[i, j] = curvature[j, i] = (both - single + 2 * here) / (2 * spacing[i] * spacing[j])
    return curvature
