"""Where the time of a row stands, and in which form: one column, date and clock, or year, month, day, hour."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from isohume.ingest.calendar_columns import TimeColumn, TimeFound, calendar_parts
from isohume.ingest.moments import ORDERS, parse_moment
from isohume.ingest.recipe import TimeForm, TimeRecipe
from isohume.ingest.region import Table
from isohume.ingest.written_time import MIDNIGHT

# Seconds since 1970 of 2001 to 2100; spreadsheet days of 1980 to 2100.
EPOCH_SECONDS = (978_307_200, 4_102_444_800)
SPREADSHEET_DAYS = (29_221, 73_051)
# A date that stands once a day is blank in most rows; probes from the middle of a file may break a day off.
FEWEST_BLANK, ONE_DIRECTION = 0.5, 0.9
_DIGITS = re.compile(r"\d+")


def find_time(table: Table, decimal: str) -> TimeFound | None:
    """Return where the time stands; None if no column holds any."""
    columns = [
        TimeColumn(
            number=position + 1,
            texts=tuple(row[position] for row in table.rows if position < len(row) and row[position]),
            kind=kind,
            meanings=table.headings[position].meanings,
            decimal=decimal,
        )
        for position, kind in enumerate(table.kinds)
    ]
    offsets = {column.number: table.headings[column.number - 1].offset for column in columns}
    finders: tuple[Callable[[Sequence[TimeColumn]], TimeFound | None], ...] = (
        lambda found: _moment(found, offsets),
        _date_and_clock,
        calendar_parts,
        _number_since,
        _moment_in_two,
        _date_only,
    )
    found = next((found for finder in finders if (found := finder(columns))), None)
    if found is not None and found.recipe.parts == ("date", "clock") and _stands_once_a_day(table, found.recipe):
        return replace(found, recipe=replace(found.recipe, date_once=True))
    return found


def _stands_once_a_day(table: Table, time: TimeRecipe) -> bool:
    """Whether the date stands in the first row of each day only: clear cut, or no.

    Below it, blank dates stand beside clocks that go on in one direction until the next, other date.
    """
    date, clock = (column - 1 for column in time.columns)
    rows = [(row[date], row[clock]) for row in table.rows if max(date, clock) < len(row) and row[clock]]
    n_blank = sum(not written for written, _ in rows)
    dates = [written for written, _ in rows if written]
    if not rows or not rows[0][0] or n_blank < FEWEST_BLANK * len(rows) or len(set(dates)) < len(dates):
        return False
    below = [
        (first, second)
        for (_, one), (written, other) in itertools.pairwise(rows)
        if not written and (first := _clock_of(one)) is not None and (second := _clock_of(other)) is not None
    ]
    onward = sum(second > first for first, second in below)
    return bool(below) and max(onward, len(below) - onward) >= ONE_DIRECTION * len(below)


def _clock_of(text: str) -> int | None:
    moment = parse_moment(text, "year-first")
    return None if moment is None else moment.time_us


def _moment(columns: Sequence[TimeColumn], offsets: dict[int, str]) -> TimeFound | None:
    moments = [column for column in columns if column.kind == "moment" or _is_long_digits(column)]
    if not moments:
        return None
    if all(map(_is_midnight, moments)) and (found := _date_and_clock(columns)):
        return found
    carrying = [column for column in moments if _carries_offset(column)]
    stated = [column for column in moments if offsets[column.number]]
    if not carrying and not stated and (epoch := _epoch(columns)):
        return epoch  # seconds since 1970 leave no zone to be asked for
    best = (carrying or stated or moments)[0]
    return TimeFound(recipe=TimeRecipe(columns=(best.number,)), with_offset=bool(carrying))


def _carries_offset(column: TimeColumn) -> bool:
    """Whether the first times carry an offset to UTC; the order of day and month does not matter for that."""
    moments = [next(filter(None, (parse_moment(text, order) for order in ORDERS)), None) for text in column.texts[:8]]
    carrying = sum(moment is not None and moment.offset_minutes is not None for moment in moments)
    return carrying > len(moments) / 2


def _is_long_digits(column: TimeColumn) -> bool:
    """Find moments such as 202403041030 or 20240304103000."""
    runs = [text for text in column.texts if _DIGITS.fullmatch(text) and len(text) in (12, 14)]
    good = [text for text in runs if text[:2] in ("19", "20") and parse_moment(text, "year-first")]
    return len(good) >= 0.9 * len(column.texts) > 0


def _is_midnight(column: TimeColumn) -> bool:
    """Whether a spreadsheet wrote a column of dates as their midnights."""
    return column.kind == "moment" and all(re.search(MIDNIGHT, text) for text in column.texts)


def _is_compact_date(column: TimeColumn) -> bool:
    runs = [text for text in column.texts if _DIGITS.fullmatch(text) and len(text) in (6, 8)]
    good = [text for text in runs if any(parse_moment(text, order) for order in ORDERS)]
    return len(good) >= 0.9 * len(column.texts) > 0 and (
        column.means("date", "moment") or all(len(text) == 8 and text[:2] in ("19", "20") for text in good)
    )


def _date_and_clock(columns: Sequence[TimeColumn]) -> TimeFound | None:
    dates = [c for c in columns if c.kind == "date" or _is_compact_date(c) or _is_midnight(c)]
    if not dates:
        return None
    date = next((column for column in dates if column.means("date")), dates[0])
    clock = _clock_for(date, columns)
    if clock is None:
        return None
    column, part = clock
    with_offset = part == "clock" and _carries_offset(column)
    return TimeFound(
        recipe=TimeRecipe(columns=(date.number, column.number), parts=("date", part)), with_offset=with_offset
    )


def _clock_for(date: TimeColumn, columns: Sequence[TimeColumn]) -> tuple[TimeColumn, str] | None:
    clocks = [column for column in columns if column.kind == "clock"]
    if clocks:
        return min(clocks, key=lambda column: (abs(column.number - date.number - 1), column.number)), "clock"
    for column in columns:
        if (
            column.number == date.number
            or column.kind != "number"
            or not column.first_means("clock", "hour", "moment")
        ):
            continue
        if column.within(0, 24) and (column.is_whole or column.first_means("hour")):
            return column, "hour"
        if column.within(0, 24.6):  # 12.30 reads as a number where the decimal mark is a point
            return column, "clock"
        if column.is_whole and column.within(0, 240_000):
            return column, _run_of_digits(column)
    return _unnamed_clock(date, columns)


def _unnamed_clock(date: TimeColumn, columns: Sequence[TimeColumn]) -> tuple[TimeColumn, str] | None:
    """Find the clock without heading beside a date that comes back: 1130 for half past eleven, or the bare hour."""
    column = next((c for c in columns if c.number == date.number + 1 and c.kind == "number" and not c.meanings), None)
    if column is None or not column.is_whole or len(set(date.texts)) > len(date.texts) / 2:
        return None
    values = set(column.numbers())
    if max(values) > 100 and all(0 <= value < 2400 and value % 100 < 60 for value in values):
        return column, "hhmm"
    return (column, "hour") if len(values) > 12 and column.within(0, 24) else None


def _run_of_digits(column: TimeColumn) -> str:
    """Say whether a clock written as a number is 930 for half past nine, or 93000."""
    return "hhmm" if max(map(len, column.texts)) <= 4 else "hhmmss"


def _epoch(columns: Sequence[TimeColumn]) -> TimeFound | None:
    scales: tuple[tuple[TimeForm, int], ...] = (("epoch s", 1), ("epoch ms", 1000), ("epoch us", 1_000_000))
    low, high = EPOCH_SECONDS
    for column in columns:
        for form, scale in scales:
            if column.kind == "number" and column.within(low * scale, high * scale):
                return TimeFound(recipe=TimeRecipe(columns=(column.number,), form=form))
    return None


def _number_since(columns: Sequence[TimeColumn]) -> TimeFound | None:
    if epoch := _epoch(columns):
        return epoch
    for column in columns:
        low, high = SPREADSHEET_DAYS
        is_named = column.means("moment", "date", "clock")
        if column.kind != "number" or not column.within(low, high) or not (is_named or not column.meanings):
            continue
        fraction = next(
            (c for c in columns if c is not column and c.first_means("clock", "moment", "hour") and c.within(0, 1)),
            None,
        )
        if column.is_whole and fraction:
            return TimeFound(
                recipe=TimeRecipe(
                    columns=(column.number, fraction.number),
                    parts=("day number", "day fraction"),
                    form="spreadsheet days",
                )
            )
        return TimeFound(recipe=TimeRecipe(columns=(column.number,), form="spreadsheet days"))
    return None


def _moment_in_two(columns: Sequence[TimeColumn]) -> TimeFound | None:
    """Find a moment that a comma of its own fell apart into two columns: "Mar 01, 2025 08:00"."""
    for left, right in itertools.pairwise(columns):
        pairs = list(zip(left.texts, right.texts, strict=False))[:50]
        if left.kind != "text" or not pairs:
            continue
        moments = [parse_moment(f"{first} {second}", "day-first") for first, second in pairs]
        if sum(m is not None and m.day is not None and m.time_us is not None for m in moments) >= 0.9 * len(pairs):
            return TimeFound(recipe=TimeRecipe(columns=(left.number, right.number), parts=("date", "clock")))
    return None


def _date_only(columns: Sequence[TimeColumn]) -> TimeFound | None:
    dates = [column for column in columns if column.kind == "date" or _is_compact_date(column)]
    return TimeFound(recipe=TimeRecipe(columns=(dates[0].number,), parts=("date",))) if dates else None
