"""From the lines of a file to the recipe that reads it, and to the questions it leaves open."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from isohume.ingest.calendar_columns import TimeFound
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.column_units import numbers_of
from isohume.ingest.date_order import possible_orders, settle_order
from isohume.ingest.dialect import DELIMITER_NAMES, Dialect, find_dialect
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.lines import SampleLine, TextLines
from isohume.ingest.long_layout import find_by_quantity, find_sensor_column
from isohume.ingest.moments import ORDERS, DateOrder
from isohume.ingest.questions import Answers, Choice, Question
from isohume.ingest.recipe import WRITTEN_ZONE, LongLayout, Recipe, TimeRecipe, ValueColumn
from isohume.ingest.region import Table, find_table
from isohume.ingest.time_columns import find_time
from isohume.ingest.value_columns import ValuesFound, find_values
from isohume.ingest.written_time import cell_name, time_texts

_ZONE_LINE = re.compile(
    r"(?:time\s?zone|zeitzone|fuseau\s?horaire|tijdzone|zona\s?horaria|fuso\s?orario|tidszone|tidssone|tidszon|"
    r"aikavyohyke|aikavyöhyke|utc[\s-]?offset)[\s:=;,]+([A-Za-z0-9_+\-−:/ ]+)",
    re.IGNORECASE,
)
LONGEST_PREAMBLE = 3000
ORDER_LABELS = {"day-first": "day, month, year", "month-first": "month, day, year", "year-first": "year, month, day"}
# Offered first when a zone is asked for; any other may be named.
COMMON_ZONES = ("UTC", "Europe/Berlin", "Europe/London", "America/New_York", "+01:00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Detection:
    """The recipe found for a file, what it leaves open, and what the reader should know."""

    recipe: Recipe
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


def detect(
    lines: TextLines, *, file: str, encoding: str, time_zone: str | None, answers: Answers, sheet: str = ""
) -> Detection:
    """Find the recipe of a file.

    Raises
    ------
    LoggerFileError
        It holds no table of readings, no time, or neither humidity nor temperature.
    """
    sample = lines.sample()
    dialect = find_dialect(sample)
    table = find_table(sample, dialect) if dialect else None
    if dialect is not None and table is None:  # a preamble longer than the usual head
        sample = lines.sample(head_lines=LONGEST_PREAMBLE)
        table = find_table(sample, dialect)
    if dialect is None or table is None:
        raise _no_table(file, sample)
    _refuse_loose_commas(file, table, dialect)
    time = find_time(table, dialect.decimal)
    if time is None:
        raise LoggerFileError(
            file=file,
            line=table.first_row,
            found=" | ".join(table.rows[0]) if table.rows else "",
            expected="a column with the time of each reading",
            remedy="Export the file with date and time, or say in a recipe which columns hold them.",
        )
    values, long = _values(table, dialect, time, answers)
    if not values.values and not values.questions:
        raise _no_values(file, table)
    questions, notes = list(values.questions), list(values.notes)
    order, question = _order(table, dialect, time, lines, answers)
    questions += [question] if question else []
    if (said := answers.get("date_order")) and time.recipe.form == "text" and said != order and not question:
        notes.append(f"The dates of the file can only be {ORDER_LABELS[order]}: the answer {said} was not used.")
    zone, question, note = _zone(table, time, time_zone, answers)
    questions += [question] if question else []
    notes += [note] if note else []
    recipe = Recipe(
        encoding=encoding,
        delimiter=dialect.delimiter,
        decimal=dialect.decimal,
        header=table.header,
        first_row=table.first_row,
        width=dialect.width,
        time=TimeRecipe(
            columns=time.recipe.columns,
            parts=time.recipe.parts,
            form=time.recipe.form,
            order=order,
            zone=zone,
            date_once=time.recipe.date_once,
        ),
        values=values.values,
        long=long,
        sheet=sheet,
    )
    return Detection(recipe=recipe, questions=tuple(questions), notes=tuple(notes))


def _refuse_loose_commas(file: str, table: Table, dialect: Dialect) -> None:
    """Refuse "45,2,21,3": where commas separate cells and decimals alike, no rule tells them apart.

    Raises
    ------
    LoggerFileError
        The columns come in pairs of whole numbers whose second is a decimal.
    """
    if dialect.delimiter != "," or dialect.decimal != ".":
        return
    places = [place for place, kind in enumerate(table.kinds) if kind == "number"]
    columns = [[row[place] for row in table.rows if place < len(row) and row[place]] for place in places]
    pairs = list(zip(columns[0::2], columns[1::2], strict=False))
    if len(columns) % 2 or not pairs or places != list(range(places[0], places[0] + len(places))):
        return
    n_named = len(table.header)
    if n_named and n_named != len(table.kinds) - len(pairs):
        return
    if all(_is_whole_and_decimal(whole, decimal) for whole, decimal in pairs):
        raise LoggerFileError(
            file=file,
            line=table.first_row,
            found=",".join(table.rows[0]),
            expected="a decimal mark that differs from the comma between the cells",
            remedy="Export with semicolons between the cells, with decimal points, or with quotation marks.",
        )


def _is_whole_and_decimal(whole: Sequence[str], decimal: Sequence[str]) -> bool:
    """Whether two columns are the two sides of a decimal comma: the second has one length and most digits."""
    same_length = len({len(text) for text in decimal}) == 1 and all(text.isdigit() for text in decimal)
    return same_length and len(decimal[0]) <= 2 and len(set(decimal)) >= 5 and all("." not in text for text in whole)


def _values(table: Table, dialect: Dialect, time: TimeFound, answers: Answers) -> tuple[ValuesFound, LongLayout]:
    taken = time.recipe.columns
    if by_quantity := find_by_quantity(table, dialect.decimal, taken, answers):
        return by_quantity.found, by_quantity.long
    sensor = find_sensor_column(table, taken)
    columns = [
        numbers_of(table.rows, position + 1, table.headings[position], dialect.decimal)
        for position, kind in enumerate(table.kinds)
        if kind == "number" and position + 1 not in (*taken, sensor)
    ]
    found = find_values(columns, answers)
    return ValuesFound(values=_needed(found.values), questions=found.questions, notes=found.notes), LongLayout(
        sensor=sensor
    )


def _needed(values: Sequence[ValueColumn]) -> tuple[ValueColumn, ...]:
    """Leave out the dew point of channels whose humidity is measured."""
    humid = {value.channel for value in values if value.quantity == "relative humidity"}
    return tuple(value for value in values if value.quantity != "dew point" or value.channel not in humid)


def _order(
    table: Table, dialect: Dialect, time: TimeFound, lines: TextLines, answers: Answers
) -> tuple[DateOrder, Question | None]:
    parts = time.recipe.parts
    if time.recipe.form != "text" or ("date" not in parts and "moment" not in parts):
        return "year-first", None
    once = time.recipe.date_once  # then few rows carry a date: all of them decide
    texts = (
        _whole_column(lines, table, dialect, time.recipe).drop_nulls()
        if once
        else _sample_texts(table, dialect, time.recipe)
    )
    orders = possible_orders(texts.drop_nulls().to_list())
    if len(orders) == 1:
        return orders[0], None
    answer = next((order for order in ORDERS if order == answers.get("date_order")), None)
    stated = next((h.order for c in time.recipe.columns if (h := table.headings[c - 1]).order in orders), None)
    settled = answer or stated or settle_order(texts, orders, with_offset=time.with_offset)
    if settled is None and not once and len(texts) < lines.n_lines:
        whole = _whole_column(lines, table, dialect, time.recipe)
        settled = settle_order(whole, orders, with_offset=time.with_offset)
    if settled:
        return settled, None
    example = texts.drop_nulls()[0] if texts.null_count() < len(texts) else ""
    question = Question(
        id="date_order",
        text=f'In which order does "{example}" give day and month? All dates of the file fit both.',
        choices=tuple(Choice(value=order, label=ORDER_LABELS[order]) for order in orders),
    )
    return orders[0], question


def _sample_texts(table: Table, dialect: Dialect, time: TimeRecipe) -> pl.Series:
    rows = [row for row in table.rows if len(row) >= dialect.width]
    cells = pl.DataFrame(
        {cell_name(column): [row[column - 1] or None for row in rows] for column in time.columns},
        schema={cell_name(column): pl.String for column in time.columns},
    )
    return time_texts(cells, time)


def _whole_column(lines: TextLines, table: Table, dialect: Dialect, time: TimeRecipe) -> pl.Series:
    # Imported here: cells reads by a recipe, and a recipe comes from here.
    from isohume.ingest.cells import cells_of

    body = lines.utf8[lines.offset_of_line(table.first_row) :]
    cells = cells_of(body, delimiter=dialect.delimiter, columns=time.columns, width=dialect.width, first_line=1)
    return time_texts(cells, time)


def _zone(table: Table, time: TimeFound, time_zone: str | None, answers: Answers) -> tuple[str, Question | None, str]:
    if time.recipe.form.startswith("epoch"):
        return "UTC", None, ""
    if time.with_offset:
        return WRITTEN_ZONE, None, ""
    if answer := answers.get("time_zone"):
        return ClockZone.parse(answer).name, None, ""
    stated = next((h.offset for c in time.recipe.columns if (h := table.headings[c - 1]).offset), "")
    stated = stated or _zone_in_preamble(table.preamble)
    given = ClockZone.parse(time_zone).name if time_zone else ""
    if stated:
        zone = ClockZone.parse(stated).name
        differs = bool(given) and given != zone
        note = f"The file says that its clock shows {zone}; {given} was not used." if differs else ""
        return zone, None, note
    if given:
        return given, None, ""
    question = Question(
        id="time_zone",
        text="Which time did the logger's clock show? The file writes times without a zone.",
        choices=tuple(Choice(value=zone, label=ClockZone.parse(zone).in_words()) for zone in COMMON_ZONES),
        control="time zone",
    )
    return "", question, ""


def _zone_in_preamble(preamble: Sequence[str]) -> str:
    for text in preamble:
        if found := _ZONE_LINE.search(text):
            for candidate in (found[1].strip(), found[1].split()[0] if found[1].split() else ""):
                try:
                    return ClockZone.parse(candidate).name
                except ValueError:
                    continue
    return ""


def _no_table(file: str, sample: Sequence[SampleLine]) -> LoggerFileError:
    first = next((line for line in sample if line.text.strip()), None)
    return LoggerFileError(
        file=file,
        line=first.number if first else None,
        found=first.text if first else "blank lines",
        expected=f"rows with a time and at least one number, separated by {', '.join(DELIMITER_NAMES.values())}",
        remedy="Is it the file that the logger's software exports as text, CSV or .xlsx?",
    )


def _no_values(file: str, table: Table) -> LoggerFileError:
    headings = [heading.text for heading in table.headings if heading.text]
    return LoggerFileError(
        file=file,
        line=table.first_row,
        found=f"columns {', '.join(headings)}" if headings else "no column that could be",
        expected="relative humidity, temperature or dew point",
        remedy="Export these columns, or say in a recipe which column holds which.",
    )
