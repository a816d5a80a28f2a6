"""What every operation on an archive works with: its folder, its register, its two stores, and who is at work."""

from __future__ import annotations

import copy
import datetime as dt
import json
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Self
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive import trail
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.files import StepHook, no_hook
from isohume.ingest.archive.models import Collection
from isohume.ingest.archive.originals import Originals
from isohume.ingest.archive.readings_store import ReadingsStore
from isohume.ingest.archive.session import Register

DESCRIPTION = "archive.toml"
REGISTER_FILE = "register.sqlite3"
FOLDER_FORMAT = 1  # of the folder's own layout; the register has its own version


def utc_now() -> dt.datetime:
    """Return the present moment."""
    return dt.datetime.now(dt.UTC)


@dataclass(frozen=True, slots=True)
class Description:
    """What `archive.toml` says.

    Attributes
    ----------
    archive_id : str
        The same as in the register: a folder and a register that do not belong together are refused.
    folder_format : int
        Version of the folder's layout.
    register : str
        Address of a register elsewhere (PostgreSQL, without its password); "" for the file in the folder.
    """

    archive_id: str
    folder_format: int = FOLDER_FORMAT
    register: str = ""

    @classmethod
    def read(cls, folder: Path) -> Description:
        """Read the description of an archive folder.

        Raises
        ------
        ArchiveError
            The file is not what isohume writes.
        """
        path = folder / DESCRIPTION
        try:
            values = tomllib.loads(path.read_text(encoding="utf-8"))
            return cls(str(values["archive_id"]), int(values["folder_format"]), str(values["register"]))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError, KeyError, ValueError) as error:
            raise ArchiveError(
                str(path),
                found=f"{type(error).__name__}: {error}",
                expected="the three lines archive_id, folder_format and register",
                remedy="Take the file from a backup.",
            ) from error

    def text(self) -> str:
        """Return the file's text."""
        return (
            "# An isohume archive. Do not edit; keep this folder whole, and back it up with `isohume backup`.\n"
            f"archive_id = {json.dumps(self.archive_id)}\n"
            f"folder_format = {self.folder_format}\n"
            f"register = {json.dumps(self.register)}\n"
        )


class Holdings:
    """An open archive, as its operations see it.

    Parameters
    ----------
    folder : Path
        The archive's folder.
    register : Register
        Its database.
    by : str
        Who is at work: stands in the audit trail.
    now : callable
        Returns the present moment.
    on_step : callable
        Told each step of a write; a test may end the process there.
    remarks : tuple of str
        What a person should know about where the archive lies.
    """

    def __init__(
        self,
        folder: Path,
        register: Register,
        *,
        by: str,
        now: Callable[[], dt.datetime] = utc_now,
        on_step: StepHook = no_hook,
        remarks: tuple[str, ...] = (),
    ) -> None:
        self.folder, self.register = folder, register
        self.by, self.now, self.on_step, self.remarks = by, now, on_step, remarks
        self.originals = Originals(folder / "originals", on_step=on_step)
        self.documents = Originals(folder / "documents", on_step=on_step)
        self.papers = Originals(folder / "papers", on_step=on_step)
        self.readings = ReadingsStore(folder / "readings", on_step=on_step)

    def acting_as(self, name: str) -> Self:
        """Return the same archive with another person at work: their name stands in the audit trail."""
        acting = copy.copy(self)
        acting.by = name
        return acting

    def collection(self, session: Session) -> Collection:
        """Return the row that says whose archive this is."""
        return session.scalars(sa.select(Collection)).one()

    def time_zone(self, session: Session) -> ZoneInfo:
        """Return the site's time zone."""
        return ZoneInfo(self.collection(session).time_zone)

    def note(
        self,
        session: Session,
        action: str,
        kind: str,
        key: str,
        *,
        before: dict[str, object] | None = None,
        after: dict[str, object] | None = None,
    ) -> None:
        """Add a line to the audit trail."""
        trail.note(session, time=self.now(), by=self.by, action=action, kind=kind, key=key, before=before, after=after)
