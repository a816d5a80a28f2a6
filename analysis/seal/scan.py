"""Scan a record for the date at which a frame's leakage changed.

From a date on the frame leaks f times as much. To the air that is an extra push of (f − 1)·k·(u + b − x₁)/τ_leak, and
the course of x₁ is known, because it was read: the change enters linearly, whatever its size, and is fitted for every
date at once, beside everything that the record's parameters may be wrong by. Each date gets the log likelihood ratio
of a changed leak against a sound frame, and of its rivals.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from isohume.analysis.exchange.drive import ExchangeData, IntArray
from isohume.analysis.exchange.fit import FittedExchange
from isohume.analysis.exchange.likelihood import START_CENTRE_PERCENT, smooth
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, transition
from isohume.analysis.frame import Event
from isohume.analysis.seal import rivals
from isohume.analysis.seal.regression import Explanations, allowing_for, gain_of, products, together
from isohume.analysis.seal.thresholds import (
    AFTER_DAYS,
    BEFORE_DAYS,
    LEAST_LOG_LIKELIHOOD_RATIO,
    LEAST_MARGIN,
    LEVEL_SD,
    LONGEST_DAYS,
    NEW_DAYS,
    NEW_SPACING_DAYS,
    OLD_SPACING_DAYS,
    POWER_SDS,
    REFINED_REACH_DAYS,
    REFINED_SPACING_DAYS,
    SHAPE_SDS,
    SMALLEST_FACTOR,
)

# After these the leakage may rightly be another: each begins with its own.
SEALING_KINDS = frozenset({"sealed", "seal repaired", "new buffer"})
LOG_STEP = 1e-3
LOWEST_LEVEL = 0.02  # of the leakage before a change, over the fitted one


@dataclass(frozen=True, slots=True, kw_only=True)
class SealScan:
    """What each date says; arrays of one value per date.

    Attributes
    ----------
    dates : DatetimeIndex (UTC)
    log_likelihood_ratio : array
        Of a leak that changed then against one that did not.
    factor, factor_sd : arrays
        Leakage after over before, and its standard deviation by the information matrix alone.
    smallest_factor : array
        The change that would have been found at this date in four of five records like this one.
    inside_step, room_step, opening : arrays
        Log likelihood ratios of the rivals: a logger's offset that changed then, the frame opened then.
    """

    dates: pd.DatetimeIndex
    log_likelihood_ratio: FloatArray
    factor: FloatArray
    factor_sd: FloatArray
    smallest_factor: FloatArray
    inside_step: FloatArray
    room_step: FloatArray
    opening: FloatArray


def merged(one: SealScan, other: SealScan) -> SealScan:
    """Return two scans of different dates in order of time."""
    times = np.concatenate([one.dates.asi8, other.dates.asi8])
    order = np.argsort(times)

    def both(name: str) -> FloatArray:
        return np.asarray(np.concatenate([getattr(one, name), getattr(other, name)])[order])

    dates = pd.DatetimeIndex(one.dates.append(other.dates)[order])
    return SealScan(dates=dates, **{name: both(name) for name in SealScan.__slots__ if name != "dates"})


def scan_seal(fitted: FittedExchange, *, events: tuple[Event, ...] = ()) -> SealScan | None:
    """Scan the last year of a record, coarsely, then day by day around the likeliest date.

    Parameters
    ----------
    fitted : FittedExchange
        The frame as if its seal had not changed.
    events : tuple of Event
        After a sealing, a repair or a new buffer the leakage may differ without being a change of the seal.

    Returns
    -------
    SealScan or None
        None where the record is too short for any date.
    """
    data = last_days(fitted.data, LONGEST_DAYS)
    starts = _coarse(data)
    if starts.size == 0:
        return None
    sealed = np.array([_step_of(data, event.time_utc) for event in events if event.kind in SEALING_KINDS], dtype=int)
    sealed = sealed[(sealed > 0) & (sealed < data.scaling.size)]
    granted = _granted(fitted.parameters, data, sealed)
    coarse = _scan(fitted.parameters, data, granted, starts)
    best = int(np.argmax(coarse.log_likelihood_ratio))
    fine = _fine(data, int(starts[best]), starts)
    return merged(coarse, _scan(fitted.parameters, data, granted, fine)) if fine.size else coarse


def last_days(data: ExchangeData, days: float) -> ExchangeData:
    """Return the end of a record."""
    drop = max(0, data.observed.size - 1 - round(days / data.step_days))
    if drop == 0:
        return data
    start = data.segment_start[drop:].copy()
    start[0] = True
    rest = ("observed", "n_readings", "warming", "scaled_drive", "scaling", "drive_variance", "pair", "inside_logger")
    return replace(
        data,
        start_utc=data.times[drop],
        segment_start=start,
        **{name: getattr(data, name)[drop:] for name in rest},
    )


def _granted(parameters: ExchangeParameters, data: ExchangeData, sealed: IntArray) -> tuple[FloatArray, Explanations]:
    """Return the push of a leak twice as large, (s, n − 1), and what every record may owe to other causes."""
    smoothed = smooth(parameters, data)
    air = smoothed.states[:, 0]
    offset = smoothed.offsets - smoothed.linear[-1] * data.warming_between
    matrix, push = transition(parameters, data.scaling, data.step_days)
    leak = push * (data.scaled_drive + data.scaling * (offset - (air[1:] + air[:-1]) / 2))

    pushed, sds = [], []
    if parameters.tau_12 is not None and parameters.tau_21 is not None:
        states = smoothed.states.T[:, :-1] - START_CENTRE_PERCENT
        drive = data.scaled_drive + data.scaling * (offset - START_CENTRE_PERCENT)
        larger = float(np.exp(LOG_STEP))
        slower = replace(parameters, tau_12=parameters.tau_12 * larger, tau_21=parameters.tau_21 * larger)
        heavier = replace(parameters, tau_21=parameters.tau_21 * larger)
        for other, sd in zip((slower, heavier), SHAPE_SDS, strict=True):
            matrix_there, push_there = transition(other, data.scaling, data.step_days)
            change = np.einsum("ijn,jn->in", matrix_there - matrix, states) + (push_there - push) * drive
            pushed.append(change / LOG_STEP)
            sds.append(sd)
    pushed += [*(leak * rivals.after_start(data, sealed)[:, None]), leak]
    sds += [LEVEL_SD] * (sealed.size + 1)
    own = Explanations(
        read=np.zeros((len(pushed), data.observed.size)), pushed=np.stack(pushed), precision=np.array(sds) ** -2.0
    )
    return leak, together([rivals.always_possible(parameters, data), own])


def _scan(
    parameters: ExchangeParameters, data: ExchangeData, granted: tuple[FloatArray, Explanations], starts: IntArray
) -> SealScan:
    """Fit a changed leak and its rivals at each start."""
    leak, common = granted
    d, s = starts.size, parameters.n_states
    changed = Explanations(
        read=np.zeros((d, data.observed.size)),
        pushed=leak * rivals.after_start(data, starts)[:, None],
        precision=np.zeros(d),
    )
    tried = [changed, rivals.inside_steps(data, s, starts), rivals.room_steps(parameters, data, starts)]
    tried += [rivals.openings(data, s, starts, state=state) for state in range(min(s, 2))]
    explanations = together([common, *tried])
    # The last of what is granted is the level of the leakage: before the change it may differ from the fitted one.
    most = len(common) - 1
    with_level = allowing_for(products(parameters, data, explanations), common.precision[:most])
    left = allowing_for(with_level, common.precision[most:])
    precision = explanations.precision[len(common) :]
    n_readings = int(np.isfinite(data.observed).sum())
    scale = np.sqrt(left[0, 0] / n_readings)

    def gains(target: int, *kinds: int) -> FloatArray:
        """Fall of the misfit of the readings (target 0), or of a leak changed at each date (1)."""
        found = np.empty(d)
        for k in range(d):
            which = [1 + kind * d + k for kind in kinds]
            found[k] = gain_of(left, which, precision[np.array(which) - 1], of=target * (1 + k))
        return found

    def ratio(*kinds: int) -> FloatArray:
        """Log likelihood ratio at each date, the scale of all errors fitted anew."""
        return np.asarray(-0.5 * n_readings * np.log1p(-gains(0, *kinds) / left[0, 0]))

    own = np.diagonal(left)[1 : 1 + d]
    grown = left[0, 1 : 1 + d] / own
    own_level = with_level[1, 1] + common.precision[-1]
    slope = with_level[1, 2 : 2 + d] / own_level  # the level's response to a change
    before = np.maximum(1 + with_level[0, 1] / own_level - slope * grown, LOWEST_LEVEL)
    factor_sd = np.hypot((before + slope * grown) / np.sqrt(own), grown / np.sqrt(own_level)) / before**2
    opening = tuple(range(3, len(tried)))
    mimicked = np.max([gains(1, *kinds) for kinds in ((1,), (2,), opening)], axis=0) / own
    return SealScan(
        dates=data.times[starts],
        log_likelihood_ratio=ratio(0),
        factor=1 + grown / before,
        factor_sd=scale * factor_sd,
        smallest_factor=smallest_factor(scale / np.sqrt(own) / before, mimicked),
        inside_step=ratio(1),
        room_step=ratio(2),
        opening=ratio(*opening),
    )


def smallest_factor(factor_sd: FloatArray, mimicked: FloatArray) -> FloatArray:
    """Return the factor that passes every threshold in four of five cases.

    Parameters
    ----------
    factor_sd : array
        Standard deviation of a factor fitted at a date.
    mimicked : array
        Share of what such a change does, as a sum of squares, that the best rival does too, 0-1.
    """
    found = np.sqrt(2 * LEAST_LOG_LIKELIHOOD_RATIO) + POWER_SDS
    distinct = (np.sqrt(2 * LEAST_MARGIN) + POWER_SDS) / np.sqrt(np.maximum(1 - mimicked, 1e-6))
    return np.asarray(np.maximum(1 + factor_sd * np.maximum(found, distinct), SMALLEST_FACTOR))


def _coarse(data: ExchangeData) -> IntArray:
    """Return the steps at which a change is tried first."""
    last, first = data.days - AFTER_DAYS, BEFORE_DAYS
    if last < first:
        return np.array([], dtype=np.int64)
    new = np.arange(last, max(first, last - NEW_DAYS), -NEW_SPACING_DAYS)
    old = np.arange(new[-1] - OLD_SPACING_DAYS, first, -OLD_SPACING_DAYS)
    steps = np.round(np.concatenate([new, old]) / data.step_days)
    return np.asarray(np.unique(steps), dtype=np.int64)


def _fine(data: ExchangeData, around: int, tried: IntArray) -> IntArray:
    """Return the steps of the days around a start that were not tried yet."""
    days = np.arange(-REFINED_REACH_DAYS, REFINED_REACH_DAYS + 0.1, REFINED_SPACING_DAYS)
    steps = around + np.round(days / data.step_days).astype(np.int64)
    low, high = BEFORE_DAYS / data.step_days, (data.days - AFTER_DAYS) / data.step_days
    return np.asarray(np.setdiff1d(steps[(steps >= low) & (steps <= high)], tried), dtype=np.int64)


def _step_of(data: ExchangeData, moment: pd.Timestamp) -> int:
    """Return the first step at or after a moment."""
    return int(np.ceil((moment - data.start_utc) / pd.Timedelta(days=1) / data.step_days))
