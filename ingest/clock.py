"""From the clock of a logger to UTC: zones, fixed offsets, the repeated autumn hour and the missing spring hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from isohume.ingest.clock_changes import (
    STEP_TOLERANCE,
    Behaviour,
    ChangeSeen,
    ClockChange,
    Int64Array,
    changes_between,
    nominal_step_us,
    settle_repeated,
)
from isohume.ingest.clock_zone import ClockZone, offset_text

UTC_TIME = pl.Datetime("us", "UTC")
# Rows are looked at in blocks; only blocks that touch a clock change are looked at row by row.
BLOCK_ROWS = 4096


@dataclass(frozen=True, slots=True, kw_only=True)
class UtcTimes:
    """The times of a file in UTC, and what its clock showed on the way.

    Attributes
    ----------
    utc : Series of Datetime("us", "UTC")
        One per row, in file order; null where the row had no time or its time could not be settled.
    rejected : dict of int to str
        Row number (from 0) and the reason, for every row whose time could not be settled.
    changes : tuple of ChangeSeen
        How the clock behaved at each change of its zone that the record spans.
    zone_doubt : str or None
        Why the zone cannot be right, and what to say instead. A reason to ask unless the zone was answered.
    notes : tuple of str
        Remarks for the reader of the file.
    """

    utc: pl.Series
    rejected: dict[int, str] = field(default_factory=dict)
    changes: tuple[ChangeSeen, ...] = ()
    zone_doubt: str | None = None
    notes: tuple[str, ...] = ()


def to_utc(local: pl.Series, zone: ClockZone, *, channel: pl.Series | None = None) -> UtcTimes:
    """Convert the times a logger wrote into UTC.

    Parameters
    ----------
    local : Series of Datetime("us")
        Wall times without a zone, in file order (oldest or newest first); null where a row has none.
    zone : ClockZone
        What the clock showed.
    channel : Series, optional
        The channel of each row, where one file lists several below each other.

    Returns
    -------
    UtcTimes
        Rows of a repeated hour that order and step leave open, and rows in a skipped hour, are null with a reason.

    Examples
    --------
    >>> clock = pl.Series(["02:30", "02:00", "02:30", "03:00"])
    >>> walls = ("2025-10-26 " + clock).str.to_datetime()
    >>> to_utc(walls, ClockZone.parse("Europe/Berlin")).utc.dt.to_string("%H:%M").to_list()
    ['00:30', '01:00', '01:30', '02:00']
    """
    physical = local.cast(pl.Datetime("us")).to_physical()
    if zone.fixed_us is not None:
        return UtcTimes(utc=_as_time(physical - zone.fixed_us))
    first_us, last_us = physical.min(), physical.max()
    if not isinstance(first_us, int) or not isinstance(last_us, int):  # no row has a time
        return UtcTimes(utc=_as_time(physical))
    changes = changes_between(zone.name, first_us, last_us)
    if not changes:
        return UtcTimes(utc=_as_time(physical - _offset_us(zone, first_us)))

    if channel is None and physical.null_count() == 0:
        converted = _convert(physical.to_numpy(), zone, changes)
    else:
        converted = _Converted(np.zeros(len(physical), dtype=np.int64), {}, [])
        for rows in _rows_of_channels(physical, channel):
            part = _convert(physical.gather(rows).to_numpy(), zone, changes)
            converted.utc_us[rows] = part.utc_us
            converted.rejected.update({int(rows[row]): reason for row, reason in part.rejected.items()})
            converted.seen.extend(part.seen)
    utc = pl.Series(local.name, converted.utc_us)
    if converted.rejected or physical.null_count():
        is_settled = np.ones(len(physical), dtype=bool)
        is_settled[list(converted.rejected)] = False
        utc = utc.zip_with(physical.is_not_null() & pl.Series(is_settled), pl.Series([None], dtype=pl.Int64))
    doubt = _zone_doubt(zone, converted.seen)
    return UtcTimes(
        utc=_as_time(utc),
        rejected=dict(sorted(converted.rejected.items())),
        changes=tuple(converted.seen),
        zone_doubt=doubt,
        notes=() if doubt else _notes(zone, converted.seen),
    )


def _as_time(utc_us: pl.Series) -> pl.Series:
    return utc_us.cast(pl.Datetime("us")).dt.replace_time_zone("UTC")


def _offset_us(zone: ClockZone, wall_us: int) -> int:
    """Return local time minus UTC [µs], for a wall time with no clock change near it."""
    wall = datetime(1970, 1, 1, tzinfo=ZoneInfo(zone.name)) + timedelta(microseconds=wall_us)
    return (wall.utcoffset() or timedelta()) // timedelta(microseconds=1)


def _rows_of_channels(physical: pl.Series, channel: pl.Series | None) -> list[Int64Array]:
    """Return the numbers of the rows with a time, for each channel."""
    rows = np.flatnonzero(physical.is_not_null().to_numpy())
    if channel is None:
        return [rows]
    codes = channel.cast(pl.String).fill_null("").rank("dense").to_numpy()[rows]
    return [rows[codes == code] for code in np.unique(codes)]


@dataclass(slots=True)
class _Converted:
    """The rows of one channel on their way to UTC."""

    utc_us: Int64Array
    rejected: dict[int, str]
    seen: list[ChangeSeen]


def _convert(wall_us: Int64Array, zone: ClockZone, changes: Sequence[ClockChange]) -> _Converted:
    # Borders of the segments: even segments have one offset, odd ones are repeated or skipped.
    borders = np.array([us for c in changes for us in (c.wall_start_us, c.wall_end_us)], dtype=np.int64)
    offsets = np.array([changes[0].offset_before_us, *(c.offset_after_us for c in changes)], dtype=np.int64)
    starts = np.arange(0, wall_us.size, BLOCK_ROWS)
    # The first row of the next block belongs to this one too: a change may fall between two blocks.
    following = np.append(wall_us[starts[1:]], wall_us[-1])
    lowest = np.minimum(np.minimum.reduceat(wall_us, starts), following)
    highest = np.maximum(np.maximum.reduceat(wall_us, starts), following)
    segment_low = np.searchsorted(borders, lowest, side="right")
    segment_high = np.searchsorted(borders, highest, side="right")

    offset_of_block = offsets[segment_low // 2]
    n_whole = wall_us.size // BLOCK_ROWS * BLOCK_ROWS
    utc_us = np.empty_like(wall_us)
    whole = (wall_us[:n_whole].reshape(-1, BLOCK_ROWS), utc_us[:n_whole].reshape(-1, BLOCK_ROWS))
    np.subtract(whole[0], offset_of_block[: n_whole // BLOCK_ROWS, None], out=whole[1])
    utc_us[n_whole:] = wall_us[n_whole:] - offset_of_block[-1]

    converted = _Converted(utc_us, {}, [])
    touching = np.flatnonzero((segment_low != segment_high) | (segment_low % 2 == 1))
    if touching.size:
        near = np.unique(touching[:, None] * BLOCK_ROWS + np.arange(BLOCK_ROWS + 1))
        near = near[near < wall_us.size]
        segment = np.searchsorted(borders, wall_us[near], side="right")
        utc_us[near] = wall_us[near] - offsets[segment // 2]
        for number, change in enumerate(changes):
            inside = near[segment == 2 * number + 1]
            if inside.size and change.repeats:
                _settle(converted, wall_us, inside, zone, change)
            elif inside.size:
                converted.seen.append(ChangeSeen(change, "not followed"))
                reason = f"clocks in {zone.name} skip {change.in_words()}: the logger's clock was in another zone"
                converted.rejected.update(dict.fromkeys(inside.tolist(), reason))
            else:
                converted.seen.extend(_look_across(wall_us, near, segment > 2 * number + 1, change))
    return converted


def _settle(
    converted: _Converted, wall_us: Int64Array, inside: Int64Array, zone: ClockZone, change: ClockChange
) -> None:
    """Settle the rows of one repeated hour, each unbroken block of them by itself."""
    for block in np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1):
        settled = settle_repeated(wall_us, int(block[0]), int(block[-1]) + 1, change.length_us)
        converted.seen.append(ChangeSeen(change, settled.behaviour))
        converted.utc_us[block] = wall_us[block] - np.where(
            settled.second, change.offset_after_us, change.offset_before_us
        )
        if settled.is_open.any():
            once = settled.behaviour == "not followed"
            why = (
                "the file has it once, without a gap" if once else "order and step of the rows leave open which it is"
            )
            reason = f"{change.in_words()} happens twice in {zone.name}; {why}"
            converted.rejected.update(dict.fromkeys(block[settled.is_open].tolist(), reason))


def _look_across(
    wall_us: Int64Array, near: Int64Array, is_after: np.ndarray[tuple[int], np.dtype[np.bool_]], change: ClockChange
) -> list[ChangeSeen]:
    """Say whether a clock changed between two rows, from how far apart they are: one step in UTC, or on the wall."""
    crossings = near[:-1][(is_after[:-1] != is_after[1:]) & (np.diff(near) == 1)]
    if crossings.size != 1:
        return []
    row = int(crossings[0])
    step = nominal_step_us(wall_us[max(0, row - BLOCK_ROWS) : row + BLOCK_ROWS])
    jump = abs(int(wall_us[row + 1] - wall_us[row]))
    behaviour: Behaviour = "cannot tell"
    if step is not None:
        moved = -change.length_us if change.repeats else change.length_us
        tolerance = STEP_TOLERANCE * min(step, change.length_us)
        if abs(jump - moved - step) <= tolerance:
            behaviour = "followed"
        elif abs(jump - step) <= tolerance:
            behaviour = "not followed"
    return [ChangeSeen(change, behaviour)]


def _zone_doubt(zone: ClockZone, seen: Sequence[ChangeSeen]) -> str | None:
    """Return why the clock cannot have followed its zone, None where it may have."""
    not_followed = [s.change for s in seen if s.behaviour == "not followed"]
    skipped = [change for change in not_followed if not change.repeats]
    if not skipped and (not not_followed or any(s.behaviour == "followed" for s in seen)):
        return None
    change = (skipped or not_followed)[0]
    winter = offset_text(min(change.offset_before_us, change.offset_after_us))
    happens = "does not exist" if skipped else "happens twice"
    return (
        f"{change.in_words()} {happens} in {zone.name}, and the file runs on there as on any day: the logger's clock "
        f"did not change. If it never changes to summer time, "
        f'give its clock as "{winter}" (--tz {winter}); if it was in another zone, give that zone.'
    )


def _notes(zone: ClockZone, seen: Sequence[ChangeSeen]) -> tuple[str, ...]:
    """Say which changes the clock followed, and which it did not."""
    notes = []
    followed = sorted({s.change for s in seen if s.behaviour == "followed"}, key=lambda change: change.instant_us)
    if followed:
        dates = [change.in_words()[-10:] for change in followed]
        when = f"on {dates[0]}" if len(dates) == 1 else f"at {len(dates)} changes from {dates[0]} to {dates[-1]}"
        repeated = " Both passes of a repeated hour were told apart." if any(c.repeats for c in followed) else ""
        notes.append(f"The clock followed {zone.name} {when}.{repeated}")
    for change in dict.fromkeys(s.change for s in seen if s.behaviour == "not followed"):
        happens = "happens twice" if change.repeats else "does not exist"
        notes.append(f"{change.in_words()} {happens} in {zone.name}, and the file runs on there as on any day.")
    return tuple(notes)
