"""A wrong guess set right: a recipe with another zone, order of dates, decimal mark, or other columns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

from isohume.ingest.encoding import decode
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.lines import TextLines, split_line
from isohume.ingest.moments import ORDERS
from isohume.ingest.recipe import (
    PARTS,
    TIME_FORMS,
    VALUE_UNITS,
    LongLayout,
    Recipe,
    TimeForm,
    TimeRecipe,
    ValueColumn,
    ValueQuantity,
)
from isohume.ingest.source import SourceFile
from isohume.ingest.spreadsheet import sheets_of
from isohume.ingest.value_columns import in_channels

NOT_USED = "not used"
# A number since a start is one column; everything else is written out.
NUMBER_FORMS = tuple(form for form in TIME_FORMS if form != "text")
MOST_HEAD_LINES = 12


def roles() -> tuple[str, ...]:
    """Return what a column can hold: parts of the time, numbers since a start, quantities with their unit."""
    values = [f"{quantity}, {unit}" for quantity, units in VALUE_UNITS.items() for unit in units]
    return (NOT_USED, *(f"time: {part}" for part in PARTS), *(f"time: {form}" for form in NUMBER_FORMS), *values)


def role_of(recipe: Recipe, column: int) -> str:
    """Return what a recipe takes a column for, the column counted from 1."""
    time = recipe.time
    if column in time.columns:
        if time.form != "text" and len(time.columns) == 1:
            return f"time: {time.form}"
        return f"time: {time.parts[time.columns.index(column)]}"
    return next((f"{v.quantity}, {v.unit}" for v in recipe.values if v.column == column), NOT_USED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """What a person says a file is, where it was misread; "" and empty: as read.

    Attributes
    ----------
    zone : str
        Of the logger's clock.
    order : str
        Of day, month and year.
    decimal : str
        "." or ",".
    columns : mapping of int to str
        For every column, counted from 1, one of `roles()`.
    """

    zone: str = ""
    order: str = ""
    decimal: str = ""
    columns: Mapping[int, str] = field(default_factory=dict)

    def applied_to(self, recipe: Recipe) -> Recipe:
        """Return the recipe that says so.

        Raises
        ------
        LoggerFileError
            It cannot be: no time, no value, a zone that does not exist.
        """
        if self.columns:
            recipe = self._with_columns(recipe)
        time = recipe.time
        if self.order:
            time = replace(time, order=next((order for order in ORDERS if order == self.order), time.order))
        if self.zone:
            time = replace(time, zone=self.zone)
        corrected = replace(recipe, time=time, decimal=self.decimal or recipe.decimal)
        return Recipe.from_toml(corrected.to_toml(), file="the correction")  # what cannot be is refused there

    def _with_columns(self, recipe: Recipe) -> Recipe:
        unknown = sorted(set(self.columns.values()) - set(roles()))
        if unknown:
            raise _wrong(", ".join(unknown), f"one of {', '.join(roles())}")
        before = {value.column: value for value in recipe.values}
        times: list[tuple[int, str]] = []
        values: list[ValueColumn] = []
        for column, role in sorted(self.columns.items()):
            if role.startswith("time: "):
                times.append((column, role.removeprefix("time: ")))
            elif role != NOT_USED:
                quantity, _, unit = role.rpartition(", ")
                old = before.get(column)
                values.append(
                    ValueColumn(
                        column=column,
                        quantity=cast("ValueQuantity", quantity),
                        unit=unit,
                        channel=old.channel if old else _labels(recipe, column, before),
                        heading=recipe.heading_of(column),
                    )
                )
        if not values:
            raise _wrong("no column of values", "at least one column with relative humidity or temperature")
        return replace(recipe, time=_time(recipe.time, times), values=in_channels(values), long=LongLayout())


def _labels(recipe: Recipe, column: int, before: Mapping[int, ValueColumn]) -> str:
    """Name the channel of a column that was not used so far: as its neighbours, where the file has one channel."""
    channels = {value.channel for value in before.values()}
    return channels.pop() if len(channels) == 1 else recipe.heading_of(column)


def _time(before: TimeRecipe, times: Sequence[tuple[int, str]]) -> TimeRecipe:
    forms = [part for _, part in times if part in NUMBER_FORMS]
    if not times or (forms and len(times) > 1):
        found = " and ".join(part for _, part in times) or "no column of time"
        raise _wrong(found, "one moment; or a date and a clock; or seconds since 1970 or day numbers alone")
    columns = tuple(column for column, _ in times)
    if columns == before.columns and not forms and tuple(part for _, part in times) == before.parts:
        return before
    if forms:
        return replace(before, columns=columns, parts=("moment",), form=cast("TimeForm", forms[0]))
    parts = tuple(part for _, part in times)
    days = {"moment", "date", "day of year", "day number"} & set(parts) or {"year", "month", "day"} <= set(parts)
    if not days or len(set(parts)) < len(parts):
        raise _wrong(f"time in {', '.join(parts)}", "a day: a date, a moment, or year, month and day; each part once")
    form: TimeForm = "spreadsheet days" if "day number" in parts else "text"
    return replace(before, columns=columns, parts=parts, form=form)


def head_of(member: SourceFile, recipe: Recipe) -> list[tuple[int, list[str]]]:
    """Return the lines around the first row, with their numbers and split into cells, to choose columns by.

    Raises
    ------
    LoggerFileError
        It is no text.
    """
    if member.is_spreadsheet:
        sheets = sheets_of(member.content, file=member.name, only=recipe.sheet or None)
        lines = TextLines.of(sheets[0].utf8) if sheets else TextLines.of(b"")
    else:
        lines = TextLines.of(decode(member.content[: 1 << 18], file=member.name, encoding=recipe.encoding).utf8)
    texts = lines.head(recipe.first_row + MOST_HEAD_LINES)
    last = min(len(texts), max(MOST_HEAD_LINES, recipe.first_row + 4))
    first = max(0, last - MOST_HEAD_LINES)
    return [(number + 1, split_line(texts[number][:2000], recipe.delimiter)) for number in range(first, last)]


def _wrong(found: str, expected: str) -> LoggerFileError:
    return LoggerFileError(
        file="the correction", found=found, expected=expected, remedy="Choose again; nothing was changed."
    )
