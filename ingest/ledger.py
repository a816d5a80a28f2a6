"""The account of every row of a file: nothing is dropped without a line number and a reason.

Two identities hold for every file, or the ledger refuses to exist:

- lines in the file = data rows + other lines (preamble, headings, units, comments, blank lines, statistics);
- data rows = kept + duplicate + conflicting + rejected; flagged rows are a part of the kept ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import polars as pl

from isohume.ingest.errors import RowAccountingError

REJECTED_SCHEMA = pl.Schema({"line": pl.UInt32, "column": pl.String, "found": pl.String, "reason": pl.String})

# Kinds of lines that hold no reading, in the order in which notes list them.
OTHER_KINDS = (
    "preamble",
    "heading",
    "units",
    "repeated heading",
    "comment",
    "statistics or footer",
    "blank",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RejectedRow:
    """One data row that gave no reading.

    Attributes
    ----------
    line : int
        Line in the original file, from 1.
    column : str
        Heading (or "column 3") of the cell at fault; "" for the whole row.
    found : str
        Text of that cell.
    reason : str
        Why it gives no reading.
    """

    line: int
    column: str
    found: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CellCounts:
    """What became of one quantity's cells of one channel: usable + empty + unreadable = rows with a readable time."""

    usable: int
    empty: int
    unreadable: int

    @property
    def total(self) -> int:
        """All cells of this quantity and channel."""
        return self.usable + self.empty + self.unreadable


def no_rejected_rows() -> pl.DataFrame:
    """Return an empty table of rejected rows."""
    return pl.DataFrame(schema=REJECTED_SCHEMA)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowLedger:
    """What became of every line of one logger file.

    Attributes
    ----------
    file : str
        Name of the file.
    lines_in_file : int
        Lines, the last one counted even without a line end.
    other_lines : mapping of str to int
        Lines that hold no reading, by kind.
    in_file, kept, flagged, duplicate, conflicting : int
        Data rows; those that became readings; those of the kept with a flag; repeats of an earlier equal row;
        later rows that contradict an earlier one at the same instant.
    rejected : DataFrame
        Columns `line`, `column`, `found`, `reason`: one row for each data row that gave no reading.
    """

    file: str
    lines_in_file: int
    other_lines: Mapping[str, int]
    in_file: int
    kept: int
    flagged: int
    duplicate: int
    conflicting: int
    rejected: pl.DataFrame = field(default_factory=no_rejected_rows)

    def __post_init__(self) -> None:
        """Refuse to exist unless every line is accounted for."""
        others = sum(self.other_lines.values())
        if self.lines_in_file != self.in_file + others:
            raise RowAccountingError(
                f"{self.file}: {self.lines_in_file} lines, but {self.in_file} data rows and {others} other lines"
            )
        settled = self.kept + self.duplicate + self.conflicting + self.rejected.height
        if settled != self.in_file or not 0 <= self.flagged <= self.kept:
            raise RowAccountingError(
                f"{self.file}: {self.in_file} data rows, but {self.kept} kept (of them {self.flagged} flagged), "
                f"{self.duplicate} duplicate, {self.conflicting} conflicting, {self.rejected.height} rejected"
            )

    @property
    def n_rejected(self) -> int:
        """Data rows that gave no reading."""
        return self.rejected.height

    def rejected_rows(self) -> Iterator[RejectedRow]:
        """Yield the rejected rows in the order of the file."""
        for row in self.rejected.iter_rows(named=True):
            yield RejectedRow(**row)

    def reasons(self) -> dict[str, int]:
        """Return how many rows were rejected for each reason, the commonest first."""
        counted = self.rejected.group_by("reason", maintain_order=True).len().sort("len", descending=True)
        return dict(counted.iter_rows())

    def summary(self) -> str:
        """Return the account in one line."""
        text = f"{_rows(self.in_file)} in the file: {self.kept} kept"
        if self.flagged:
            text += f" ({self.flagged} of them flagged)"
        parts = {"duplicate": self.duplicate, "conflicting": self.conflicting, "rejected": self.n_rejected}
        return ", ".join([text, *(f"{count} {name}" for name, count in parts.items() if count)])

    def other_lines_in_words(self) -> str:
        """Return the lines without readings by kind; "" where there are none."""
        counts = [f"{self.other_lines[kind]} {kind}" for kind in OTHER_KINDS if self.other_lines.get(kind)]
        return f"Lines without readings: {', '.join(counts)}." if counts else ""


def _rows(count: int) -> str:
    return "1 data row" if count == 1 else f"{count} data rows"
