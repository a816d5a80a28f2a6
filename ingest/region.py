"""Where the table begins: the heading and units above the first row, and which heading belongs to which column."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from isohume.ingest.dialect import COMMENT_MARKS, Dialect, is_row
from isohume.ingest.headings import Heading, stated_order, understand
from isohume.ingest.kinds import Kind, commonest, kind_of
from isohume.ingest.lines import SampleLine, split_line, whole_lines
from isohume.ingest.units import Unit, unit_of

# Headings stand close above their rows; rows gone wrong may lie between.
HEADER_REACH = 100
# A line whose cells agree with those of most rows to this degree is a row.
SAME_KINDS = 0.6
# How dates and clocks are patterned below a heading (`TT.MM.JJJJ`, `hh:mm`), and what fills cells without a unit.
PATTERN = re.compile(
    r"(?:(?:d{1,2}|t{1,2}|j{1,4}|m{1,4}|y{2,4}|h{1,2}|s{1,2}|g{1,2}|a{2,4}|å{2,4})[-/.:T ]*){2,7}|[-=*]+|local|utc",
    re.IGNORECASE,
)
# Units of other quantities are short, and no number: V, hPa, g/m³.
SHORT = re.compile(r"[^\d\s]\S{0,7}")
TELLING = {"relative humidity", "temperature", "dew point", "moment", "date", "clock", "year", "value"}
NAMES = ("sensor", "record", "value", "quantity")
TIME_LIKE = {"moment", "date", "clock", "year", "month", "day", "hour", "minute", "second", "day of year"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The table of a file as far as the sample shows it.

    Attributes
    ----------
    kinds : tuple of Kind
        Commonest kind of each column.
    header : tuple of str
        The heading line as it is written, cell by cell; empty if there is none.
    headings : tuple of Heading
        One per column, understood, with the units row taken in.
    first_row : int
        Line of the first row, from 1.
    preamble : tuple of str
        Lines above the heading.
    rows : tuple of tuple of str
        Sample rows in file order.
    """

    kinds: tuple[Kind, ...]
    header: tuple[str, ...]
    headings: tuple[Heading, ...]
    first_row: int
    preamble: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = field(default=(), repr=False)


def find_table(sample: Sequence[SampleLine], dialect: Dialect) -> Table | None:
    """Return the table of a file; None if no line of its head is a row of readings."""
    usual = [cells for _, cells in dialect.rows if len(cells) == dialect.width]
    kinds = tuple(
        commonest([kind_of(cells[column], dialect.decimal) for cells in usual]) for column in range(dialect.width)
    )
    head = [line for line in sample if line.number is not None and line.number <= len(sample)]
    cells_of = {line.number: split_line(line.text, dialect.delimiter) for line in head}
    row_numbers = {
        line.number
        for line in head
        if _agrees([kind_of(cell, dialect.decimal) for cell in cells_of[line.number]], kinds)
    }
    first = min((number for number in row_numbers if number is not None), default=None)
    if first is None:
        return None
    texts = [line.text for line in head if line.number is not None and line.number < first]
    above = [SampleLine(number=last, text=text) for _, last, text in whole_lines(texts)]
    header_at, headings_cells = _find_header(above, dialect)
    units = [
        line
        for line in above
        if line.number is not None
        and header_at < line.number
        and is_units_row(split_line(line.text, dialect.delimiter))
    ]
    second = [line for line in above if header_at and line.number and header_at < line.number and line not in units]
    first_row = _first_row(second, first, header_at, units)
    headings = [understand(text) for text in headings_cells]
    if header_at:
        headings = _with_upper_row(headings, above, header_at, dialect)
    headings = [*headings, *([Heading(text="")] * (dialect.width - len(headings)))]
    n_filled = max((place for place, kind in enumerate(kinds, start=1) if kind != "empty"), default=0)
    if 0 < len(headings_cells) < n_filled:
        headings = [*_aligned(headings[: len(headings_cells)], kinds[:n_filled]), *headings[n_filled:]]
    for line in units:
        headings = _with_units(headings, split_line(line.text, dialect.delimiter))
    rows = [tuple(cells) for line, cells in dialect.rows if line.number is None or line.number >= first_row]
    return Table(
        kinds=kinds,
        header=tuple(headings_cells),
        headings=tuple(headings[: dialect.width]),
        first_row=first_row,
        preamble=tuple(line.text for line in above if not header_at or (line.number or 0) < header_at),
        rows=tuple(rows),
    )


def _agrees(kinds: Sequence[Kind], usual: Sequence[Kind]) -> bool:
    if not is_row(kinds):
        return False
    pairs = [(mine, other) for mine, other in zip(kinds, usual, strict=False) if mine != "empty"]
    same = sum(mine == other for mine, other in pairs)
    return same >= SAME_KINDS * len(pairs) and len(kinds) >= len(usual) / 2


def _first_row(second: Sequence[SampleLine], first: int, header_at: int, units: Sequence[SampleLine]) -> int:
    """Rows begin right below the heading and its units: what cannot be read there is a row gone wrong."""
    if not header_at:
        return first
    below = header_at + 1
    while any(line.number == below for line in units) or any(
        line.number == below and (not line.text.strip() or line.text.lstrip().startswith(COMMENT_MARKS))
        for line in second
    ):
        below += 1
    return min(below, first)


