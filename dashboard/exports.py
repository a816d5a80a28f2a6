"""Tables for spreadsheets: CSV and XLSX in which no cell can be taken for a formula.

A spreadsheet runs a text cell that begins with one of a few characters as a formula. Every text that leaves us in a
table goes through `neutral`; numbers stay numbers (a minus sign before a number starts no formula).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import pandas as pd
import polars as pl

# OWASP, "CSV Injection": = + - @, tab and carriage return; the full-width forms are read alike by some programs.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
APOSTROPHE = "'"
# A workbook carries the date it was made; a fixed one keeps the same table the same bytes.
WORKBOOK_DATE = datetime(1980, 1, 1, tzinfo=UTC)
MOST_CHARACTERS_IN_A_NAME = 31  # Excel's limit for the name of a sheet
_FORBIDDEN_IN_A_NAME = str.maketrans("", "", "[]:*?/\\'")
WIDEST_COLUMN = 60

Cell = str | float | int | bool | pd.Timestamp | None


def neutral(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula.

    Examples
    --------
    >>> neutral("=1+1"), neutral(" -3 °C"), neutral("Saint with a Ladder")
    ("'=1+1", "' -3 °C", 'Saint with a Ladder')
    """
    return APOSTROPHE + text if text.lstrip(" \u00a0").startswith(FORMULA_STARTS) else text


def neutral_frame(table: pl.DataFrame) -> pl.DataFrame:
    """Return a table whose text columns and headings are neutral."""
    for name in [name for name, kind in table.schema.items() if kind == pl.String]:
        plain = table[name].drop_nulls().unique().to_list()
        safe = {text: neutral(text) for text in plain}
        if any(text != written for text, written in safe.items()):
            table = table.with_columns(pl.col(name).replace(safe))
    return table.rename({name: neutral(name) for name in table.columns})


def csv_bytes(headings: Sequence[str], rows: Sequence[Sequence[Cell]]) -> bytes:
    """Return rows under headings as CSV: comma, UTF-8 with byte order mark (so that Excel reads it), CRLF."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([neutral(heading) for heading in headings])
    writer.writerows([[_written(cell) for cell in row] for row in rows])
    return buffer.getvalue().encode("utf-8-sig")


def xlsx_bytes(sheets: Mapping[str, tuple[Sequence[str], Sequence[Sequence[Cell]]]]) -> bytes:
    """Return tables as a workbook, one sheet each.

    Parameters
    ----------
    sheets : mapping of name to (headings, rows)
        Times are written as UTC without their zone, which a workbook cannot hold: say so in the heading.
    """
    import xlsxwriter

    buffer = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with xlsxwriter.Workbook(buffer, options) as book:
        book.set_properties({"created": WORKBOOK_DATE})
        bold = book.add_format({"bold": True, "bottom": 1})
        moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        for name, (headings, rows) in sheets.items():
            sheet = book.add_worksheet(name.translate(_FORBIDDEN_IN_A_NAME)[:MOST_CHARACTERS_IN_A_NAME])
            sheet.freeze_panes(1, 0)
            for column, heading in enumerate(headings):
                sheet.write_string(0, column, neutral(heading), bold)
                texts = [heading, *(str(row[column]) for row in rows[:200])]
                sheet.set_column(column, column, min(max(map(len, texts)) + 2, WIDEST_COLUMN))
            for line, row in enumerate(rows, start=1):
                for column, cell in enumerate(row):
                    _write(sheet, line, column, cell, moment)
    return buffer.getvalue()


def _written(cell: Cell) -> str | float | int:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return neutral(cell)
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, pd.Timestamp):
        return f"{cell.tz_convert('UTC'):%Y-%m-%dT%H:%M:%SZ}"
    return cell


def _write(sheet: Any, line: int, column: int, cell: Cell, moment: Any) -> None:
    if isinstance(cell, pd.Timestamp):
        sheet.write_datetime(line, column, cell.tz_convert("UTC").tz_localize(None).to_pydatetime(), moment)
    elif isinstance(cell, str) or cell is None or isinstance(cell, bool):
        text = str(_written(cell))
        if text:
            sheet.write_string(line, column, text)
    else:
        sheet.write_number(line, column, cell)
