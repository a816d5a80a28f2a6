"""Sums of exponentials by least squares: a step response, or any decay, read without a model of the frame.

The amplitudes enter linearly and are solved for exactly at every trial of the rates (variable projection), so that
only the rates are searched, from a grid over all rates the sampling can show. Checked against the certified NIST
exponentials from their hard starting points.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
from scipy.optimize import least_squares

from isohume.analysis.exchange.model import FloatArray

# Rates tried: from a tenth of a decay within the record to ten decays within its shortest step.
SLOWEST_DECAYS, FASTEST_DECAYS, N_TRIALS = 0.1, 10.0, 25
TOLERANCE = 1e-14


@dataclass(frozen=True, slots=True, kw_only=True)
class ExponentialFit:
    """y = constant + Σ amplitudeᵢ·exp(−rateᵢ·x), slowest first.

    Standard errors are those of the linearised model at the optimum. For kind "approach" the constant and the single
    amplitude are opposite numbers and share one standard error.
    """

    rates: FloatArray
    rates_stderr: FloatArray
    amplitudes: FloatArray
    amplitudes_stderr: FloatArray
    constant: float
    constant_stderr: float
    residual_sum_of_squares: float
    n_readings: int

    @property
    def half_times(self) -> FloatArray:
        """Half-time of each term, in units of x, slowest first."""
        return np.asarray(np.log(2) / self.rates)


def fit_exponentials(
    x: FloatArray,
    y: FloatArray,
    *,
    kind: Literal["decay", "approach"] = "decay",
    terms: Literal[1, 2, 3] = 1,
    with_constant: bool = True,
    rates_guess: tuple[float, ...] = (),
) -> ExponentialFit:
    """Fit a sum of exponentials.

    Parameters
    ----------
    x, y : (n,) arrays
        Without NaN; x from 0 upwards.
    kind : {"decay", "approach"}
        "approach" is y = a·(1 − exp(−rate·x)), one term.
    terms : int
    with_constant : bool
        Whether a decay ends at a constant other than 0.
    rates_guess : tuple of float, optional
        One more starting point, one over the units of x.

    Raises
    ------
    ValueError
        Fewer readings than parameters, or a missing value.
    """
    n_parameters = 2 if kind == "approach" else 2 * terms + with_constant
    if x.size <= n_parameters or not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError(
            f"{x.size} readings for {n_parameters} parameters: more readings are needed, and none may be missing."
        )

    def basis(rates: FloatArray) -> FloatArray:
        decays = np.exp(-np.multiply.outer(x, rates))
        if kind == "approach":
            return 1 - decays
        return np.column_stack([decays, np.ones_like(x)]) if with_constant else decays

    def left(log_rates: FloatArray) -> FloatArray:
        columns = basis(np.exp(log_rates))
        return y - columns @ np.linalg.lstsq(columns, y, rcond=None)[0]

    found = None
    for start in _starts(x, terms if kind == "decay" else 1, rates_guess, left):
        one = least_squares(left, start, jac="3-point", xtol=TOLERANCE, ftol=TOLERANCE, gtol=TOLERANCE)
        found = one if found is None or one.cost < found.cost else found
    rates = np.sort(np.exp(found.x))  # type: ignore[union-attr]  # there is always a start
    columns = basis(rates)
    linear = np.linalg.lstsq(columns, y, rcond=None)[0]
    residual = y - columns @ linear
    # d/d rate of a·exp(−rate·x) is −a·x·exp(−rate·x); of a·(1 − exp(−rate·x)) it is the opposite.
    sign = 1.0 if kind == "approach" else -1.0
    of_rates = sign * linear[: rates.size] * x[:, None] * np.exp(-np.multiply.outer(x, rates))
    jacobian = np.column_stack([of_rates, columns])
    variance = residual @ residual / (x.size - n_parameters)
    _, triangle = np.linalg.qr(jacobian)
    inverse = np.linalg.inv(triangle)
    stderr = np.sqrt(variance * (inverse**2).sum(axis=1))
    k = rates.size
    constant, constant_stderr = (float(linear[-1]), float(stderr[-1])) if with_constant else (0.0, 0.0)
    amplitudes: FloatArray = np.asarray(-linear[:k] if kind == "approach" else linear[:k])
    return ExponentialFit(
        rates=rates,
        rates_stderr=stderr[:k],
        amplitudes=amplitudes,
        amplitudes_stderr=stderr[k : 2 * k],
        constant=constant,
        constant_stderr=constant_stderr,
        residual_sum_of_squares=float(residual @ residual),
        n_readings=int(x.size),
    )


def _starts(
    x: FloatArray, terms: int, guess: tuple[float, ...], left: Callable[[FloatArray], FloatArray]
) -> list[FloatArray]:
    """Return logarithms of rates to start from: the best of a grid, and the guess."""
    span, step = float(x.max() - x.min()), float(np.diff(np.unique(x)).min())
    trials = np.linspace(np.log(SLOWEST_DECAYS / span), np.log(FASTEST_DECAYS / step), N_TRIALS)
    grid = [np.array(choice) for choice in combinations(trials, terms)]
    best = sorted(grid, key=lambda logs: float(np.sum(left(logs) ** 2)))[:3]
    return best + ([np.log(np.array(guess))] if guess else [])
