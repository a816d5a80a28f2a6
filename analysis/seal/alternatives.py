"""A changed leak and its rivals, fitted one at a time beside everything that any record may owe to other causes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Self

import numpy as np

from isohume.analysis.exchange.drive import ExchangeData, IntArray
from isohume.analysis.exchange.likelihood import START_CENTRE_PERCENT, Smoothed, board_readings, smooth
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, transition
from isohume.analysis.seal import rivals
from isohume.analysis.seal.regression import Explanations, allowing_for, gain_of, products, together
from isohume.analysis.seal.thresholds import LEVEL_SD, SHAPE_SDS

LEAK = "a changed leak"
INSIDE, ROOM = "a step in the inside logger's offset", "a step in the room logger's offset"
OPENING = "an opening that is not on record"
RIVALS = (INSIDE, ROOM, OPENING)
LOG_STEP = 1e-3
LOWEST_LEVEL = 0.02  # of the leakage before a change, over the fitted one


@dataclass(frozen=True, slots=True, kw_only=True)
class Granted:
    """A sound frame's record, and what is granted to it before a change is looked for.

    Attributes
    ----------
    leak : Explanations
        One: a leakage larger by itself, all along.
    explanations : Explanations
        The last of them is the level of the leakage: before a change it may differ from the fitted one.
    """

    parameters: ExchangeParameters
    data: ExchangeData
    leak: Explanations
    explanations: Explanations

    @classmethod
    def of(cls, parameters: ExchangeParameters, data: ExchangeData, sealed: IntArray) -> Self:
        """Grant offsets, temperature response, drift, the panel's shape, and another leakage from each sealing on.

        Parameters
        ----------
        parameters : ExchangeParameters
        data : ExchangeData
        sealed : (k,) array of int
            Steps from which the leakage may rightly be another.
        """
        smoothed = smooth(parameters, data)
        leak, shapes = _larger_leak(parameters, data, smoothed), _other_shapes(parameters, data, smoothed)
        everything = [rivals.always_possible(parameters, data), shapes, _from(data, leak, sealed, LEVEL_SD**-2), leak]
        return cls(parameters=parameters, data=data, leak=leak, explanations=together(everything))


class Alternatives:
    """A leak that changed at each of some steps, and each rival at each of others.

    Parameters
    ----------
    granted : Granted
    leaks : (d,) array of int
        Steps at which the leak is tried.
    others : mapping of name to (k,) array of int
        Steps at which each rival is tried.
    """

    def __init__(self, granted: Granted, *, leaks: IntArray, others: Mapping[str, IntArray]) -> None:
        parameters, data = granted.parameters, granted.data
        s = parameters.n_states
        self.starts = {LEAK: leaks, **others}
        jumps = [rivals.openings(data, s, others[OPENING], state=state) for state in range(min(s, 2))]
        tried = {
            LEAK: [_from(data, granted.leak, leaks, 0.0)],
            INSIDE: [rivals.inside_steps(parameters, data, others[INSIDE])],
            ROOM: [rivals.room_steps(parameters, data, others[ROOM])],
            OPENING: jumps,
        }
        self._columns: dict[str, IntArray] = {}
        first = 1
        for name, parts in tried.items():
            size = self.starts[name].size
            self._columns[name] = first + np.arange(size)[:, None] + size * np.arange(len(parts))
            first += size * len(parts)
        explanations = together([granted.explanations, *(part for parts in tried.values() for part in parts)])
        common = granted.explanations.precision
        most = len(common) - 1
        self._with_level = allowing_for(products(parameters, data, explanations), common[:most])
        self._left = allowing_for(self._with_level, common[most:])
        self._own_level = float(self._with_level[1, 1] + common[most])
        self._precision = explanations.precision[most:]  # of the columns, from 1 on
        self._n_readings = int(np.isfinite(data.observed).sum())
        self._misfit = float(self._left[0, 0])

    def ratios(self, name: str, *, granting: tuple[str, int] | None = None) -> FloatArray:
        """Return the log likelihood ratio of each step of one kind, the scale of all errors fitted anew.

        Parameters
        ----------
        name : str
        granting : (str, int), optional
            Kind and position of one alternative that is fitted first.
        """
        gram = self._left if granting is None else self._granting(*granting)
        gains = np.array([gain_of(gram, list(columns), self._precision[columns]) for columns in self._columns[name]])
        return np.asarray(-0.5 * self._n_readings * np.log1p(-gains / gram[0, 0]))

    def factors(self) -> tuple[FloatArray, FloatArray]:
        """Return leakage after over before for each step, and its standard deviation."""
        columns = self._columns[LEAK][:, 0]
        own = np.diagonal(self._left)[columns]
        grown = self._left[0, columns] / own
        slope = self._with_level[1, columns + 1] / self._own_level  # the level's answer to a change
        before = np.maximum(1 + self._with_level[0, 1] / self._own_level - slope * grown, LOWEST_LEVEL)
        spread = np.hypot((before + slope * grown) / np.sqrt(own), grown / np.sqrt(self._own_level)) / before**2
        return 1 + grown / before, spread * np.sqrt(self._misfit / self._n_readings)

    def factor_sds(self, factors: FloatArray) -> FloatArray:
        """Return the standard deviation that the factor would have at each step if it were one of some, (g, d)."""
        columns = self._columns[LEAK][:, 0]
        own, slope = np.diagonal(self._left)[columns], self._with_level[1, columns + 1] / self._own_level
        grown = factors[:, None] - 1
        spread = np.hypot((1 + slope * grown) / np.sqrt(own), grown / np.sqrt(self._own_level))
        return np.asarray(spread * np.sqrt(self._misfit / self._n_readings))

    def mimicked(self) -> FloatArray:
        """Return the share of what a changed leak does that the best rival at the same step does too, 0-1.

        The rivals must have been tried at the steps of the leak.
        """
        shares = []
        for name in RIVALS:
            pairs = zip(self._columns[LEAK][:, 0], self._columns[name], strict=True)
            gains = [
                gain_of(self._left, list(c), self._precision[c], of=leak) / self._left[leak, leak] for leak, c in pairs
            ]
            shares.append(gains)
        return np.asarray(np.max(shares, axis=0))

    def _granting(self, name: str, at: int) -> FloatArray:
        """Return the products left once one alternative has been fitted; its own columns stay."""
        columns = self._columns[name][at]
        chosen = self._left[np.ix_(columns, columns)] + np.diag(self._precision[columns])
        part = self._left[columns]
        return np.asarray(self._left - part.T @ np.linalg.solve(chosen, part))


def last_days(data: ExchangeData, days: float) -> ExchangeData:
    """Return the end of a record."""
    n = data.observed.size
    drop = max(0, n - 1 - round(days / data.step_days))
    if drop == 0:
        return data
    values = {field.name: getattr(data, field.name) for field in fields(data)}
    per_step: dict[str, Any] = {
        name: a[drop:] for name, a in values.items() if isinstance(a, np.ndarray) and a.size in {n, n - 1}
    }
    start = per_step.pop("segment_start").copy()
    start[0] = True
    return replace(data, start_utc=data.times[drop], segment_start=start, **per_step)


def _from(data: ExchangeData, leak: Explanations, starts: IntArray, precision: float) -> Explanations:
    """Return a larger leakage from each start on."""
    return Explanations(
        read=leak.read * rivals.after_reading(data, starts),
        pushed=leak.pushed * rivals.after_step(data, starts)[:, None],
        precision=np.full(starts.size, precision),
    )


def _larger_leak(parameters: ExchangeParameters, data: ExchangeData, smoothed: Smoothed) -> Explanations:
    """Return a leakage larger by itself: twice the push towards the room, and its share in what is read."""
    board, offset = smoothed.states[:, 0], _offset(data, smoothed)
    _, push = transition(parameters, data.scaling, data.step_days)
    _, of_offset = board_readings(parameters, data)
    pushed = push * (data.scaled_drive + data.scaling * (offset - (board[1:] + board[:-1]) / 2))
    read = of_offset * (data.drive_now + np.append(offset[0], offset) - board)
    return Explanations(read=read[None], pushed=pushed[None], precision=np.array([LEVEL_SD**-2.0]))


def _offset(data: ExchangeData, smoothed: Smoothed) -> FloatArray:
    """Return what is added to the drive in each step: the offset, less what warming does to the reading."""
    return np.asarray(smoothed.offsets - smoothed.linear[-1] * data.warming_between)


def _other_shapes(parameters: ExchangeParameters, data: ExchangeData, smoothed: Smoothed) -> Explanations:
    """Return a looser coupling of board and panel, and a heavier panel, per unit of their logarithms."""
    s, n = parameters.n_states, data.observed.size
    changes = []
    if parameters.tau_12 is not None and parameters.tau_21 is not None:
        matrix, push = transition(parameters, data.scaling, data.step_days)
        states = smoothed.states.T[:, :-1] - START_CENTRE_PERCENT
        drive = data.scaled_drive + data.scaling * (_offset(data, smoothed) - START_CENTRE_PERCENT)
        larger = float(np.exp(LOG_STEP))
        slower = replace(parameters, tau_12=parameters.tau_12 * larger, tau_21=parameters.tau_21 * larger)
        for other in (slower, replace(parameters, tau_21=parameters.tau_21 * larger)):
            matrix_there, push_there = transition(other, data.scaling, data.step_days)
            change = np.einsum("ijn,jn->in", matrix_there - matrix, states) + (push_there - push) * drive
            changes.append(change / LOG_STEP)
    pushed = np.reshape(changes, (-1, s, n - 1))
    precision = np.array(SHAPE_SDS[: len(pushed)]) ** -2.0
    return Explanations(read=np.zeros((len(pushed), n)), pushed=pushed, precision=precision)
