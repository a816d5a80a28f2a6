"""Scan a record for the date at which a frame's leakage changed.

From a date on the frame leaks f times as much. To the air that is an extra push of (f − 1)·k·(u + b − x₁)/τ_leak, and
the course of x₁ is known, because it was read: the change enters linearly, whatever its size, and is fitted for every
date at once, beside everything that the record's parameters may be wrong by. Each date gets the log likelihood ratio
of a changed leak against a sound frame, and of its rivals.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.exchange.drive import ExchangeData, IntArray
from isohume.analysis.exchange.fit import FittedExchange
from isohume.analysis.exchange.model import FloatArray
from isohume.analysis.frame import Event
from isohume.analysis.seal.alternatives import LEAK, RIVALS, Alternatives, Granted, last_days
from isohume.analysis.seal.thresholds import (
    AFTER_DAYS,
    BEFORE_DAYS,
    LEAST_BEYOND_RIVALS,
    LEAST_LOG_LIKELIHOOD_RATIO,
    LEAST_STANDARD_ERRORS,
    LONGEST_DAYS,
    NEW_DAYS,
    NEW_SPACING_DAYS,
    OLD_SPACING_DAYS,
    POWER_SDS,
    REFINED_REACH_DAYS,
    REFINED_SPACING_DAYS,
    SMALLEST_FACTOR,
    STRUCTURE_SD,
)

FACTORS = np.geomspace(SMALLEST_FACTOR, 100.0, 160)  # tried for the smallest that shows
# After these the leakage may rightly be another: each begins with its own.
SEALING_KINDS = frozenset({"sealed", "seal repaired", "new buffer"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Another explanation at its likeliest date."""

    name: str
    date: pd.Timestamp
    log_likelihood_ratio: float  # against a sound frame


@dataclass(frozen=True, slots=True, kw_only=True)
class SealScan:
    """What each date says; arrays of one value per date.

    Attributes
    ----------
    dates : DatetimeIndex (UTC)
    log_likelihood_ratio : array
        Of a leak that changed then against one that did not.
    beyond_rivals : array
        The same where the rival that leaves least of it is granted, at its own likeliest date.
    nearest_rival : tuple of Rival
        That rival, for each date.
    factor, factor_sd : arrays
        Leakage after over before, and its standard deviation by the information matrix alone.
    smallest_factor : array
        The change that would have been found at this date in four of five records like this one; inf if none.
    rivals : tuple of Rival
        A step in the offset of either logger, and an opening.
    """

    dates: pd.DatetimeIndex
    log_likelihood_ratio: FloatArray
    beyond_rivals: FloatArray
    nearest_rival: tuple[Rival, ...]
    factor: FloatArray
    factor_sd: FloatArray
    smallest_factor: FloatArray
    rivals: tuple[Rival, ...]


def scan_seal(fitted: FittedExchange, *, events: tuple[Event, ...] = ()) -> SealScan | None:
    """Scan the last year of a record, coarsely, then day by day around the likeliest dates.

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
    granted = Granted.of(fitted.parameters, data, sealed)

    coarse = Alternatives(granted, leaks=starts, others=dict.fromkeys(RIVALS, starts))
    ratio, grown = coarse.ratios(LEAK), coarse.factors()[0] > 1
    likeliest = [int(starts[np.argmax(np.where(way, ratio, -1.0))]) for way in (grown, ~grown)]
    leaks = np.union1d(starts, _days_around(data, likeliest))
    best = {name: int(starts[np.argmax(coarse.ratios(name))]) for name in RIVALS}
    fine = Alternatives(
        granted, leaks=leaks, others={name: _days_around(data, [best[name], likeliest[0]]) for name in RIVALS}
    )
    rivals, beyond = [], []
    for name in RIVALS:
        ratios = fine.ratios(name)
        at = int(np.argmax(ratios))
        date = pd.Timestamp(data.times[fine.starts[name][at]])
        rivals.append(Rival(name=name, date=date, log_likelihood_ratio=float(ratios[at])))
        beyond.append(fine.ratios(LEAK, granting=(name, at)))
    nearest = np.argmin(beyond, axis=0)
    factor, factor_sd = fine.factors()
    return SealScan(
        dates=pd.DatetimeIndex(data.times[leaks]),
        log_likelihood_ratio=fine.ratios(LEAK),
        beyond_rivals=np.min(beyond, axis=0),
        nearest_rival=tuple(rivals[k] for k in nearest),
        factor=factor,
        factor_sd=factor_sd,
        smallest_factor=smallest_factor(coarse)[np.abs(leaks[:, None] - starts).argmin(axis=1)],
        rivals=tuple(rivals),
    )


def log_standard_error(factor: FloatArray | float, factor_sd: FloatArray | float) -> FloatArray:
    """Return the standard error of ln(factor), widened for what no two reservoirs can describe."""
    return np.asarray(np.hypot(np.divide(factor_sd, factor), STRUCTURE_SD))


def smallest_factor(tried: Alternatives) -> FloatArray:
    """Return, for each step of the leak, the factor that passes every threshold in four of five cases; inf if none.

    The rivals must have been tried at the same steps.
    """
    factors = FACTORS[:, None]
    ratio_sds = (factors - 1) / tried.factor_sds(np.ones(1))
    chance = np.sqrt(2 * LEAST_LOG_LIKELIHOOD_RATIO) + POWER_SDS
    rivals = np.sqrt(2 * LEAST_BEYOND_RIVALS / np.maximum(1 - tried.mimicked(), 1e-6)) + POWER_SDS
    structure = np.log(factors) / log_standard_error(factors, tried.factor_sds(FACTORS))
    passes = (ratio_sds >= np.maximum(chance, rivals)) & (structure >= LEAST_STANDARD_ERRORS + POWER_SDS)
    passes &= factors >= SMALLEST_FACTOR
    return np.where(passes.any(axis=0), FACTORS[np.argmax(passes, axis=0)], np.inf)


def _coarse(data: ExchangeData) -> IntArray:
    """Return the steps at which a change is tried first."""
    last, first = data.days - AFTER_DAYS, BEFORE_DAYS
    if last < first:
        return np.array([], dtype=np.int64)
    new = np.arange(last, max(first, last - NEW_DAYS), -NEW_SPACING_DAYS)
    old = np.arange(new[-1] - OLD_SPACING_DAYS, first, -OLD_SPACING_DAYS)
    steps = np.round(np.concatenate([new, old]) / data.step_days)
    return np.asarray(np.unique(steps), dtype=np.int64)


def _days_around(data: ExchangeData, steps: list[int]) -> IntArray:
    """Return the steps of the days around some steps."""
    days = np.arange(-REFINED_REACH_DAYS, REFINED_REACH_DAYS + 0.1, REFINED_SPACING_DAYS)
    near = np.add.outer(steps, np.round(days / data.step_days).astype(np.int64)).ravel()
    low, high = BEFORE_DAYS / data.step_days, (data.days - AFTER_DAYS) / data.step_days
    return np.asarray(np.unique(near[(near >= low) & (near <= high)]), dtype=np.int64)


def _step_of(data: ExchangeData, moment: pd.Timestamp) -> int:
    """Return the first step at or after a moment."""
    return int(np.ceil((moment - data.start_utc) / pd.Timedelta(days=1) / data.step_days))