def _find_header(above: Sequence[SampleLine], dialect: Dialect) -> tuple[int, list[str]]:
    best: tuple[int, int, list[str]] = (0, 0, [])
    units_only: tuple[int, int, list[str]] | None = None
    for line in reversed(above[-HEADER_REACH:]):
        text = line.text.strip()
        marks = next((mark for mark in COMMENT_MARKS if text.startswith(mark)), "")
        cells = split_line(text, dialect.delimiter)
        if marks and (understand(cells[0]).meanings[:1] != ("record",) or cells[0].strip() != "#"):
            cells = split_line(text[len(marks) :].strip(), dialect.delimiter)
        if len(cells) < 2 or len(cells) > dialect.width + 2:
            continue
        if is_row([kind_of(cell, dialect.decimal) for cell in cells]):
            continue
        known = [heading for heading in map(understand, cells) if heading.is_known]
        if is_units_row(cells):  # the heading only where there is no other: "Time; %; °C"
            units_only = units_only or (1, line.number or 0, cells)
            continue
        # "Device; 4711" above a table without heading names neither a time nor a value.
        n_known = len(known) if any(heading.unit or set(heading.meanings) & TELLING for heading in known) else 0
        # Nearer lines come first and win ties.
        if n_known > best[0]:
            best = (n_known, line.number or 0, cells)
    n_known, number, cells = best if best[0] or units_only is None else units_only
    if not n_known:
        return _unknown_header(above, dialect)
    while cells and not cells[-1]:
        cells.pop()
    return number, cells[: dialect.width] if len(cells) > dialect.width else cells


def _unknown_header(above: Sequence[SampleLine], dialect: Dialect) -> tuple[int, list[str]]:
    """Take a line of as many texts as the rows have cells for a heading, though no word of it is known."""
    if above:
        cells = split_line(above[-1].text, dialect.delimiter)
        filled = [cell for cell in cells if cell]
        if len(filled) >= max(2, dialect.width - 1) and all(
            kind_of(cell, dialect.decimal) == "text" for cell in filled
        ):
            return above[-1].number or 0, cells
    return 0, []


def is_units_row(cells: Sequence[str]) -> bool:
    """Say whether a line holds units: at least one of ours or a date pattern, and besides only short other ones."""
    filled = [cell.strip("[]() ") for cell in cells if cell]
    n_ours = sum(bool(unit_of(cell) or PATTERN.fullmatch(cell)) for cell in filled)
    return n_ours > 0 and all(unit_of(cell) or PATTERN.fullmatch(cell) or SHORT.fullmatch(cell) for cell in filled)


def _with_units(headings: Sequence[Heading], cells: Sequence[str]) -> list[Heading]:
    result: list[Heading] = []
    for position, heading in enumerate(headings):
        text = cells[position] if position < len(cells) else ""
        unit: Unit = unit_of(text) or heading.unit
        meanings = heading.meanings
        if unit and (not meanings or meanings[0] in NAMES):  # "Room" over °C names a thermometer
            heading = replace(heading, label=heading.text)  # noqa: PLW2901 - the heading as amended
            meanings = ("relative humidity",) if unit in ("%", "fraction") else ("temperature",)
        if set(meanings) & TIME_LIKE and (order := stated_order(text)):
            result.append(replace(heading, unit=unit, order=order))
        else:
            result.append(replace(heading, unit=unit, meanings=meanings))
    return result


def _with_upper_row(
    headings: list[Heading], above: Sequence[SampleLine], header_at: int, dialect: Dialect
) -> list[Heading]:
    """Name channels by the row above ("Inside, , Room"), where headings repeat without it."""
    values = [h for h in headings if h.meanings[:1] in (("relative humidity",), ("temperature",))]
    keys = [(h.meanings[0], h.label, h.statistic) for h in values]
    upper = next((line for line in above if line.number == header_at - 1), None)
    if len(set(keys)) == len(keys) or upper is None:
        return headings
    cells = split_line(upper.text, dialect.delimiter)
    if len([cell for cell in cells if cell]) < 2:
        return headings
    label, named = "", []
    for position, heading in enumerate(headings):
        label = cells[position] if position < len(cells) and cells[position] else label
        is_value = heading.meanings[:1] in (("relative humidity",), ("temperature",), ("dew point",))
        named.append(replace(heading, label=f"{label} {heading.label}".strip()) if is_value else heading)
    return named


def _aligned(headings: list[Heading], kinds: Sequence[Kind]) -> list[Heading]:
    """Place a heading line that is shorter than its rows: the missing headings go where the kinds agree best."""
    missing = len(kinds) - len(headings)
    blank = [Heading(text="")] * missing
    best_score, best = -1, [*headings, *blank]
    # Missing ones at the end are the commonest and win ties, then a missing first one, then in between.
    for position in [len(headings), *range(len(headings))]:
        candidate = [*headings[:position], *blank, *headings[position:]]
        score = sum(_fits(heading, kind) for heading, kind in zip(candidate, kinds, strict=True))
        if score > best_score:
            best_score, best = score, candidate
    return best


def _fits(heading: Heading, kind: Kind) -> int:
    if not heading.meanings:
        return 0
    is_time = bool(set(heading.meanings) & TIME_LIKE) and heading.meanings[0] in TIME_LIKE
    if kind in ("moment", "date", "clock"):
        return 2 if is_time else -2
    if kind == "number":
        return -1 if is_time else 1
    return 0
