"""Hours outside the agreed band, and the excursions that make them up."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import HOUR_SECONDS
from isohume.analysis.integrals import FloatArray, LinearRecord, Runs, linear_record, runs_above_zero
from isohume.analysis.results import BandFinding, Excursion, Side

# Design, definition 1: runs on the same side less than this apart are one excursion.
MERGE_WITHIN_HOURS = 1.0


def hours_outside(rh_percent: pd.Series[float], *, low: float, high: float, uncertainty_percent: float) -> BandFinding:
    """Measure the time spent outside a band, exactly for the piecewise-linear record.

    Parameters
    ----------
    rh_percent : (n,) Series [%RH]
        Index UTC, strictly increasing. NaN counts as no reading: the stretch between its usable neighbours is covered
        only if it is no longer than the bridge.
    low, high : float [%RH]
        The band; outside means strictly below `low` or strictly above `high`.
    uncertainty_percent : float [%RH]
        Expanded uncertainty (k = 2) of the readings. Farther outside than this is outside *beyond doubt*; not farther
        inside than this is *possibly* outside.

    Returns
    -------
    BandFinding
        Hours as read, beyond doubt and possible, each hour counted once; deficit and excess [%RH·h]; excursions in
        order of time, runs on one side less than one hour apart joined, their `hours` the time outside.

    Raises
    ------
    ValueError
        The band is none, or the uncertainty negative.

    Examples
    --------
    >>> index = pd.date_range("2025-01-01", periods=3, freq="h", tz="UTC")
    >>> finding = hours_outside(pd.Series([40.0, 50.0, 40.0], index), low=45, high=55, uncertainty_percent=2)
    >>> round(finding.hours_below, 3), round(finding.hours_outside_beyond_doubt, 3)
    (1.0, 0.6)
    """
    if not low < high:
        raise ValueError(f"Band {low:g}-{high:g} %RH: the low limit must lie below the high one.")
    if not uncertainty_percent >= 0:
        raise ValueError(f"Uncertainty {uncertainty_percent:g} %RH: it cannot be negative.")
    record = linear_record(rh_percent)
    below_depth, above_depth = low - record.readings, record.readings - high
    below, above = runs_above_zero(record, below_depth), runs_above_zero(record, above_depth)
    covered = record.hours_covered
    excursions = _excursions(record, below, below_depth, "below") + _excursions(record, above, above_depth, "above")
    return BandFinding(
        low=low,
        high=high,
        hours_below=below.hours,
        hours_above=above.hours,
        hours_covered=covered,
        share_within=1 - (below.hours + above.hours) / covered if covered > 0 else None,
        hours_outside_beyond_doubt=_hours_beyond(record, low - uncertainty_percent, high + uncertainty_percent),
        hours_outside_possible=_hours_beyond(record, low + uncertainty_percent, high - uncertainty_percent),
        deficit_percent_hours=below.integral,
        excess_percent_hours=above.integral,
        uncertainty_percent=uncertainty_percent,
        excursions=tuple(sorted(excursions, key=lambda excursion: excursion.start_utc)),
    )


def _hours_beyond(record: LinearRecord, low: float, high: float) -> float:
    """Return the hours below `low` or above `high`, each hour once."""
    if low > high:  # a band narrower than twice the uncertainty: no reading is certainly inside
        return record.hours_covered
    return runs_above_zero(record, low - record.readings).hours + runs_above_zero(record, record.readings - high).hours


def _excursions(record: LinearRecord, runs: Runs, depth: FloatArray, side: Side) -> list[Excursion]:
    """Join runs less than an hour apart and describe each."""
    if runs.first.size == 0:
        return []
    opens = np.flatnonzero(np.append(True, runs.start[1:] - runs.end[:-1] >= MERGE_WITHIN_HOURS))
    closes = np.append(opens[1:] - 1, runs.first.size - 1)
    outside_hours = np.add.reduceat(runs.end - runs.start, opens)
    first, last = runs.first[opens], runs.last[closes]
    extreme = _first_greatest(depth, first, last)

    n_readings = record.hours.size
    gap_before = (first > 0) & ~record.joined[first]
    gap_after = (last < n_readings - 1) & ~np.append(record.joined, False)[last + 1]
    return [
        Excursion(
            start_utc=start,
            end_utc=end,
            hours=hours,
            side=side,
            extreme_percent=extreme_percent,
            extreme_utc=extreme_utc,
            cut_by_gap=cut,
            open_at_start=from_start,
            ongoing=to_end,
        )
        for start, end, hours, extreme_percent, extreme_utc, cut, from_start, to_end in zip(
            _timestamps(runs.start[opens]),
            _timestamps(runs.end[closes]),
            outside_hours.tolist(),
            record.readings[extreme].tolist(),
            _timestamps(record.hours[extreme]),
            (gap_before | gap_after).tolist(),
            (first == 0).tolist(),
            (last == n_readings - 1).tolist(),
            strict=True,
        )
    ]


def _first_greatest(depth: FloatArray, first: NDArray[np.intp], last: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return for each stretch first..last of readings the number of its first greatest depth."""
    bounds = np.column_stack([first, last + 1]).ravel()
    # reduceat wants every bound inside the array; the stretch that ends the array needs no closing bound.
    greatest = np.maximum.reduceat(depth, bounds[bounds < depth.size])[::2]
    lengths = last - first + 1
    stretch = np.repeat(np.arange(first.size), lengths)
    reading = np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths) + first[stretch]
    hits = np.flatnonzero(depth[reading] == greatest[stretch])
    earliest: NDArray[np.intp] = reading[hits[np.unique(stretch[hits], return_index=True)[1]]]
    return earliest


def _timestamps(hours: FloatArray) -> list[pd.Timestamp]:
    """Return aware UTC times from hours since 1970, to the nearest second: interpolation means no more."""
    seconds = np.rint(hours * HOUR_SECONDS).astype(np.int64)
    return list(pd.to_datetime(seconds * 1_000_000, unit="us", utc=True))
