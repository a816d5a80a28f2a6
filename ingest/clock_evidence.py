"""Does the clock of a logger follow summer time? What the daily course of the temperature says, beside another logger.

Days repeat: the sun, the heating and the visitors warm a building at the same hours. A clock that should have changed
and did not sees them an hour off from the day of the change on. Nothing is claimed on weak evidence: with fewer than
two fortnights on either side, where the temperature hardly moves, or where the hours disagree, the answer is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from isohume.analysis.readings import TIME
from isohume.ingest.clock_changes import ClockChange, Int64Array, changes_between
from isohume.ingest.clock_zone import ClockZone, offset_text
from isohume.ingest.daily_course import Course, compare_courses, lags, on_grid

Strength = Literal["strong", "weak"]
Kind = Literal["never changes", "follows summer time", "apart"]

HOUR_US, DAY_US = 3_600_000_000, 86_400_000_000
# Common practice: an hour is told from none when the fortnights agree to a quarter of an hour.
TOLERANCE_HOURS = 0.25
FEWEST_WINDOWS = 2
# Fortnights farther than this from a change say little about it: the course of the day drifts with the season.
NEAR_A_CHANGE_US = 60 * DAY_US
COURSE_DAYS = 14
# Alone, the shift at a change must stand out from the shifts between fortnights where nothing changed.
FEWEST_PLACEBOS = 6
LARGEST_PLACEBO_HOURS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFinding:
    """What the temperatures say about a clock.

    Attributes
    ----------
    kind : {"never changes", "follows summer time", "apart"}
    hours : float [h]
        The shift seen: of the days in summer against those in winter, or between two clocks all year.
    strength : {"strong", "weak"}
        Strong: seen beside another logger, or alone at two changes or more.
    text : str
        The finding in words.
    suggestion : str
        What to do about it.
    """

    kind: Kind
    hours: float
    strength: Strength
    text: str
    suggestion: str


def beside_companion(
    table: pl.DataFrame, companion: pl.DataFrame, *, stated: ClockZone, site_zone: str, same_air: bool = False
) -> ClockFinding | None:
    """Hold the temperatures of one logger against those of another whose clock is trusted.

    Parameters
    ----------
    table, companion : DataFrame
        Normalised tables of one channel each, converted to UTC by the zones stated for them.
    stated : ClockZone
        What the clock of `table` was said to show.
    site_zone : str
        The zone of the building, whose changes matter.
    same_air : bool
        Both hang in the same air, so that no lag is expected; a frame follows its room by an hour or so.

    Returns
    -------
    ClockFinding or None
        None where there is nothing to say, or too little to say it.
    """
    found = lags(on_grid(table), on_grid(companion))
    if found is None:
        return None
    middles_us, hours = found
    changes = changes_between(site_zone, int(middles_us[0]), int(middles_us[-1]))
    near, is_summer = _seasons(middles_us, changes)
    summer, winter = hours[near & is_summer], hours[near & ~is_summer]
    if min(summer.size, winter.size) >= FEWEST_WINDOWS:
        shift = float(np.median(summer) - np.median(winter))
        is_even = max(_scatter(summer), _scatter(winter)) <= TOLERANCE_HOURS
        if is_even and abs(abs(shift) - 1) <= TOLERANCE_HOURS:
            return _season_finding(shift, stated, site_zone, changes, n_windows=summer.size + winter.size)
    apart = float(np.median(hours))
    whole = round(apart)
    is_whole = abs(apart - whole) <= TOLERANCE_HOURS and _scatter(hours) <= TOLERANCE_HOURS
    if same_air and whole and is_whole and hours.size >= FEWEST_WINDOWS:
        return _apart_finding(whole, n_windows=hours.size)
    return None


def alone(table: pl.DataFrame, *, stated: ClockZone, site_zone: str) -> ClockFinding | None:
    """Look at the days of one logger before and after each clock change, on the wall clock of the site.

    Heating and visitors keep wall time: where their hours come an hour early from a change in spring on, the clock
    did not follow it. Where they do not nothing is known: the days of a building that the sun warms keep a time that
    never changes, and on a clock that does they come an hour late.

    Parameters
    ----------
    table : DataFrame
        Normalised table of one channel, converted to UTC by the stated zone.
    stated : ClockZone
        A zone with clock changes; None is returned for any other.
    site_zone : str
        The zone of the building.
    """
    times_us = table[TIME].to_physical()
    first_us, last_us = times_us.min(), times_us.max()
    if stated.fixed_us is not None or not isinstance(first_us, int) or not isinstance(last_us, int):
        return None
    wall = ClockZone.parse(site_zone)
    changes = changes_between(site_zone, first_us, last_us)
    course = on_grid(table) if changes else None
    if course is None:
        return None
    shifts = [(change, _shift_at(course, change.instant_us, wall, changes)) for change in changes]
    seen = [(change, shift) for change, shift in shifts if shift is not None]
    between = _placebos(course, wall, changes)
    if not seen or len(between) < FEWEST_PLACEBOS:
        return None
    early = np.array([shift if change.repeats else -shift for change, shift in seen])
    usual = float(np.quantile(np.abs(between), 0.9))
    if (np.abs(early - 1) > TOLERANCE_HOURS).any() or usual > LARGEST_PLACEBO_HOURS:
        return None
    finding = _season_finding(-1.0, stated, site_zone, changes, n_windows=len(seen))
    strength: Strength = "strong" if len(seen) >= 2 else "weak"
    dates = " and ".join(change.in_words()[-10:] for change, _ in seen)
    return ClockFinding(
        kind=finding.kind,
        hours=round(-float(early.mean()), 2),
        strength=strength,
        text=(
            f"The hours at which the days warm up move by 1 h on {dates}, where the clocks of {site_zone} change, "
            f"and by {usual:.1f} h at most elsewhere: {_what(finding.kind)}."
        ),
        suggestion=finding.suggestion,
    )


def _seasons(
    middles_us: Int64Array, changes: Sequence[ClockChange]
) -> tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Return which windows lie near a change, and which of them in summer time."""
    near = np.zeros(middles_us.size, dtype=bool)
    is_summer = np.zeros(middles_us.size, dtype=bool)
    for change in changes:
        near |= np.abs(middles_us - change.instant_us) <= NEAR_A_CHANGE_US
        is_summer[middles_us >= change.instant_us] = not change.repeats
        if change is changes[0]:
            is_summer[middles_us < change.instant_us] = change.repeats
    return near, is_summer


