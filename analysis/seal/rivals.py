"""What may look like a changed seal and is none: a logger moved or gone wrong, an opening that nobody wrote down."""

from __future__ import annotations

import numpy as np

from isohume.analysis.exchange.drive import ExchangeData, IntArray
from isohume.analysis.exchange.likelihood import (
    TEMPERATURE_RESPONSE_SD,
    board_readings,
    shift_pushes,
    shifts_at_readings,
)
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, transition
from isohume.analysis.seal.regression import Explanations
from isohume.analysis.seal.thresholds import (
    DRIFT_KNOTS_DAYS,
    DRIFT_SD_PERCENT_PER_ROOT_YEAR,
    OFFSET_STEP_SD_PERCENT,
    OPENING_AIR_SD_PERCENT,
    OPENING_PANEL_SD_PERCENT,
)

DAYS_PER_YEAR = 365.25


def always_possible(parameters: ExchangeParameters, data: ExchangeData) -> Explanations:
    """Return what is granted to every record: offsets b, temperature response β, drift, recorded changes of logger.

    The drift of each sensor is a chain of straight pieces, a random walk from knot to knot.
    """
    s, n, rooms = parameters.n_states, data.observed.size, data.offset_sd.size
    _, push = transition(parameters, data.scaling, data.step_days)
    times = np.arange(n) * data.step_days
    pieces = np.clip((times - np.arange(0.0, times[-1], DRIFT_KNOTS_DAYS)[:, None]) / DRIFT_KNOTS_DAYS, 0.0, 1.0)
    between = (pieces[:, 1:] + pieces[:, :-1]) / 2
    offset = data.pair[1:] == np.arange(rooms)[:, None]
    changes = shift_pushes(data, push).transpose(1, 0, 2)
    pushes = [
        push * (data.scaling * offset)[:, None],
        changes,
        push * (-data.scaling * data.warming_between),
        push * (data.scaling * between)[:, None],
        np.zeros((len(pieces), s, n - 1)),
    ]
    pushed = np.concatenate([np.reshape(push, (-1, s, n - 1)) for push in pushes])
    read = np.zeros((len(pushed), n))
    _, of_offset = board_readings(parameters, data)
    read[:rooms] = of_offset * (data.pair == np.arange(rooms)[:, None])
    read[rooms : rooms + len(changes)] = of_offset * shifts_at_readings(data)
    read[rooms + len(changes)] = data.warming
    read[-2 * len(pieces) : -len(pieces)] = of_offset * pieces
    read[-len(pieces) :] = (1 + of_offset) * pieces
    drift_sd = DRIFT_SD_PERCENT_PER_ROOT_YEAR * np.sqrt(DRIFT_KNOTS_DAYS / DAYS_PER_YEAR)
    shifts, drifts = np.full(len(changes), data.shift_sd), np.full(2 * len(pieces), drift_sd)
    sds = np.concatenate([data.offset_sd, shifts, [TEMPERATURE_RESPONSE_SD], drifts])
    return Explanations(read=read, pushed=pushed, precision=sds**-2.0)


def inside_steps(parameters: ExchangeParameters, data: ExchangeData, starts: IntArray) -> Explanations:
    """Return, for each start, an inside logger that from then on reads one %RH more."""
    _, of_offset = board_readings(parameters, data)
    return Explanations(
        read=(1 + of_offset) * after_reading(data, starts),
        pushed=np.zeros((len(starts), parameters.n_states, data.scaling.size)),
        precision=np.full(len(starts), OFFSET_STEP_SD_PERCENT**-2.0),
    )


def room_steps(parameters: ExchangeParameters, data: ExchangeData, starts: IntArray) -> Explanations:
    """Return, for each start, a room logger that from then on reads one %RH less than the frame's surroundings."""
    _, push = transition(parameters, data.scaling, data.step_days)
    _, of_offset = board_readings(parameters, data)
    return Explanations(
        read=of_offset * after_reading(data, starts),
        pushed=push * (data.scaling * after_step(data, starts))[:, None],
        precision=np.full(len(starts), OFFSET_STEP_SD_PERCENT**-2.0),
    )


def openings(data: ExchangeData, n_states: int, starts: IntArray, *, state: int) -> Explanations:
    """Return, for each start, a jump by one %RH of the air (state 0) or of the panel's face (state 1)."""
    pushed = np.zeros((len(starts), n_states, data.scaling.size))
    pushed[np.arange(len(starts)), state, starts] = 1.0
    sd = OPENING_AIR_SD_PERCENT if state == 0 else OPENING_PANEL_SD_PERCENT
    return Explanations(
        read=np.zeros((len(starts), data.observed.size)), pushed=pushed, precision=np.full(len(starts), sd**-2.0)
    )


def after_reading(data: ExchangeData, starts: IntArray) -> FloatArray:
    """Return 1 for every reading after each start, else 0, (number of starts, n)."""
    return np.asarray(np.arange(data.observed.size) > starts[:, None], dtype=np.float64)


def after_step(data: ExchangeData, starts: IntArray) -> FloatArray:
    """Return 1 for every step that begins at or after each start, else 0, (number of starts, n − 1)."""
    return np.asarray(np.arange(data.scaling.size) >= starts[:, None], dtype=np.float64)
