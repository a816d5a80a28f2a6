"""Quality flags beside the readings: nothing is deleted, and a value no test could judge says so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from isohume.analysis.readings import BRIDGE_STEPS, BRIDGE_TOLERANCE, RH, TEMPERATURE, TIME
from isohume.ingest.clock_changes import BoolArray, Int64Array
from isohume.ingest.flags import FLAGS, Flag
from isohume.ingest.quality_limits import DEFAULT_LIMITS, QualityLimits, QuantityLimits
from isohume.ingest.quality_settling import settling_rows
from isohume.ingest.quality_stuck import HOUR_US, resolution, stuck_rows
from isohume.ingest.quality_tests import (
    FAIL,
    SUSPECT,
    FloatArray,
    gross_range,
    hampel,
    rate_of_change,
    spike_neighbours,
)

CHANNEL = "channel"
MaskArray = np.ndarray[tuple[int], np.dtype[np.uint32]]

# Rows on either side that the Hampel identifier looks at.
HALF_WIDTH = 3
# A series of two has no value with neighbours on both sides.
FEWEST_NEIGHBOURS = 3
NOT_STUCK = 0xFFFFFFFF ^ Flag.RH_STUCK.value


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bits:
    """The bits of one quantity as plain numbers, which combine a hundred times faster than enum members."""

    impossible: int
    outside_logger_range: int
    spike: int
    outlier: int
    step: int
    stuck: int
    not_evaluated: int


RH_BITS = _Bits(
    impossible=Flag.RH_IMPOSSIBLE.value,
    outside_logger_range=Flag.RH_OUTSIDE_LOGGER_RANGE.value,
    spike=Flag.RH_SPIKE.value,
    outlier=Flag.RH_OUTLIER.value,
    step=Flag.RH_STEP.value,
    stuck=Flag.RH_STUCK.value,
    not_evaluated=Flag.RH_NOT_EVALUATED.value,
)
TEMPERATURE_BITS = _Bits(
    impossible=Flag.TEMPERATURE_IMPOSSIBLE.value,
    outside_logger_range=Flag.TEMPERATURE_OUTSIDE_LOGGER_RANGE.value,
    spike=Flag.TEMPERATURE_SPIKE.value,
    outlier=Flag.TEMPERATURE_OUTLIER.value,
    step=Flag.TEMPERATURE_STEP.value,
    stuck=Flag.TEMPERATURE_STUCK.value,
    not_evaluated=Flag.TEMPERATURE_NOT_EVALUATED.value,
)


@dataclass(frozen=True, slots=True)
class _Record:
    """One quantity of one channel, without its missing values, and the other quantity of the same rows."""

    times_us: Int64Array
    values: FloatArray
    other: FloatArray
    step_us: int

    def is_gap(self) -> BoolArray:
        """Return whether readings are missing between a value and the next."""
        return np.diff(self.times_us) > bridge(self.step_us)


def flag_readings(table: pl.DataFrame, *, limits: QualityLimits = DEFAULT_LIMITS) -> pl.DataFrame:
    """Return the table with the quality flags of every channel added to its column `flags`.

    Parameters
    ----------
    table : DataFrame
        The normalised table: `time_utc`, `channel`, `rh_percent` [%RH], `temperature_celsius` [°C], `flags`; no two
        rows of a channel at one instant; quickest where the times of a channel increase.
    limits : QualityLimits

    Returns
    -------
    DataFrame
        Same rows, same order, same values.
    """
    if table.is_empty():
        return table
    times_us = table[TIME].to_physical().to_numpy()
    rh, temperature = (table[quantity].to_numpy() for quantity in (RH, TEMPERATURE))  # null becomes NaN
    masks = np.zeros(table.height, dtype=np.uint32)
    channel = table[CHANNEL]
    if (channel == channel[0]).all() and bool((np.diff(times_us) > 0).all()):
        masks |= _masks_of_channel(times_us, rh, temperature, limits)
    else:
        codes = channel.rank("dense").to_numpy()
        for code in np.unique(codes):
            rows = np.flatnonzero(codes == code)
            rows = rows[np.argsort(times_us[rows], kind="stable")]
            masks[rows] |= _masks_of_channel(times_us[rows], rh[rows], temperature[rows], limits)
    return table.with_columns(pl.Series(FLAGS, masks) | pl.col(FLAGS))


def nominal_step(times_us: Int64Array) -> int:
    """Return the mode of the time differences [µs], the smallest of several; 0 with fewer than two readings."""
    if times_us.size < 2:
        return 0
    steps = np.diff(times_us)
    if steps.min() == steps.max():
        return int(steps[0])
    modes = pl.Series(steps).mode().to_numpy()
    return int(modes.min())


def bridge(step_us: int) -> float:
    """Return the longest stretch between two readings [µs] that is no gap, as the analysis counts coverage."""
    return max(HOUR_US, BRIDGE_STEPS * step_us) * BRIDGE_TOLERANCE


def _masks_of_channel(
    times_us: Int64Array, rh: FloatArray, temperature: FloatArray, limits: QualityLimits
) -> MaskArray:
    step_us = nominal_step(times_us)
    masks = np.zeros(times_us.size, dtype=np.uint32)
    for values, other, of_quantity, bits in (
        (rh, temperature, limits.rh, RH_BITS),
        (temperature, rh, limits.temperature, TEMPERATURE_BITS),
    ):
        if not np.isnan(values.sum()):
            masks |= _masks_of_quantity(_Record(times_us, values, other, step_us), of_quantity, bits)
        elif (rows := np.flatnonzero(~np.isnan(values))).size:
            record = _Record(times_us[rows], values[rows], other[rows], step_us)
            masks[rows] |= _masks_of_quantity(record, of_quantity, bits)

    gaps = np.diff(times_us) > bridge(step_us)
    masks[1:][gaps] |= Flag.GAP_BEFORE.value
    is_damp, is_dry = rh >= limits.saturated_damp, rh <= limits.saturated_dry
    masks[is_dry] |= Flag.RH_SATURATED_DRY.value
    masks[is_damp] |= Flag.RH_SATURATED_DAMP.value
    # A sensor at its upper end stands still because it cannot show more: wet, not stuck.
    masks[is_damp] &= np.uint32(NOT_STUCK)
    jumps = (masks & TEMPERATURE_BITS.step) > 0
    masks[settling_rows(times_us, rh, temperature, gaps=gaps, jumps=jumps, rule=limits.settling)] |= (
        Flag.SETTLING.value
    )
    return masks


def _masks_of_quantity(record: _Record, limits: QuantityLimits, bits: _Bits) -> MaskArray:
    values = record.values
    masks = np.zeros(values.size, dtype=np.uint32)
    lowest, highest = float(values.min()), float(values.max())
    for span, bit in ((limits.physical, bits.impossible), (limits.logger_range, bits.outside_logger_range)):
        if span is not None and not span[0] <= lowest <= highest <= span[1]:
            masks[gross_range(values, fail_span=span) == FAIL] |= bit
    is_gap = record.is_gap()
    is_alone = np.append(True, is_gap) & np.append(is_gap, True)
    masks[is_alone if values.size >= FEWEST_NEIGHBOURS else slice(None)] |= bits.not_evaluated
    _compare_neighbours(masks, record, limits, bits)
    if record.step_us:
        is_stuck = stuck_rows(record.times_us, values, record.other, record.step_us, limits.stuck)
        masks[is_stuck] |= bits.stuck
    return masks


def _compare_neighbours(masks: MaskArray, record: _Record, limits: QuantityLimits, bits: _Bits) -> None:
    """Add spikes, outliers and steps, looking only where neighbours differ enough for any of them."""
    values = record.values
    # A value farther than the floor from the median of its surroundings has, on the way there, a change of a third.
    least = min(limits.outlier_floor / HALF_WIDTH, limits.spike, limits.smallest_step)
    lively = np.flatnonzero(np.abs(np.diff(values)) > least)
    if not lively.size:
        return
    is_near = np.zeros(values.size, dtype=bool)
    for distance in range(-2 * HALF_WIDTH, 2 * HALF_WIDTH + 2):
        is_near[np.clip(lively + distance, 0, values.size - 1)] = True
    rows = np.flatnonzero(is_near)
    # No test looks across a gap or from one picked stretch into the next.
    apart = np.flatnonzero((np.diff(rows) > 1) | record.is_gap()[rows[:-1]]) + 1
    fillers = np.repeat(apart, HALF_WIDTH)
    picked = np.insert(values[rows], fillers, np.nan)
    seconds = np.insert(record.times_us[rows] / 1e6, fillers, np.nan)
    is_row = np.insert(np.ones(rows.size, dtype=bool), fillers, values=False)

    floor = max(limits.outlier_floor, 4 * resolution(values))
    is_outlier = hampel(picked, half_width=HALF_WIDTH, n_sigma=limits.outlier_sigma, floor=floor) == SUSPECT
    spike = spike_neighbours(picked, suspect_threshold=limits.spike, fail_threshold=limits.sure_spike)
    is_spike = (spike == FAIL) | ((spike == SUSPECT) & is_outlier)
    per_second = limits.step_per_hour / 3600
    rate = rate_of_change(seconds, picked, threshold_per_s=per_second, smallest_change=limits.smallest_step)
    for accused, bit in ((is_outlier, bits.outlier), (is_spike, bits.spike), (rate == SUSPECT, bits.step)):
        masks[rows[accused[is_row]]] |= bit
