"""Where the time of a row stands, and in which form: one column, date and clock, or year, month, day, hour."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import polars as pl

from isohume.ingest.moments import ORDERS, parse_moment
from isohume.ingest.numbers import parse_numbers
from isohume.ingest.recipe import TimeForm, TimeRecipe
from isohume.ingest.region import Table
from isohume.ingest.written_time import MIDNIGHT

# Years a logger can have lived in; seconds since 1970 of 2001 to 2100; spreadsheet days of 1980 to 2100.
EARLIEST_YEAR, LATEST_YEAR = 1980, 2100
EPOCH_SECONDS = (978_307_200, 4_102_444_800)
SPREADSHEET_DAYS = (29_221, 73_051)
_DIGITS = re.compile(r"\d+")


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeFound:
    """The time columns of a table, and whether each time carries its own offset to UTC."""

    recipe: TimeRecipe
    with_offset: bool = False


@dataclass(frozen=True, slots=True)
class _Column:
    number: int
    texts: tuple[str, ...]
    kind: str
    meanings: tuple[str, ...]
    decimal: str

    def numbers(self) -> list[float]:
        parsed = parse_numbers(pl.Series(self.texts, dtype=pl.String), decimal_comma=self.decimal == ",")
        return parsed.drop_nulls().to_list()

    def within(self, low: float, high: float) -> bool:
        """Whether next to all cells are numbers between two bounds."""
        numbers = self.numbers()
        inside = sum(low <= number <= high for number in numbers)
        return bool(numbers) and inside >= 0.9 * len(numbers) and len(numbers) >= 0.5 * len(self.texts)

    @property
    def is_whole(self) -> bool:
        numbers = self.numbers()
        return bool(numbers) and sum(number == int(number) for number in numbers) >= 0.95 * len(numbers)

    def means(self, *meanings: str) -> bool:
        return bool(set(meanings) & set(self.meanings))

    def first_means(self, *meanings: str) -> bool:
        return bool(self.meanings) and self.meanings[0] in meanings


def find_time(table: Table, decimal: str) -> TimeFound | None:
    """Return where the time stands; None if no column holds any."""
    columns = [
        _Column(
            number=position + 1,
            texts=tuple(row[position] for row in table.rows if position < len(row) and row[position]),
            kind=kind,
            meanings=table.headings[position].meanings,
            decimal=decimal,
        )
        for position, kind in enumerate(table.kinds)
    ]
    offsets = {column.number: table.headings[column.number - 1].offset for column in columns}
    finders: tuple[Callable[[Sequence[_Column]], TimeFound | None], ...] = (
        lambda found: _moment(found, offsets),
        _date_and_clock,
        _calendar_parts,
        _number_since,
        _moment_in_two,
        _date_only,
    )
    return next((found for finder in finders if (found := finder(columns))), None)


def _moment(columns: Sequence[_Column], offsets: dict[int, str]) -> TimeFound | None:
    moments = [column for column in columns if column.kind == "moment" or _is_long_digits(column)]
    if not moments:
        return None
    if all(map(_is_midnight, moments)) and (found := _date_and_clock(columns)):
        return found
    carrying = [column for column in moments if _carries_offset(column)]
    stated = [column for column in moments if offsets[column.number]]
    best = (carrying or stated or moments)[0]
    return TimeFound(recipe=TimeRecipe(columns=(best.number,)), with_offset=bool(carrying))


def _carries_offset(column: _Column) -> bool:
    """Whether the first times carry an offset to UTC; the order of day and month does not matter for that."""
    moments = [next(filter(None, (parse_moment(text, order) for order in ORDERS)), None) for text in column.texts[:20]]
    carrying = sum(moment is not None and moment.offset_minutes is not None for moment in moments)
    return carrying > len(moments) / 2


def _is_long_digits(column: _Column) -> bool:
    """Find moments such as 202403041030 or 20240304103000."""
    runs = [text for text in column.texts if _DIGITS.fullmatch(text) and len(text) in (12, 14)]
    good = [text for text in runs if text[:2] in ("19", "20") and parse_moment(text, "year-first")]
    return len(good) >= 0.9 * len(column.texts) > 0


def _is_midnight(column: _Column) -> bool:
    """Whether a spreadsheet wrote a column of dates as their midnights."""
    return column.kind == "moment" and all(re.search(MIDNIGHT, text) for text in column.texts)


def _is_compact_date(column: _Column) -> bool:
    runs = [text for text in column.texts if _DIGITS.fullmatch(text) and len(text) in (6, 8)]
    good = [text for text in runs if any(parse_moment(text, order) for order in ORDERS)]
    return len(good) >= 0.9 * len(column.texts) > 0 and (
        column.means("date", "moment") or all(len(text) == 8 and text[:2] in ("19", "20") for text in good)
    )


def _date_and_clock(columns: Sequence[_Column]) -> TimeFound | None:
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


def _clock_for(date: _Column, columns: Sequence[_Column]) -> tuple[_Column, str] | None:
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


def _unnamed_clock(date: _Column, columns: Sequence[_Column]) -> tuple[_Column, str] | None:
    """Find the clock without heading beside a date that comes back: 1130 for half past eleven, or the bare hour."""
    column = next((c for c in columns if c.number == date.number + 1 and c.kind == "number" and not c.meanings), None)
    if column is None or not column.is_whole or len(set(date.texts)) > len(date.texts) / 2:
        return None
    values = set(column.numbers())
    if max(values) > 100 and all(0 <= value < 2400 and value % 100 < 60 for value in values):
        return column, "hhmm"
    return (column, "hour") if len(values) > 12 and column.within(0, 24) else None


def _run_of_digits(column: _Column) -> str:
    """Say whether a clock written as a number is 930 for half past nine, or 93000."""
    return "hhmm" if max(map(len, column.texts)) <= 4 else "hhmmss"


def _calendar_parts(columns: Sequence[_Column]) -> TimeFound | None:
    """Find year, month, day and hour in columns of their own, by heading or, without one, by their values."""
    numbers = [column for column in columns if column.kind == "number"]
    year = next(
        (c for c in numbers if c.first_means("year") and (c.within(EARLIEST_YEAR, LATEST_YEAR) or c.within(0, 99))),
        None,
    )
    if year is None:
        year = next(
            (c for c in numbers if not c.meanings and c.is_whole and c.within(EARLIEST_YEAR, LATEST_YEAR)), None
        )
    if year is None:
        return None
    others = [column for column in columns if column is not year]

    def pick(meaning: str, low: int, high: int, after: int) -> _Column | None:
        named = [c for c in others if c.means(meaning) and c.kind == "number" and c.is_whole and c.within(low, high)]
        if named:
            return named[0]
        unnamed = [c for c in others if c.number == after and not c.meanings and c.is_whole and c.within(low, high)]
        return unnamed[0] if unnamed else None

    month = pick("month", 1, 12, year.number + 1)
    day = pick("day", 1, 31, year.number + 2)
    if month and day:
        if not month.means("month") and not day.means("day") and not year.meanings and month.number != year.number + 1:
            return None
        chosen = [(year, "year"), (month, "month"), (day, "day")]
    else:
        number = pick("day of year", 1, 366, year.number + 1)
        if number is None:
            return None
        chosen = [(year, "year"), (number, "day of year")]
    return TimeFound(recipe=_with_clock(chosen, columns))


def _with_clock(chosen: list[tuple[_Column, str]], columns: Sequence[_Column]) -> TimeRecipe:
    taken = {column.number for column, _ in chosen}
    left = [column for column in columns if column.number not in taken]
    after = max(taken) + 1
    clock = next((c for c in left if c.kind == "clock"), None)
    if clock:
        chosen.append((clock, "clock"))
    else:
        hour = next((c for c in left if c.means("hour") and c.is_whole and c.within(0, 24)), None)
        hour = hour or next(
            (c for c in left if c.number == after and not c.meanings and c.is_whole and c.within(0, 24)), None
        )
        hundred = next((c for c in left if c.first_means("clock", "hour") and c.is_whole and c.within(0, 2400)), None)
        if hour:
            chosen.append((hour, "hour"))
            for meaning in ("minute", "second"):
                part = next((c for c in left if c.means(meaning) and c.is_whole and c.within(0, 59)), None)
                part = part or next(
                    (c for c in left if c.number == chosen[-1][0].number + 1 and not c.meanings and c.is_whole
                     and c.within(0, 59) and c.kind == "number" and _is_minute_like(c)), None)  # fmt: skip
                if part is None:
                    break
                chosen.append((part, meaning))
        elif hundred:
            chosen.append((hundred, "hhmm"))
    return TimeRecipe(columns=tuple(c.number for c, _ in chosen), parts=tuple(part for _, part in chosen))


def _is_minute_like(column: _Column) -> bool:
    """Say whether numbers run through the hour as minutes of a regular record do: 0, 10, 20, …; or always 30."""
    values = sorted(set(column.numbers()))
    if len(values) == 1:
        return True
    steps = {later - earlier for earlier, later in itertools.pairwise(values)}
    return len(steps) == 1 and steps.pop() * len(values) == 60


def _number_since(columns: Sequence[_Column]) -> TimeFound | None:
    scales: tuple[tuple[TimeForm, int], ...] = (("epoch s", 1), ("epoch ms", 1000), ("epoch us", 1_000_000))
    low, high = EPOCH_SECONDS
    for column in columns:
        for form, scale in scales:
            if column.kind == "number" and column.within(low * scale, high * scale):
                return TimeFound(recipe=TimeRecipe(columns=(column.number,), form=form))
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


def _moment_in_two(columns: Sequence[_Column]) -> TimeFound | None:
    """Find a moment that a comma of its own fell apart into two columns: "Mar 01, 2025 08:00"."""
    for left, right in itertools.pairwise(columns):
        pairs = list(zip(left.texts, right.texts, strict=False))[:50]
        if left.kind != "text" or not pairs:
            continue
        moments = [parse_moment(f"{first} {second}", "day-first") for first, second in pairs]
        if sum(m is not None and m.day is not None and m.time_us is not None for m in moments) >= 0.9 * len(pairs):
            return TimeFound(recipe=TimeRecipe(columns=(left.number, right.number), parts=("date", "clock")))
    return None


def _date_only(columns: Sequence[_Column]) -> TimeFound | None:
    dates = [column for column in columns if column.kind == "date" or _is_compact_date(column)]
    return TimeFound(recipe=TimeRecipe(columns=(dates[0].number,), parts=("date",))) if dates else None
