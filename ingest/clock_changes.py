"""The hours at which the clocks of a zone change, and which of two equal hours a row of a logger file belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

Int64Array = np.ndarray[tuple[int], np.dtype[np.int64]]
BoolArray = np.ndarray[tuple[int], np.dtype[np.bool_]]
Behaviour = Literal["followed", "not followed", "cannot tell"]

MICROSECONDS = 1_000_000
DAY_US = 86_400 * MICROSECONDS
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
# A step counts as the nominal one when within a quarter of it, or of the change of the clocks where that is less:
# loggers jitter by seconds.
STEP_TOLERANCE = 0.25
# The nominal step around a clock change is the most common one among this many rows on either side.
ROWS_AROUND = 100


@dataclass(frozen=True, slots=True)
class ClockChange:
    """One change of the clocks of a zone.

    Attributes
    ----------
    instant_us : int [µs since 1970, UTC]
    offset_before_us, offset_after_us : int [µs]
        Local time minus UTC.
    """

    instant_us: int
    offset_before_us: int
    offset_after_us: int

    @property
    def repeats(self) -> bool:
        """Whether wall times happen twice (autumn); otherwise they are skipped (spring)."""
        return self.offset_after_us < self.offset_before_us

    @property
    def wall_start_us(self) -> int:
        """First wall time that happens twice, or not at all [µs]."""
        return self.instant_us + min(self.offset_before_us, self.offset_after_us)

    @property
    def wall_end_us(self) -> int:
        """First wall time after those [µs]."""
        return self.instant_us + max(self.offset_before_us, self.offset_after_us)

    @property
    def length_us(self) -> int:
        """How far the clocks move [µs]."""
        return self.wall_end_us - self.wall_start_us

    def in_words(self) -> str:
        """Return the wall times concerned: `02:00 to 03:00 on 2025-10-26`."""
        start, end = (EPOCH + timedelta(microseconds=us) for us in (self.wall_start_us, self.wall_end_us))
        return f"{start:%H:%M} to {end:%H:%M} on {start:%Y-%m-%d}"


@dataclass(frozen=True, slots=True)
class ChangeSeen:
    """How the clock of a logger behaved at one change of its stated zone."""

    change: ClockChange
    behaviour: Behaviour


@lru_cache(maxsize=4096)
def changes_of_year(zone_name: str, year: int) -> tuple[ClockChange, ...]:
    """Return the clock changes of a zone in one year of UTC, in order."""
    zone = ZoneInfo(zone_name)

    def offset_us(instant_us: int) -> int:
        offset = (EPOCH + timedelta(microseconds=instant_us)).astimezone(zone).utcoffset()
        assert offset is not None  # noqa: S101 - aware by construction; told to the type checker
        return offset // timedelta(microseconds=1)

    start = int((datetime(year, 1, 1, tzinfo=UTC) - EPOCH).total_seconds()) * MICROSECONDS
    end = int((datetime(year + 1, 1, 1, tzinfo=UTC) - EPOCH).total_seconds()) * MICROSECONDS
    changes = []
    before = offset_us(start)
    for day in range(start, end, DAY_US):
        after = offset_us(day + DAY_US)
        if after != before:
            low, high = day, day + DAY_US  # the offset is `before` at low and `after` at high
            while high - low > MICROSECONDS:
                middle = (low + high) // (2 * MICROSECONDS) * MICROSECONDS
                low, high = (middle, high) if offset_us(middle) == before else (low, middle)
            changes.append(ClockChange(high, before, after))
            before = after
    return tuple(changes)


def changes_between(zone_name: str, first_us: int, last_us: int) -> tuple[ClockChange, ...]:
    """Return the clock changes that concern wall times from first to last, in order."""
    first, last = (EPOCH + timedelta(microseconds=us) for us in (first_us - 2 * DAY_US, last_us + 2 * DAY_US))
    found = [change for year in range(first.year, last.year + 1) for change in changes_of_year(zone_name, year)]
    return tuple(c for c in found if c.wall_end_us >= first_us - DAY_US and c.wall_start_us <= last_us + DAY_US)


def nominal_step_us(wall_us: Int64Array) -> int | None:
    """Return the most common distance of neighbouring rows [µs], None where no two rows differ in time."""
    steps = np.abs(np.diff(wall_us))
    steps = steps[steps > 0]
    if steps.size == 0:
        return None
    values, counts = np.unique(steps, return_counts=True)
    return int(values[counts.argmax()])


@dataclass(frozen=True, slots=True)
class SettledBlock:
    """Which pass of a repeated hour the rows of one block belong to.

    Attributes
    ----------
    second : (n,) bool
        The row belongs to the second pass, after the clocks went back.
    is_open : (n,) bool
        Order and step of the rows do not say.
    behaviour : {"followed", "not followed", "cannot tell"}
    """

    second: BoolArray
    is_open: BoolArray
    behaviour: Behaviour


def settle_repeated(wall_us: Int64Array, start: int, stop: int, length_us: int) -> SettledBlock:
    """Settle rows start:stop, all inside one repeated hour, by the order and the step of the rows around them.

    The rows before some cut belong to the first pass, those after it to the second. A cut is possible if time never
    runs backwards; of the possible cuts the one that leaves the fewest steps other than the nominal one is taken.
    Rows on which equally good cuts disagree stay open.

    Parameters
    ----------
    wall_us : (n,) int64 [µs]
        Wall times of one channel in file order, newest first or oldest first.
    start, stop : int
        The block.
    length_us : int [µs]
        How far the clocks go back.
    """
    before, after = max(0, start - ROWS_AROUND), min(wall_us.size, stop + ROWS_AROUND)
    step = nominal_step_us(wall_us[before:after])
    block = wall_us[start:stop]
    previous = _neighbour(wall_us, start - 1, block)
    following = _neighbour(wall_us, stop, block)
    backwards = _runs_backwards(previous, following, block, wall_us[before:after])
    if backwards is None:
        return SettledBlock(np.zeros(block.size, bool), np.ones(block.size, bool), "cannot tell")
    if backwards:
        block, previous, following = block[::-1], following, previous

    # Steps into, inside and out of the block; a step next to nothing is unknown and free.
    known = np.ones(block.size + 1, dtype=bool)
    known[0], known[-1] = previous is not None, following is not None
    ends = (block[0] if previous is None else previous, block[-1] if following is None else following)
    steps = np.diff(np.concatenate([[ends[0]], block, [ends[1]]]))
    cost_without = _step_cost(steps, step, length_us) * known
    cost_with_cut = _step_cost(steps + length_us, step, length_us) * known
    costs = (cost_without.sum() - cost_without + cost_with_cut).astype(np.float64)
    runs_back = steps < 0
    if runs_back.sum() > 1:
        costs[:] = np.inf
    elif runs_back.any():
        costs[~runs_back] = np.inf
    if np.isinf(costs).all():
        is_second, is_open = np.zeros(block.size, bool), np.ones(block.size, bool)
        return SettledBlock(is_second, is_open, "cannot tell")

    # Cut j puts rows j and later into the second pass.
    best = np.flatnonzero(costs == costs.min())
    row = np.arange(block.size)
    second = row >= best[-1]
    is_open = (row >= best[0]) & (row < best[-1])
    behaviour: Behaviour = "cannot tell"
    if best.size == 1 and known[best[0]] and (runs_back.any() or (step is not None and not cost_with_cut[best[0]])):
        behaviour = "followed"
    elif known.all() and step is not None and not cost_without.any():
        behaviour = "not followed"
    if backwards:
        second, is_open = second[::-1], is_open[::-1]
    return SettledBlock(second, is_open, behaviour)


def _neighbour(wall_us: Int64Array, row: int, block: Int64Array) -> int | None:
    """Return the wall time beside the block; None at the end of the file, or more than a day away (a wild date)."""
    if not 0 <= row < wall_us.size or abs(int(wall_us[row]) - int(block[0])) > DAY_US:
        return None
    return int(wall_us[row])


def _runs_backwards(previous: int | None, following: int | None, block: Int64Array, around: Int64Array) -> bool | None:
    """Return whether the file is newest first around the block, None where nothing shows it."""
    if previous is not None and following is not None:
        inside = (previous < block.min(), following > block.max())
        return None if inside[0] != inside[1] else not inside[0]
    if previous is not None:
        return bool(previous > block.max())
    if following is not None:
        return bool(following < block.min())
    steps = np.sign(np.diff(around)).sum()
    return None if steps == 0 else bool(steps < 0)


def _step_cost(steps_us: Int64Array, nominal_us: int | None, length_us: int) -> Int64Array:
    """Return 0 for the nominal step, 1 for a whole multiple of it, 2 for any other; 0 where none is known."""
    if nominal_us is None:
        return np.zeros(steps_us.size, dtype=np.int64)
    # Loose enough for a clock that jitters, and tight enough to tell a step from one with the change in it.
    tolerance_us = STEP_TOLERANCE * min(nominal_us, length_us)
    off_nominal: BoolArray = np.abs(steps_us - nominal_us) > tolerance_us
    multiples = np.maximum(np.rint(steps_us / nominal_us), 1)
    off_multiple: BoolArray = np.abs(steps_us - multiples * nominal_us) > tolerance_us
    cost: Int64Array = off_nominal.astype(np.int64) + off_multiple
    return cost
