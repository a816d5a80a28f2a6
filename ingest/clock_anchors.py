"""When readings dated by a reset clock were really taken, as somebody states it line by line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import polars as pl

from isohume.ingest.clock_changes import BoolArray
from isohume.ingest.clock_order import re_anchor, reset_rows
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.questions import Answers

RESET_LINE = "reset_line_"
HOW = f"--answer {RESET_LINE}%d=2025-03-01T09:30+01:00"


@dataclass(frozen=True, slots=True)
class Restored:
    """Times of a file, those of reset rows restored where somebody said when one of them was taken.

    Attributes
    ----------
    utc : Series of Datetime("us", "UTC")
    moved : (n,) bool or None
        Rows to keep with the flag `re-anchored clock`; None where there are none.
    notes : tuple of str
        What was restored, which answers were of no use, and how to answer for what is still reset.
    """

    utc: pl.Series
    moved: BoolArray | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Anchors:
    """True instants by line of the file."""

    true_utc: Mapping[int, datetime] = field(default_factory=dict)

    @classmethod
    def of(cls, answers: Answers, zone: ClockZone) -> Anchors:
        """Read the answers `reset_line_N`; a time without offset is one of the logger's clock.

        Raises
        ------
        ValueError
            No line number, or not a time.
        """
        found: dict[int, datetime] = {}
        for name, text in answers.given.items():
            if name.startswith(RESET_LINE):
                line = name.removeprefix(RESET_LINE)
                if not line.isdecimal():
                    raise ValueError(f'{name}: expected the number of a line, as in {HOW % 1043}, found "{line}"')
                found[int(line)] = zone.moment(text, name)
        return cls(found)

    def restore(self, utc: pl.Series, lines: pl.Series) -> Restored:
        """Move each run of reset rows that holds a line somebody told about.

        Parameters
        ----------
        utc : Series of Datetime("us", "UTC")
            One per row, in file order; null where a row has no time.
        lines : Series of int
            Line of each row in the original.
        """
        is_reset = reset_rows(utc)
        if not (self.true_utc or is_reset.any()):
            return Restored(utc)
        restored, notes = utc, []
        for line, moment in self.true_utc.items():
            row = lines.index_of(line)
            if row is None or not is_reset[row]:
                notes.append(f"Line {line} was not dated by a reset clock: {RESET_LINE}{line} was not used.")
                continue
            restored = re_anchor(restored, is_reset, row=row, true_utc=moment)
        moved = (restored != utc).fill_null(value=False).to_numpy()
        if moved.any():
            first, last = (restored.filter(pl.Series(moved)).dt.to_string("%Y-%m-%d %H:%M"))[[0, -1]]
            notes.append(f"{int(moved.sum())} readings of a reset clock were restored to {first} to {last} UTC.")
        still = np.flatnonzero(is_reset & ~moved)
        if still.size:
            notes.append(
                f"To restore readings dated by a reset clock, say when one was taken: {HOW % lines[int(still[-1])]}."
            )
        return Restored(restored, moved if moved.any() else None, tuple(notes))
