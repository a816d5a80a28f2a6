"""The archive: one object to open, whose methods are what a person or a page can do with it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Self

from isohume.ingest.archive import creating, editing, register_toml
from isohume.ingest.archive.files import StepHook, no_hook
from isohume.ingest.archive.holdings import Holdings, utc_now
from isohume.ingest.archive.locate import default_folder, network_share_remark
from isohume.ingest.archive.register_toml import LoadSummary
from isohume.ingest.archive.versions import NEWEST, migrate, version_of

SOMEBODY = "local"  # who works at this machine without having said a name


class Archive(Holdings):
    """An open archive. Use `Archive.open` or `Archive.create`; it is a context manager.

    Examples
    --------
    >>> with Archive.create(folder) as archive:  # doctest: +SKIP
    ...     archive.load_register(Path("register.toml"))
    ...     archive.ingest(Path("north_gallery_2026-03.csv"))
    """

    @classmethod
    def create(
        cls,
        folder: Path | None = None,
        *,
        register_url: str = "",
        by: str = SOMEBODY,
        now: Callable[[], dt.datetime] = utc_now,
        on_step: StepHook = no_hook,
    ) -> Self:
        """Make a new archive and open it.

        Parameters
        ----------
        folder : Path or None
            New or empty; None for the default of the platform or of ISOHUME_ARCHIVE.
        register_url : str
            "" keeps the register in the folder; `postgresql+psycopg://host/database` serves a team. A password
            is not written down: give it by PGPASSWORD or a password file.
        by : str
            Who is at work.

        Raises
        ------
        ArchiveError
            The folder or database holds something else, or cannot be written.
        """
        folder = default_folder() if folder is None else folder
        creating.create(folder, register_url=register_url, on_step=on_step)
        return cls.open(folder, register_url=register_url, by=by, now=now, on_step=on_step)

    @classmethod
    def open(
        cls,
        folder: Path | None = None,
        *,
        register_url: str = "",
        by: str = SOMEBODY,
        now: Callable[[], dt.datetime] = utc_now,
        on_step: StepHook = no_hook,
    ) -> Self:
        """Open an archive; one of an older version is backed up and brought up to date first.

        Raises
        ------
        ArchiveMissingError
            There is none.
        NewerArchiveError
            A newer isohume wrote it.
        """
        folder = default_folder() if folder is None else folder
        register = creating.open_register(folder, register_url=register_url)
        remark = network_share_remark(folder) if register.is_sqlite else ""
        archive = cls(folder, register, by=by, now=now, on_step=on_step, remarks=(remark,) if remark else ())
        if version_of(register) != NEWEST:
            migrate(register, on_step=on_step)
        return archive

    def close(self) -> None:
        """Release the register."""
        self.register.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    # The register

    def load_register(self, path: Path) -> LoadSummary:
        """Load a collection described in TOML; what is there stays, what differs is changed, in one transaction."""
        document = register_toml.read_description(path)
        with self.register.writing() as session:
            return register_toml.load(self, session, document, place=path.name)

    def export_register(self) -> str:
        """Return the collection's description as TOML."""
        with self.register.reading() as session:
            return register_toml.export(self, session)

    def records(self, kind: str) -> list[dict[str, Any]]:
        """Return all records of a kind (`frames`, `rooms`, `loggers`, `placements`, …) as plain values."""
        with self.register.reading() as session:
            return editing.records(self, session, kind)

    def put(self, kind: str, values: Mapping[str, Any], *, place: str = "register") -> editing.Change:
        """Add a record, or change the given fields of the one with the same key."""
        with self.register.writing() as session:
            editor = editing.Editor(self, session, place=place)
            change = editor.put(kind, values)
            editor.finish()
            return change

    def remove(self, kind: str, key: Mapping[str, Any]) -> None:
        """Remove one record; the audit trail keeps its last state."""
        with self.register.writing() as session:
            editing.Editor(self, session, place="register").remove(kind, key)