def _season_finding(
    shift: float, stated: ClockZone, site_zone: str, changes: Sequence[ClockChange], *, n_windows: int
) -> ClockFinding:
    """Return the finding for days that in summer come early (shift −1 h) or late (+1 h)."""
    change = changes[0]
    winter = offset_text(min(change.offset_before_us, change.offset_after_us))
    kind: Kind = "never changes" if shift < 0 else "follows summer time"
    was_stated_so = (stated.fixed_us is not None) == (kind == "never changes")
    if was_stated_so:
        suggestion = f"Its clock is stated as {stated.in_words()}, so the other logger's is the one to check."
    elif kind == "never changes":
        suggestion = f'State its clock as "{winter}" and read its files again.'
    else:
        suggestion = f'State its clock as "{site_zone}" and read its files again.'
    when = "early" if shift < 0 else "late"
    return ClockFinding(
        kind=kind,
        hours=round(shift, 2),
        strength="strong",
        text=(
            f"Beside the other logger its days come {abs(shift):.1f} h {when} in summer time and on time in winter "
            f"({n_windows} fortnights compared): {_what(kind)}."
        ),
        suggestion=suggestion,
    )


def _apart_finding(hours: int, *, n_windows: int) -> ClockFinding:
    when = "behind" if hours > 0 else "ahead of"
    return ClockFinding(
        kind="apart",
        hours=float(hours),
        strength="strong",
        text=(
            f"Its temperatures run {abs(hours)} h {when} those of the other logger in the same air, summer and winter "
            f"({n_windows} fortnights compared): one of the two clocks was set to another zone."
        ),
        suggestion="Compare both clocks with the true time and give a clock correction to the wrong one.",
    )


def _what(kind: Kind) -> str:
    return "its clock never changes to summer time" if kind == "never changes" else "its clock follows summer time"


def _scatter(hours: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    return float(1.4826 * np.median(np.abs(hours - np.median(hours)))) if hours.size else np.inf


def _shift_at(course: Course, instant_us: int, wall: ClockZone, changes: Sequence[ClockChange]) -> float | None:
    """Return by how many wall hours the course of the day moves from the fortnight before to the one after."""
    span = COURSE_DAYS * DAY_US
    before = course.daily(instant_us - span, instant_us, _offset_us(instant_us - 1, wall, changes))
    after = course.daily(instant_us, instant_us + span, _offset_us(instant_us + 1, wall, changes))
    return compare_courses(before, after)


def _placebos(course: Course, wall: ClockZone, changes: Sequence[ClockChange]) -> list[float]:
    """Return the shifts at moments a fortnight apart whose fortnights hold no change."""
    span = COURSE_DAYS * DAY_US
    shifts = []
    for moment in range(int(course.times_us[0]) + span, int(course.times_us[-1]) - span, span // 2):
        if all(abs(change.instant_us - moment) >= span for change in changes):
            shift = _shift_at(course, moment, wall, changes)
            if shift is not None:
                shifts.append(shift)
    return shifts


def _offset_us(instant_us: int, wall: ClockZone, changes: Sequence[ClockChange]) -> int:
    if wall.fixed_us is not None:
        return wall.fixed_us
    passed = [change for change in changes if change.instant_us <= instant_us]
    return passed[-1].offset_after_us if passed else changes[0].offset_before_us
