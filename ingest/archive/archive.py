"""The archive: one object to open, whose methods are what a person or a page can do with it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Self

import pandas as pd
import polars as pl
import sqlalchemy as sa

from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.ingest.archive import collect, creating, facts, findings, importing, listing
from isohume.ingest.archive.audit import AuditResult, audit
from isohume.ingest.archive.backup import BackupResult, back_up, back_up_register
from isohume.ingest.archive.calibration import Proposal
from isohume.ingest.archive.comparing import compare
from isohume.ingest.archive.files import StepHook, no_hook
from isohume.ingest.archive.findings import Finding
from isohume.ingest.archive.holdings import utc_now
from isohume.ingest.archive.import_results import ImportResult
from isohume.ingest.archive.locate import default_folder, network_share_remark
from isohume.ingest.archive.models import Frame
from isohume.ingest.archive.previewing import Preview, preview
from isohume.ingest.archive.rebuild import Progress, RebuildResult, no_progress, rebuild
from isohume.ingest.archive.register_access import RegisterAccess
from isohume.ingest.archive.settling import Said
from isohume.ingest.archive.undo import UndoResult, undo
from isohume.ingest.archive.versions import NEWEST, migrate, version_of
from isohume.ingest.questions import Answers
from isohume.ingest.recipe import Recipe

SOMEBODY = "local"  # who works at this machine without having said a name


class Archive(RegisterAccess):
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
            kept = back_up_register(folder, register)
            migrate(register, on_step=on_step)
            archive.remarks += (f"The register was brought up to date; as it was before, it is kept in {kept}.",)
        return archive

    def close(self) -> None:
        """Release the register."""
        self.register.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    # Imports

    def ingest(
        self,
        source: Path | bytes,
        *,
        name: str = "",
        logger: str = "",
        time_zone: str = "",
        recipe: Recipe | None = None,
        answers: Answers | None = None,
    ) -> ImportResult:
        """Import one file: whole or not at all.

        Parameters
        ----------
        source : Path or bytes
            The file, or what it holds.
        name : str
            Needed for bytes; for a path its own name.
        logger, time_zone, recipe, answers
            What is known beforehand; otherwise told from the file and the register.

        Returns
        -------
        ImportResult
            With status `asks`, nothing was kept: answer its questions and import again.

        Raises
        ------
        LoggerFileError
            Nothing in it can be read.
        StorageError
            It cannot be stored.
        """
        said = Said(logger=logger, time_zone=time_zone, recipe=recipe, answers=answers or Answers())
        return importing.ingest(self, source, name=name_of(source, name), said=said)

    def preview(
        self,
        source: Path | bytes,
        *,
        name: str = "",
        logger: str = "",
        time_zone: str = "",
        recipe: Recipe | None = None,
        answers: Answers | None = None,
    ) -> Preview:
        """Say what `ingest` with the same arguments would do; nothing is kept."""
        said = Said(logger=logger, time_zone=time_zone, recipe=recipe, answers=answers or Answers())
        return preview(self, source, name=name_of(source, name), said=said)

    def undo(self, import_id: int) -> UndoResult:
        """Take one import out again: the readings are as if it had never come."""
        return undo(self, import_id)

    def imports(self) -> list[dict[str, Any]]:
        """Return all imports, the newest first, with the account of every file."""
        with self.register.reading() as session:
            return listing.imports(session)

    def conflicts(self, logger: str | None = None) -> pl.DataFrame:
        """List the readings that contradict one of an earlier import, beside the one in force."""
        with self.register.reading() as session:
            return listing.conflicts(self, session, logger)

    # What the analysis needs

    def frame_ids(self) -> list[str]:
        """Return the ids of all frames, sorted."""
        with self.register.reading() as session:
            return list(session.scalars(sa.select(Frame.id).order_by(Frame.id)))

    def frame_facts(self, frame_id: str) -> FrameFacts:
        """Return what the register knows of a frame."""
        with self.register.reading() as session:
            return facts.frame_facts(session, frame_id)

    def inside_record(
        self, frame_id: str, start: dt.datetime | None = None, end: dt.datetime | None = None
    ) -> AirRecord | None:
        """Return the air inside a frame, corrected and flagged; None where no logger was ever placed inside."""
        with self.register.reading() as session:
            stays = collect.inside_stays(session, frame_id)
        return collect.record(self, stays, start=start, end=end)

    def outside_record(
        self, frame_id: str, start: dt.datetime | None = None, end: dt.datetime | None = None
    ) -> AirRecord | None:
        """Return the air of the rooms the frame hung in, joined over time; None where none was measured."""
        with self.register.reading() as session:
            stays = collect.outside_stays(session, frame_id)
        return collect.record(self, stays, start=start, end=end)

    def room_record(self, frame_id: str, at: dt.datetime) -> AirRecord | None:
        """Return the air of the room a frame hangs in at a moment, over all time; None where it was not measured."""
        with self.register.reading() as session:
            stays = collect.present_room_stays(session, frame_id, at)
        return collect.record(self, stays, start=None, end=None)

    def as_of(self) -> pd.Timestamp | None:
        """Return the pinned "today" of a demonstration, None for a real collection."""
        with self.register.reading() as session:
            return facts.timestamp(self.collection(session).as_of)

    def compare_loggers(
        self, logger: str, reference: str, start: dt.datetime, end: dt.datetime, *, channel: str = "", of: str = ""
    ) -> Proposal:
        """Propose the calibration of a logger that lay beside a better one; put it with `calibration.record_of`.

        Parameters
        ----------
        logger, reference : str
            Ids of the tested logger and of the better one.
        start, end : datetime
            While they lay side by side.
        channel, of : str
            Channels of the tested and of the better logger, where their files hold several.

        Raises
        ------
        RegisterError
            They share fewer than 24 hours.
        """
        return compare(self, (logger, channel), (reference, of), start, end)

    # Kept findings

    def findings_key(self, frame_id: str) -> str:
        """Return the hash of everything a frame's findings depend on, except the date."""
        with self.register.reading() as session:
            return findings.key(session, frame_id)

    def findings_keys(self) -> dict[str, str]:
        """Return the hashes of all frames at once."""
        with self.register.reading() as session:
            return findings.keys(session)

    def kept_findings(self, name: str, frame_ids: list[str] | None = None) -> dict[str, Finding]:
        """Return what was kept under a name, by frame; compare its key and moment before use."""
        with self.register.reading() as session:
            return findings.kept(session, name, frame_ids)

    def keep_findings(self, name: str, kept: Mapping[str, Finding]) -> None:
        """Keep findings by frame, in place of earlier ones of this name."""
        with self.register.writing() as session:
            findings.keep(self, session, name, kept)

    # Integrity

    def audit(self, *, deep: bool = True, progress: Progress = no_progress) -> AuditResult:
        """Check every hash, account and line of the trail, and (deep) that readings follow from the originals."""
        return audit(self, deep=deep, progress=progress)

    def rebuild(self, *, progress: Progress = no_progress) -> RebuildResult:
        """Make the readings anew from the originals."""
        return rebuild(self, progress=progress)

    def back_up(self, target: Path, *, progress: Progress = no_progress) -> BackupResult:
        """Write the whole archive into one file."""
        return back_up(self, target, progress=progress)


def name_of(source: Path | bytes, name: str) -> str:
    """Return the name of a source in messages."""
    if name:
        return name
    if isinstance(source, bytes):
        raise TypeError("Bytes need a name.")
    return source.name
