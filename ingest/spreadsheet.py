"""The sheets of an .xlsx workbook as lines of text, so that they are read by the same rules as any other file."""

from __future__ import annotations

import re
from dataclasses import dataclass

import fastexcel
import polars as pl

from isohume.ingest.errors import LoggerFileError

CELL_SEPARATOR = "\t"
# A clock time without a date comes as a time of the day 0 of the spreadsheet calendar.
DAY_ZERO = r"^(?:1899-12-3[01]|1900-01-00) "
MOST_COLUMNS = 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet: its name, and its rows as tab-separated UTF-8 lines (line 1 is row 1)."""

    name: str
    utf8: bytes


def sheets_of(content: bytes, *, file: str, only: str | None = None) -> tuple[Sheet, ...]:
    """Return the sheets that hold anything.

    Raises
    ------
    LoggerFileError
        The workbook is damaged, or has no sheet of the name wanted.
    """
    try:
        reader = fastexcel.read_excel(content)
        names = [only] if only in reader.sheet_names else list(reader.sheet_names)
        sheets = [(name, reader.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")) for name in names]
    except (fastexcel.FastExcelError, ValueError) as error:
        raise LoggerFileError(
            file=file,
            found=f"a damaged workbook ({str(error).splitlines()[0]})",
            expected="a complete .xlsx",
            remedy="Open it and save it again as .xlsx, or export CSV.",
        ) from None
    filled: list[Sheet] = []
    for name, sheet in sheets:
        if sheet.width > MOST_COLUMNS:
            raise LoggerFileError(
                file=file,
                found=f"{sheet.width} columns in sheet {name}",
                expected=f"no more than {MOST_COLUMNS}",
                remedy="Keep the columns with time, humidity and temperature.",
            )
        if sheet.height and sheet.width:
            filled.append(Sheet(name=name, utf8=_as_lines(sheet.to_polars())))
    return tuple(filled)


def _as_lines(table: pl.DataFrame) -> bytes:
    cells = pl.all().cast(pl.String).str.replace_all(r"[\t\r\n]", " ").str.replace(DAY_ZERO, "").fill_null("")
    lines = table.select(cells).select(pl.concat_str(pl.all(), separator=CELL_SEPARATOR).alias("line"))
    return re.sub(rb"[ \t]+(?=\n|$)", b"", "\n".join(lines["line"].to_list()).encode("utf-8")) + b"\n"
