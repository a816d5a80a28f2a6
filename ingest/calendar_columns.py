"""Year, month, day and hour in columns of their own, and what a column of a time may look like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import polars as pl

from isohume.ingest.numbers import parse_numbers
from isohume.ingest.recipe import TimeRecipe

# Years a logger can have lived in.
EARLIEST_YEAR, LATEST_YEAR = 1980, 2100


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeFound:
    """The time columns of a table, and whether each time carries its own offset to UTC."""

    recipe: TimeRecipe
    with_offset: bool = False


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """One column as the sample shows it: its number from 1, texts, commonest kind, and what its heading may mean."""

    number: int
    texts: tuple[str, ...]
    kind: str
    meanings: tuple[str, ...]
    decimal: str

    def numbers(self) -> list[float]:
        """Return the cells that are numbers."""
        parsed = parse_numbers(pl.Series(self.texts, dtype=pl.String), decimal_comma=self.decimal == ",")
        return parsed.drop_nulls().to_list()

    def within(self, low: float, high: float) -> bool:
        """Whether next to all cells are numbers between two bounds."""
        numbers = self.numbers()
        inside = sum(low <= number <= high for number in numbers)
        return bool(numbers) and inside >= 0.9 * len(numbers) and len(numbers) >= 0.5 * len(self.texts)

    @property
    def is_whole(self) -> bool:
        """Whether next to all numbers are whole ones."""
        numbers = self.numbers()
        return bool(numbers) and sum(number == int(number) for number in numbers) >= 0.95 * len(numbers)

    def means(self, *meanings: str) -> bool:
        """Say whether the heading may mean one of these."""
        return bool(set(meanings) & set(self.meanings))

    def first_means(self, *meanings: str) -> bool:
        """Say whether the heading most likely means one of these."""
        return bool(self.meanings) and self.meanings[0] in meanings


def calendar_parts(columns: Sequence[TimeColumn]) -> TimeFound | None:
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

    def pick(meaning: str, low: int, high: int, after: int) -> TimeColumn | None:
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


def _with_clock(chosen: list[tuple[TimeColumn, str]], columns: Sequence[TimeColumn]) -> TimeRecipe:
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


def _is_minute_like(column: TimeColumn) -> bool:
    """Say whether numbers run through the hour as minutes of a regular record do: 0, 10, 20, …; or always 30."""
    values = sorted(set(column.numbers()))
    if len(values) == 1:
        return True
    steps = {later - earlier for earlier, later in pairwise(values)}
    return len(steps) == 1 and steps.pop() * len(values) == 60
