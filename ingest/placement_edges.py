"""A logger is started on a desk, placed days later, and taken out before it is read out: where its own place begins.

The air of a desk is lively and the air of a sealed frame calm; the carrying from one to the other is one abrupt change
of temperature or humidity. Either, near the beginning or the end of a record, makes a question. The rows stay; those
outside the placement that somebody confirms are flagged.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
import polars as pl

from isohume.analysis.readings import RH, TEMPERATURE, TIME
from isohume.ingest.clock_changes import EPOCH, Int64Array
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.flags import FLAGS, Flag, excluding_mask
from isohume.ingest.quality_stuck import resolution
from isohume.ingest.quality_tests import FloatArray

HOUR_US, DAY_US = 3_600_000_000, 86_400_000_000
# Common practice, all of them: a logger is placed within a month of its start and read out within one of its end.
LONGEST_EDGE_US = 30 * DAY_US
LARGEST_SHARE = 1 / 3
FEWEST_ROWS = 6
LEAST_DIGIT_PERCENT = 0.02
# What comes after the edge is looked at for so long.
COMPARED_US = 60 * DAY_US
# Lively: the humidity changes so many times as much as afterwards, and the logarithm of the likelihood ratio says that
# this is no chance. Hour by hour, sound simulated frames reach 10 at any ratio, and a week on a desk 60. Reading by
# reading, for a few hours on a desk, weather and visitors make lively days, and more is asked for.
HOURLY_LIVELIER, HOURLY_LOG_RATIO = 1.8, 25.0
LIVELIER, LOG_RATIO = 4.0, 40.0
LARGEST_OF_MEDIAN = 8.0
# Abrupt: the temperature or humidity moves further within hours than anywhere else in the record.
ABRUPT_WITHIN_US = 2 * HOUR_US
ABRUPT_KELVIN, ABRUPT_PERCENT = 3.0, 6.0
# A walk from a warm desk into a cold store; short of it, temperature and humidity must both be abrupt.
WALK_KELVIN = 5.0
UNRIVALLED = 1.5
SAME_MOMENT_US = 6 * HOUR_US

End = Literal["in", "out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacementEdge:
    """Where a logger seems to have come to its place, or to have left it.

    Attributes
    ----------
    end : {"in", "out"}
    proposed : datetime
        In: the first reading that seems to belong to the place; out: the first that no longer does. UTC.
    times_livelier : float or None
        How many times the humidity moves more from reading to reading outside than inside; None: not clearly more.
    step_kelvin, step_percent : float or None
        How far temperature [K] and humidity [%RH] moved on the way; None: no abrupt change.
    n_rows : int
        Readings outside.
    """

    end: End
    proposed: datetime
    times_livelier: float | None
    step_kelvin: float | None
    step_percent: float | None
    n_rows: int

    def question(self, zone: ClockZone) -> str:
        """Return the question to the person who placed the logger, with local times."""
        moment = _local(self.proposed, zone)
        seen = []
        if self.times_livelier is not None:
            seen.append(f"the humidity moves {self.times_livelier:.1f} times as much")
        if self.step_kelvin is not None:
            seen.append(f"the temperature changes by {abs(self.step_kelvin):.1f} K at once")
        if self.step_percent is not None:
            seen.append(f"the humidity changes by {abs(self.step_percent):.0f} %RH at once")
        rows = "1 reading" if self.n_rows == 1 else f"{self.n_rows} readings"
        if self.end == "in":
            return (
                f"When did the logger go in? Before {moment} ({rows}) it seems to have lain elsewhere: "
                f"{' and '.join(seen)}."
            )
        return (
            f"When did the logger come out? From {moment} on ({rows}) it seems to have lain elsewhere: "
            f"{' and '.join(seen)}."
        )


def placement_edges(table: pl.DataFrame) -> tuple[PlacementEdge, ...]:
    """Find where a logger seems to have come to its place and to have left it.

    Parameters
    ----------
    table : DataFrame
        The normalised table of one channel: `time_utc`, `rh_percent` [%RH], `temperature_celsius` [°C], `flags`.

    Returns
    -------
    tuple of PlacementEdge
        None, one or two; empty where the record shows nothing, which is no proof that there is nothing.
    """
    table = table if table[TIME].is_sorted() else table.sort(TIME)
    edges: list[PlacementEdge] = []
    for end in ("in", "out"):
        part = _end_of(table, end)
        if part.height < 4 * FEWEST_ROWS:
            continue
        forward = end == "in"
        # Seen from its end, a record begins with what came after the logger was taken out.
        seen = part if forward else part.reverse()
        times_us = seen[TIME].to_physical().to_numpy()
        course = _Course(np.abs(times_us - times_us[0]), seen[RH].to_numpy(), seen[TEMPERATURE].to_numpy())
        span_us = int(table[TIME].to_physical()[-1] - table[TIME].to_physical()[0])
        found = _edge(course, min(LONGEST_EDGE_US, int(span_us * LARGEST_SHARE)))
        if found is None:
            continue
        first = found.row if forward else found.row - 1
        edges.append(
            PlacementEdge(
                end="in" if forward else "out",
                proposed=EPOCH + timedelta(microseconds=int(times_us[first])),
                times_livelier=found.times_livelier,
                step_kelvin=found.step_kelvin,
                step_percent=found.step_percent,
                n_rows=found.row,
            )
        )
    return tuple(edges)


def _end_of(table: pl.DataFrame, end: str) -> pl.DataFrame:
    """Return the usable rows with a humidity within the stretch that is compared, at one end of the record."""
    stretch = timedelta(microseconds=LONGEST_EDGE_US + COMPARED_US)
    times = table[TIME]
    if times.is_empty():
        return table
    if end == "in":
        part = table.head(int(times.search_sorted(times[0] + stretch, side="right")))
    else:
        part = table.tail(table.height - int(times.search_sorted(times[-1] - stretch, side="left")))
    is_usable = (pl.col(FLAGS) & (excluding_mask("rh") | Flag.OUTSIDE_PLACEMENT.value)) == 0
    return part.filter(is_usable & pl.col(RH).is_not_null() & pl.col(RH).is_not_nan())


def mark_outside_placement(
    table: pl.DataFrame, *, placed_from: datetime | None = None, placed_to: datetime | None = None
) -> pl.DataFrame:
    """Flag the readings from before a logger went in and from after it came out; every row stays.

    Parameters
    ----------
    table : DataFrame
        With `time_utc` and `flags`.
    placed_from : datetime, optional
        First moment in place, aware.
    placed_to : datetime, optional
        First moment no longer in place, aware.

    Raises
    ------
    ValueError
        A moment without UTC offset, or an end before the beginning.
    """
    for moment in (placed_from, placed_to):
        if moment is not None and moment.tzinfo is None:
            raise ValueError(f"{moment} needs a UTC offset, as in 2025-03-01T09:30+01:00.")
    if placed_from is not None and placed_to is not None and placed_to <= placed_from:
        raise ValueError(f"The logger came out ({placed_to}) before it went in ({placed_from}).")
    outside = pl.lit(value=False)
    if placed_from is not None:
        outside |= pl.col(TIME) < placed_from
    if placed_to is not None:
        outside |= pl.col(TIME) >= placed_to
    return table.with_columns(pl.col(FLAGS) | outside.cast(pl.UInt32) * Flag.OUTSIDE_PLACEMENT.value)


@dataclass(frozen=True, slots=True)
class _Course:
    """A record seen from one of its ends."""

    since_us: Int64Array  # time since that end, increasing
    rh: FloatArray
    temperature: FloatArray


@dataclass(frozen=True, slots=True)
class _Edge:
    row: int  # the first that belongs to the place
    times_livelier: float | None
    step_kelvin: float | None
    step_percent: float | None


def _edge(course: _Course, longest: int) -> _Edge | None:
    """Return where the place begins, at most so long [µs] after the end of the record; None where nothing shows it."""
    last = int(np.searchsorted(course.since_us, longest, side="right"))
    if last <= FEWEST_ROWS:
        return None
    kelvin = _abrupt_at(course.since_us, course.temperature, last, ABRUPT_KELVIN)
    percent = _abrupt_at(course.since_us, course.rh, last, ABRUPT_PERCENT)
    calmer = _calmer_from(course, longest)
    if calmer is None:
        if kelvin and percent and _near(course, kelvin[0], percent[0]):
            return _Edge(kelvin[0], None, kelvin[1], percent[1])
        return _Edge(kelvin[0], None, kelvin[1], None) if kelvin and abs(kelvin[1]) >= WALK_KELVIN else None
    row, ratio = calmer
    # The moment of carrying is sharper than the change from lively to calm: where they meet, it is taken.
    kelvin, percent = (step if step and _near(course, step[0], row) else None for step in (kelvin, percent))
    row = next((step[0] for step in (kelvin, percent) if step), row)
    return _Edge(row, ratio, kelvin and kelvin[1], percent and percent[1])


def _near(course: _Course, row: int, other: int) -> bool:
    return bool(abs(course.since_us[row] - course.since_us[other]) <= SAME_MOMENT_US)


def _calmer_from(course: _Course, longest_us: int) -> tuple[int, float] | None:
    """Return the row from which the humidity is calmer, and how many times; None where it is not, clearly."""
    step_us = max(1, int(np.median(np.diff(course.since_us))))
    per_hour = max(1, round(HOUR_US / step_us))
    for every, livelier, log_ratio in (
        (per_hour, HOURLY_LIVELIER, HOURLY_LOG_RATIO),
        (1, LIVELIER, LOG_RATIO),
    ):
        since_us, rh = course.since_us[::every], course.rh[::every]
        last, until = np.searchsorted(since_us, (longest_us, longest_us + COMPARED_US), side="right")
        # The last digit hides changes smaller than itself: a quarter of it stands for none.
        least = max(resolution(course.rh), LEAST_DIGIT_PERCENT) / 4
        changes = np.maximum(np.abs(np.diff(rh[:until])), least)
        if changes.size < 2 * FEWEST_ROWS:
            continue
        # An opened frame is two great steps, not a lively place.
        found = _likeliest_change(np.minimum(changes, LARGEST_OF_MEDIAN * np.median(changes)), int(last), livelier)
        if found is not None and found[2] >= log_ratio:
            row = found[0] * every
            # Of the readings around, the place begins after the largest change.
            first = max(0, row - every - 1)
            steps = np.abs(np.diff(course.rh[first : row + every + 1]))
            return first + 1 + int(np.argmax(steps)), found[1]
    return None


def _likeliest_change(changes: FloatArray, last: int, livelier: float) -> tuple[int, float, float] | None:
    """Return how many changes come before the one at which they become smaller, the ratio, and how likely that is.

    They are taken as exponentially distributed, with one mean before and another after; the place at which that is
    likeliest, against one mean throughout, is the change (its log likelihood ratio is the third number).
    """
    n_before = np.arange(FEWEST_ROWS, min(last, changes.size - FEWEST_ROWS))
    if not n_before.size:
        return None
    total = np.cumsum(changes)
    before = total[n_before - 1] / n_before
    after = (total[-1] - total[n_before - 1]) / (changes.size - n_before)
    log_ratio = changes.size * np.log(total[-1] / changes.size)
    log_ratio = log_ratio - n_before * np.log(before) - (changes.size - n_before) * np.log(after)
    log_ratio[before < livelier * after] = -np.inf
    best = int(np.argmax(log_ratio))
    return int(n_before[best]), float(before[best] / after[best]), float(log_ratio[best])


def _abrupt_at(since_us: Int64Array, values: FloatArray, last: int, least: float) -> tuple[int, float] | None:
    """Return the row after an abrupt change without rival in the record, and its size; None without one."""
    later = np.searchsorted(since_us, since_us + ABRUPT_WITHIN_US)
    later = np.minimum(np.maximum(later, np.arange(values.size) + 1), values.size - 1)
    moved = values[later] - values
    size = np.nan_to_num(np.abs(moved))
    start = int(np.argmax(size[:last]))
    # Rivals: everything but the hours around this change itself.
    away = np.abs(since_us - since_us[start]) > SAME_MOMENT_US
    rival = float(size[away].max()) if away.any() else 0.0
    if size[start] < least or size[start] < UNRIVALLED * rival:
        return None
    # Within those two hours, the place begins after the largest single step.
    steps = np.nan_to_num(np.abs(np.diff(values[start : later[start] + 1])))
    return start + 1 + int(np.argmax(steps)), float(moved[start])


def _local(moment: datetime, zone: ClockZone) -> str:
    shown = zone.name if zone.fixed_us is None else zone.in_words()
    return f"{moment.astimezone(zone.tzinfo):%Y-%m-%d %H:%M} ({shown})"
