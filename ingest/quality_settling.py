"""A logger taken in hand is warm, or cold from a walk, and its readings are its own until it has settled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from isohume.ingest.clock_changes import BoolArray, Int64Array
from isohume.ingest.quality_tests import FloatArray

HOUR_US = 3_600_000_000
FEWEST_ROWS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class SettlingRule:
    """What a relaxing logger looks like. All values are common practice.

    Attributes
    ----------
    starts_away_kelvin : float [K]
        The temperature starts at least this far from where it ends.
    within_hours : float [h]
        It is there within this time.
    settled_share : float
        "There" is within this share of the way.
    rh_answer_percent : float [%RH]
        The humidity moves by at least this much, the other way.
    correlation : float
        The two follow each other at least this closely (negative: warmer is drier).
    """

    starts_away_kelvin: float = 1.5
    within_hours: float = 3.0
    settled_share: float = 0.15
    rh_answer_percent: float = 2.0
    correlation: float = -0.8


def settling_rows(
    times_us: Int64Array,
    rh: FloatArray,
    temperature: FloatArray,
    *,
    gaps: BoolArray,
    jumps: BoolArray,
    rule: SettlingRule,
) -> Int64Array:
    """Return the rows over which the logger relaxed after it was handled.

    Looked for where a logger may have been in hand: at the first row, after a gap, and where the temperature jumps.

    Parameters
    ----------
    times_us : (n,) int64 [µs]
        Increasing.
    rh, temperature : (n,) arrays [%RH], [°C]
        NaN where missing.
    gaps : (n - 1,) bool
        Whether readings are missing between a row and the next.
    jumps : (n,) bool
        Whether the temperature stepped to reach a row.
    rule : SettlingRule
    """
    found = [np.empty(0, dtype=np.int64)]
    within_us = int(rule.within_hours * HOUR_US)
    for start in np.unique(np.concatenate([[0], np.flatnonzero(gaps) + 1, np.flatnonzero(jumps)])).tolist():
        until = int(np.searchsorted(times_us, times_us[start] + within_us, side="right"))
        settled_until = int(np.searchsorted(times_us, times_us[start] + 2 * within_us, side="right"))
        away, after = slice(start, until), slice(until, settled_until)
        if until - start < FEWEST_ROWS or settled_until - until < FEWEST_ROWS or gaps[start : settled_until - 1].any():
            continue
        if np.isnan(temperature[away]).any() or np.isnan(rh[away]).any() or np.isnan(temperature[after]).all():
            continue
        distance = temperature[away] - np.nanmedian(temperature[after])
        relaxing = _relaxing(distance, rh[away], rule)
        found.append(np.arange(start, start + relaxing))
    return np.unique(np.concatenate(found))


def _relaxing(distance: FloatArray, rh: FloatArray, rule: SettlingRule) -> int:
    """Return over how many rows the temperature relaxes with the humidity answering; 0 where this is no settling."""
    start = abs(float(distance[0]))
    peak = int(np.abs(distance).argmax())
    if start < rule.starts_away_kelvin or peak > distance.size // 4:
        return 0
    near = np.flatnonzero(np.abs(distance[peak:]) <= rule.settled_share * abs(distance[peak]))
    if not near.size:
        return 0
    n_rows = peak + int(near[0])
    stays_near = np.abs(distance[n_rows:]).max() <= 2 * rule.settled_share * abs(distance[peak])
    one_sided = bool((np.sign(distance[:n_rows]) == np.sign(distance[0])).all())
    if n_rows < FEWEST_ROWS or not stays_near or not one_sided:
        return 0
    if np.ptp(rh[: n_rows + 1]) < rule.rh_answer_percent:
        return 0
    follows = np.corrcoef(distance[: n_rows + 1], rh[: n_rows + 1])[0, 1] <= rule.correlation
    return n_rows if follows else 0
