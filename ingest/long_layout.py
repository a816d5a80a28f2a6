"""Long layouts: a column says which sensor, or which quantity, each row is about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from isohume.ingest.column_units import Numbers, numbers_of
from isohume.ingest.header_words import Quantity
from isohume.ingest.headings import Heading, understand
from isohume.ingest.questions import Answers
from isohume.ingest.recipe import LongLayout, ValueColumn
from isohume.ingest.region import Table
from isohume.ingest.units import unit_of
from isohume.ingest.value_columns import ValuesFound, find_values

# A building has no more sensors in one file than this; more distinct texts are remarks.
MOST_SENSORS = 500
# A name comes back row after row.
FEWEST_ROWS_PER_NAME = 2.0
# Sensors log about as often as each other; a status is "OK" nearly always.
EVEN_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class LongFound:
    """A long layout and the values of its rows."""

    long: LongLayout
    found: ValuesFound


def find_sensor_column(table: Table, taken: Sequence[int]) -> int:
    """Return the column that names the sensor of each row, counted from 1; 0 if there is none."""
    candidates: list[tuple[int, int]] = []
    for position, (kind, heading) in enumerate(zip(table.kinds, table.headings, strict=True)):
        column = position + 1
        if column in taken or kind in ("moment", "date", "clock", "empty") or heading.unit:
            continue
        meaning = heading.meanings[0] if heading.meanings else ""
        names = Counter(row[position] for row in table.rows if position < len(row) and row[position])
        if not names or len(names) > MOST_SENSORS or names.total() < 0.9 * len(table.rows):
            continue
        # A name that never changes is the logger's: the file has one channel.
        if len(names) < 2 or names.total() / len(names) < FEWEST_ROWS_PER_NAME:
            continue
        if meaning == "sensor":
            candidates.append((0, column))
        elif not heading.text and kind == "text" and min(names.values()) >= EVEN_SHARE * max(names.values()):
            candidates.append((1, column))
    return min(candidates)[1] if candidates else 0


def find_by_quantity(table: Table, decimal: str, taken: Sequence[int], answers: Answers) -> LongFound | None:
    """Return the layout of a file whose rows name their quantity; None if they do not."""
    quantity_at = _column_of_quantities(table, taken)
    if not quantity_at:
        return None
    value_at = next(
        (
            position + 1
            for position, kind in enumerate(table.kinds)
            if kind == "number"
            and position + 1 not in (*taken, quantity_at)
            and _may_be_value(table.headings[position])
        ),
        0,
    )
    if not value_at:
        return None
    unit_at = next((p + 1 for p, heading in enumerate(table.headings) if heading.meanings[:1] == ("unit",)), 0)
    sensor_at = find_sensor_column(table, (*taken, quantity_at, value_at))
    found_values: list[ValueColumn] = []
    found = ValuesFound()
    for text in sorted({row[quantity_at - 1] for row in table.rows if quantity_at <= len(row)}):
        heading = understand(text)
        rows = [row for row in table.rows if quantity_at <= len(row) and row[quantity_at - 1] == text]
        unit = next((unit_of(row[unit_at - 1]) for row in rows if unit_at and unit_at <= len(row)), "")
        column = numbers_of(rows, value_at, heading, decimal)
        column = Numbers(column=value_at, heading=heading, values=column.values, cell_unit=unit or column.cell_unit)
        part = find_values([column], answers)
        found = ValuesFound(questions=(*found.questions, *part.questions), notes=(*found.notes, *part.notes))
        found_values += [replace(value, channel=heading.label, heading=text, series=text) for value in part.values]
    if not found_values:
        return None
    return LongFound(
        long=LongLayout(sensor=sensor_at, quantity=quantity_at),
        found=ValuesFound(values=tuple(found_values), questions=found.questions, notes=found.notes),
    )


def _may_be_value(heading: Heading) -> bool:
    return not heading.meanings or heading.meanings[0] in ("value", "other", "quantity")


def _column_of_quantities(table: Table, taken: Sequence[int]) -> int:
    """Find the text column whose distinct texts are names of quantities, humidity among them."""
    wanted: set[Quantity] = {"relative humidity", "dew point", "temperature"}
    for position, kind in enumerate(table.kinds):
        if position + 1 in taken or kind != "text":
            continue
        names = Counter(row[position] for row in table.rows if position < len(row) and row[position])
        if not 1 < len(names) <= MOST_SENSORS or names.total() < FEWEST_ROWS_PER_NAME * len(names):
            continue
        meanings = [understand(name).meanings[:1] for name in names]
        if sum(bool(set(meaning) & wanted) for meaning in meanings) >= max(2, len(names) / 2) and (
            ("relative humidity",) in meanings or ("dew point",) in meanings
        ):
            return position + 1
    return 0
