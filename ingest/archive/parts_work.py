"""The readings that one writing transaction changes: loaded once, written as new parts, switched together."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import polars as pl
import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.files import TEMPORARY_SUFFIX, remove_if_possible
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.merging import Merged
from isohume.ingest.archive.models_imports import Part


class PartsInWork:
    """Logger-years being changed.

    Parameters
    ----------
    holdings, session : Holdings, Session
        The archive, and its writing transaction.
    """

    def __init__(self, holdings: Holdings, session: Session) -> None:
        self.holdings, self.session = holdings, session
        self.changed: dict[tuple[str, int], Merged] = {}
        self.old_paths: set[Path] = set()
        self.new_paths: set[Path] = set()

    def get(self, logger: str, year: int) -> Merged:
        """Return a logger-year as it stands in this transaction."""
        key = (logger, year)
        if key in self.changed:
            return self.changed[key]
        return self.holdings.readings.load(self.session.get(Part, key))

    def put(self, logger: str, year: int, merged: Merged) -> None:
        """Replace a logger-year; nothing is written before `switch`."""
        self.changed[logger, year] = merged

    def join(self, logger: str, rows: pl.DataFrame) -> list[Merged]:
        """Add the rows of one file to the years they belong to, and return those."""
        joined: list[Merged] = []
        for (year,), of_year in rows.group_by(pl.col("time_utc").dt.year(), maintain_order=True):
            merged = self.get(logger, int(str(year))).joined_by(of_year)
            self.put(logger, int(str(year)), merged)
            joined.append(merged)
        return joined

    def switch(self) -> None:
        """Write the changed logger-years and point the register at them; the commit makes it so."""
        for (logger, year), merged in sorted(self.changed.items(), key=lambda item: item[0]):
            part = self.session.get(Part, (logger, year))
            if part is not None:
                self.old_paths |= set(self.holdings.readings.paths(part))
            if merged.in_force.is_empty():
                if part is not None:
                    self.session.delete(part)
                continue
            written = self.holdings.readings.write(logger, year, merged)
            if part is None:
                part = Part(logger=logger, year=year)
                self.session.add(part)
            written.describe(part)
            self.new_paths |= set(self.holdings.readings.paths(part))
            self.holdings.on_step("part switched")
        self.session.flush()

    def clear(self, paths: set[Path]) -> None:
        """Remove parts that nothing points to; one still open elsewhere is swept later."""
        for path in paths:
            remove_if_possible(path)
            self.holdings.on_step("superseded part removed")


@contextmanager
def changing_parts(holdings: Holdings) -> Iterator[PartsInWork]:
    """Open a writing transaction that may change readings: all of it happens, or nothing."""
    work: PartsInWork | None = None
    committed = False
    try:
        with holdings.register.writing() as session:
            sweep(holdings, session)
            work = PartsInWork(holdings, session)
            yield work
            work.switch()
            holdings.on_step("before commit")
        committed = True
        holdings.on_step("committed")
    finally:
        if work is not None:
            kept, gone = (work.new_paths, work.old_paths) if committed else (work.old_paths, work.new_paths)
            work.clear(gone - kept)


def sweep(holdings: Holdings, session: Session) -> int:
    """Remove parts that no register row points to and temporary files: what an interrupted import left.

    Originals are never swept: with a register taken from an older backup, they are all that is left of later imports.

    Returns
    -------
    int
        Files removed.
    """
    named = {path for part in session.scalars(sa.select(Part)) for path in holdings.readings.paths(part)}
    strangers = [path for path in holdings.readings.folder.glob("*/*.parquet") if path not in named]
    for store in (
        holdings.readings.folder,
        holdings.originals.folder,
        holdings.documents.folder,
        holdings.papers.folder,
    ):
        strangers += store.glob(f"*/*{TEMPORARY_SUFFIX}")
    return sum(remove_if_possible(path) for path in strangers)
