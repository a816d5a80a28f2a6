"""A table of the Methods page: on screen, on paper and as a file it is the same rows."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from isohume.analysis.tables import table
from isohume.dashboard.exports import Cell
from isohume.dashboard.formats import number


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its heading with the unit, and the decimals that are printed; None for text."""

    heading: str
    digits: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What a method was to reach, and what it reached.

    Attributes
    ----------
    text : str
        The aim with its limits.
    reached : str
        With unit.
    met : bool
    """

    text: str
    reached: str
    met: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedTable:
    """Rows under headings.

    Attributes
    ----------
    name : str
        In the address of its file.
    caption : str
    columns : tuple of Column
    rows : tuple of tuple of Cell
        Numbers as they are in the source; rounded for print only.
    made_by : str
        Where the rows come from: code, publication, or the command that made them.
    aims : tuple of Aim
    emphasised : tuple of int
        Rows that sum up the others.
    """

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    made_by: str = ""
    aims: tuple[Aim, ...] = ()
    emphasised: tuple[int, ...] = ()

    def headings(self) -> list[str]:
        """Return the headings."""
        return [column.heading for column in self.columns]

    def printed(self) -> list[list[str]]:
        """Return the cells as they are printed."""
        return [[_printed(cell, column) for cell, column in zip(row, self.columns, strict=True)] for row in self.rows]

    def numeric(self) -> list[int]:
        """Return the places of the columns of numbers."""
        return [place for place, column in enumerate(self.columns) if column.digits is not None]


def _printed(cell: Cell, column: Column) -> str:
    if isinstance(cell, str) or cell is None:
        return cell or number(None)
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float)):
        return number(float(cell), column.digits if column.digits is not None else 1)
    return str(cell)


def is_packaged(name: str) -> bool:
    """Tell whether `analysis/data/NAME.csv` is there."""
    return files("isohume.analysis").joinpath("data", f"{name}.csv").is_file()


@cache
def provenance(name: str) -> str:
    """Return the first line of a packaged table: what it holds, and how it was made."""
    text = files("isohume.analysis").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    first = text.splitlines()[0]
    return first.removeprefix("#").strip() if first.startswith("#") else ""


def rows_of(name: str) -> tuple[dict[str, float | str | None], ...]:
    """Return the rows of a packaged table with its numbers as numbers; an empty cell is None."""
    return tuple({key: _value(text) for key, text in row.items()} for row in table(name))


def _value(text: str | None) -> float | str | None:
    if text is None or not text.strip():
        return None
    try:
        value = float(text)
    except ValueError:
        return text
    return value if math.isfinite(value) else None


def headings_of(name: str) -> list[str]:
    """Return the columns of a packaged table."""
    text = files("isohume.analysis").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return next(csv.reader(line for line in text.splitlines() if not line.startswith("#")))
