"""How well explanations that enter linearly account for a record, all of them from one factorisation.

A leak that changed, a logger that was moved, a frame that was opened: each adds something known, times an unknown
amount, to the course of the states or to the readings. Given the parameters of the sound frame, the exchange model is
then a linear regression with correlated errors. The banded factorisation that gives the likelihood of the exchange
model gives at the same price the products of all explanations with each other and with the readings; fitting any few
of them afterwards is algebra with small matrices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular
from scipy.linalg.lapack import dpbtrf, dpbtrs

from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.likelihood import (
    START_CENTRE_PERCENT,
    _normal_equations,
    board_readings,
    noise_precision,
    process_variance,
    start_precision,
)
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, transition


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanations:
    """What one unit of each explanation does to a record of n times.

    Attributes
    ----------
    read : (c, n) array [%RH per unit]
        Added to the inside readings.
    pushed : (c, s, n − 1) array [%RH per unit]
        Added to the states in each step.
    precision : (c,) array
        One over the variance of its amount before any reading; 0 where nothing is known of it.
    """

    read: FloatArray
    pushed: FloatArray
    precision: FloatArray

    def __len__(self) -> int:
        return len(self.precision)


def together(parts: list[Explanations]) -> Explanations:
    """Join explanations in their order."""
    return Explanations(
        read=np.concatenate([part.read for part in parts]),
        pushed=np.concatenate([part.pushed for part in parts]),
        precision=np.concatenate([part.precision for part in parts]),
    )


def products(parameters: ExchangeParameters, data: ExchangeData, explanations: Explanations) -> FloatArray:
    """Return the matrix G with misfit(a) = [1, −a]ᵀ·G·[1, −a] for amounts a of the explanations, states fitted.

    The misfit is minus twice the log likelihood up to a constant, without the priors of the amounts.

    Returns
    -------
    (1 + c, 1 + c) array
        The readings first, then the explanations.
    """
    s, n, c = parameters.n_states, data.observed.size, 1 + len(explanations)
    matrix, push = transition(parameters, data.scaling, data.step_days)
    of_reading = noise_precision(parameters, data)
    of_process = ~data.segment_start[1:] / process_variance(parameters, data)
    at_start = start_precision(s, data.panel_start_sd)
    factor, failed = dpbtrf(
        _normal_equations(matrix, of_reading, of_process, data.segment_start, at_start), lower=1, overwrite_ab=1
    )
    if failed:
        raise np.linalg.LinAlgError("the normal matrix of the exchange model is not positive definite")

    # Readings stand on one side of the equations, what pushes the states on the other: hence the sign of the first.
    read, pushed = np.empty((c, n)), np.empty((c, s, n - 1))
    of_board, _ = board_readings(parameters, data)
    read[0] = np.where(np.isnan(of_board), 0.0, of_board - START_CENTRE_PERCENT)
    read[1:] = explanations.read
    pushed[0] = -push * (data.scaled_drive - data.scaling * START_CENTRE_PERCENT)
    pushed[1:] = explanations.pushed
    weighted = of_process * pushed
    side = np.zeros((c, n, s))
    side[:, :, 0] = of_reading * read
    side[:, 1:] -= weighted.transpose(0, 2, 1)
    for i in range(s):
        for j in range(s):
            side[:, :-1, j] += matrix[i, j] * weighted[:, i]
    towards = side.reshape(c, n * s)
    states, _ = dpbtrs(factor, towards.T, lower=1)
    gram = (of_reading * read) @ read.T + weighted.reshape(c, -1) @ pushed.reshape(c, -1).T - towards @ states
    return np.asarray((gram + gram.T) / 2)


def allowing_for(gram: FloatArray, precision: FloatArray) -> FloatArray:
    """Return the products that are left once the first explanations have been fitted.

    Parameters
    ----------
    gram : (1 + c, 1 + c) array
        Of `products`.
    precision : (k,) array
        Priors of the first k explanations.

    Returns
    -------
    (1 + c − k, 1 + c − k) array
        The readings first; its first element is the misfit with those k alone.
    """
    k = len(precision)
    fitted = slice(1, 1 + k)
    lower = np.linalg.cholesky(gram[fitted, fitted] + np.diag(precision))
    rest = np.r_[0, 1 + k : len(gram)]
    part = solve_triangular(lower, gram[fitted][:, rest], lower=True)
    return np.asarray(gram[np.ix_(rest, rest)] - part.T @ part)


def gain_of(gram: FloatArray, which: list[int], precision: FloatArray, *, of: int = 0) -> float:
    """Return by how much the misfit of the readings, or of another row, falls when these explanations are fitted."""
    chosen = gram[np.ix_(which, which)] + np.diag(precision)
    return float(gram[of, which] @ np.linalg.solve(chosen, gram[of, which]))
