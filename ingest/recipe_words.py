"""A recipe in two or three plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from isohume.ingest.recipe import Recipe, TimeRecipe, ValueColumn

ENCODING_WORDS = {
    "utf-8": "UTF-8",
    "cp1252": "Windows Western (cp1252)",
    "latin-1": "Latin-1",
    "utf-16-le": "UTF-16",
    "utf-16-be": "UTF-16",
    "utf-32-le": "UTF-32",
    "utf-32-be": "UTF-32",
}
ORDER_WORDS = {"day-first": "day first", "month-first": "month first", "year-first": "year first"}
FORM_WORDS = {
    "epoch s": "seconds since 1970 UTC",
    "epoch ms": "milliseconds since 1970 UTC",
    "epoch us": "microseconds since 1970 UTC",
    "spreadsheet days": "spreadsheet day numbers",
}


def recipe_in_words(recipe: Recipe) -> str:
    """Return how a file is read: the text, the time, the values."""
    return " ".join([_text(recipe), _time(recipe), _values(recipe)])


def _text(recipe: Recipe) -> str:
    from isohume.ingest.recipe import NAME_OF_DELIMITER

    decimal = "decimal comma" if recipe.decimal == "," else "decimal point"
    if recipe.sheet:
        return f'Sheet "{recipe.sheet}" of a workbook, {_heading(recipe)}.'
    delimiter = NAME_OF_DELIMITER[recipe.delimiter].capitalize()
    return f"{delimiter}-separated, {decimal}, {ENCODING_WORDS[recipe.encoding]}, {_heading(recipe)}."


def _heading(recipe: Recipe) -> str:
    if not recipe.header:
        return f"no heading, rows from line {recipe.first_row}"
    return f"rows from line {recipe.first_row}, below the heading"


def _time(recipe: Recipe) -> str:
    time = recipe.time
    where = f"Time in {_columns(recipe, time.columns)}"
    if time.form != "text":
        where += f", {FORM_WORDS[time.form]}"
    else:
        where += f", {'date and clock' if 'clock' in time.parts and 'date' in time.parts else _parts(time)}"
        if "moment" in time.parts or "date" in time.parts:
            where += f", {ORDER_WORDS[time.order]}"
        if time.date_once:
            where += ", a blank date being the one above"
    return f"{where}; {_zone(recipe)}."


def _parts(time: TimeRecipe) -> str:
    return "written out" if time.parts == ("moment",) else ", ".join(time.parts)


def _zone(recipe: Recipe) -> str:
    from isohume.ingest.clock_zone import ClockZone
    from isohume.ingest.recipe import WRITTEN_ZONE

    zone = recipe.time.zone
    if not zone:
        return "the zone of its clock is not known"
    if zone == WRITTEN_ZONE:
        return "each with its offset to UTC"
    if recipe.time.form.startswith("epoch"):
        return "UTC"
    return f"the clock shows {ClockZone.parse(zone).in_words()}"


def _values(recipe: Recipe) -> str:
    channels = dict.fromkeys(value.channel for value in recipe.values)
    parts: list[str] = []
    for channel in channels:
        named = [_value(recipe, value) for value in recipe.values if value.channel == channel]
        parts.append(f"{channel + ': ' if channel else ''}{_listed(named)}")
    text = "; ".join(parts)
    if recipe.long.sensor:
        text += f"; the sensor is named in {_columns(recipe, [recipe.long.sensor])}"
    return text[0].upper() + text[1:] + "." if text else "The columns of humidity and temperature are not settled."


def _value(recipe: Recipe, value: ValueColumn) -> str:
    unit = "as a fraction of 1" if value.unit == "fraction" else f"in {value.unit}"
    if value.series:
        return f'{value.quantity} {unit} where {_columns(recipe, [recipe.long.quantity])} says "{value.series}"'
    return f"{value.quantity} {unit} in {_columns(recipe, [value.column])}"


def _columns(recipe: Recipe, columns: Sequence[int]) -> str:
    names = [
        f'"{recipe.header[column - 1]}"' if column <= len(recipe.header) and recipe.header[column - 1] else ""
        for column in columns
    ]
    if all(names) and len(recipe.header) >= recipe.width:
        return f"{'column' if len(columns) == 1 else 'columns'} {_listed(names)}"
    return f"{'column' if len(columns) == 1 else 'columns'} {_listed([str(column) for column in columns])}"


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words) if len(words) < 2 else f"{', '.join(words[:-1])} and {words[-1]}"
