"""The register's side of an archive: describe, show, edit and export what the collection is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from isohume.ingest.archive import editing, register_sheet, register_toml, setting_up, trail
from isohume.ingest.archive.columns import utc_text
from isohume.ingest.archive.conversion import to_time
from isohume.ingest.archive.digest import Change, Digest, digest
from isohume.ingest.archive.due import Due, due
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.register_toml import LoadSummary


class RegisterAccess(Holdings):
    """What can be done with the register of an open archive; every change is one transaction."""

    def load_register(self, path: Path) -> LoadSummary:
        """Load a collection described in TOML; what is there stays, what differs is changed.

        Raises
        ------
        RegisterError
            Something in it is not what its kind of record requires; the register is unchanged.
        """
        document = register_toml.read_description(path)
        with self.register.writing() as session:
            return register_toml.load(self, session, document, place=path.name)

    def load_frames(self, path: Path) -> LoadSummary:
        """Load frames from a .csv or .xlsx; the columns frame, painting, room and band suffice."""
        table = register_sheet.read_sheet(path)
        with self.register.writing() as session:
            return register_sheet.load_sheet(self, session, table, place=path.name)

    def export_register(self) -> str:
        """Return the collection's description as TOML."""
        with self.register.reading() as session:
            return register_toml.export(self, session)

    def export_frames(self, path: Path) -> None:
        """Write the frames as .csv or .xlsx, in the form that `load_frames` reads."""
        with self.register.reading() as session:
            table = register_sheet.sheet(session)
        register_sheet.write_sheet(table, path)

    def records(self, kind: str) -> list[dict[str, Any]]:
        """Return all records of a kind (`frames`, `rooms`, `loggers`, `placements`, …) as plain values."""
        with self.register.reading() as session:
            return editing.records(session, kind)

    def record(self, kind: str, key: Mapping[str, Any]) -> dict[str, Any] | None:
        """Return the record with the key fields given, None if there is none."""
        with self.register.reading() as session:
            return editing.Editor(self, session, place="register").find(kind, key)

    def put(self, kind: str, values: Mapping[str, Any], *, place: str = "register") -> editing.Change:
        """Add a record, or change the given fields of the one with the same key.

        Parameters
        ----------
        kind : str
            `frames`, `rooms`, `loggers`, `calibrations`, `events`, `loans`, `reviews`, `users`, …
        values : mapping
            As in register.toml; times as dates, datetimes or ISO texts.

        Raises
        ------
        RegisterError
            A field is unknown, a value is not what it holds, or the result is impossible.
        """
        with self.register.writing() as session:
            editor = editing.Editor(self, session, place=place)
            change = editor.put(kind, values)
            editor.finish()
            return change

    def remove(self, kind: str, key: Mapping[str, Any]) -> None:
        """Remove one record; the audit trail keeps its last state."""
        with self.register.writing() as session:
            editing.Editor(self, session, place="register").remove(kind, key)

    def set_up(
        self, records: setting_up.Records, files: Sequence[setting_up.FileToKeep] = (), *, name: str
    ) -> tuple[int, ...]:
        """Put records and keep files, all or nothing; returns the imports. See `take_down`."""
        return setting_up.set_up(self, records, files, name=name)

    def take_down(self) -> str:
        """Undo the newest `set_up`, with its imports; returns its name."""
        return setting_up.take_down(self)

    def newest_set_up(self) -> dict[str, Any] | None:
        """Return name, time, person, records and imports of the newest `set_up` that still stands."""
        with self.register.reading() as session:
            line = setting_up.last_set_up(session)
        if line is None or line.after is None:
            return None
        return {"name": line.key, "time_utc": utc_text(line.time), "by": line.by, **line.after}

    def place_logger(
        self, logger: Mapping[str, Any], *, channel: str = "", frame: str = "", room: str = "", start: dt.datetime
    ) -> None:
        """Say where a logger measured from a moment on; see `setting_up.place_logger`."""
        setting_up.place_logger(self, logger, channel=channel, frame=frame, room=room, start=start)

    def keep_document(
        self,
        source: Path | bytes,
        *,
        name: str = "",
        kind: str = "photograph",
        frame: str = "",
        logger: str = "",
        taken: str | dt.date = "",
        note: str = "",
    ) -> str:
        """Keep a photograph or paper in `documents/`.

        Returns
        -------
        str
            Its SHA-256, by which events refer to it.
        """
        try:
            data = source if isinstance(source, bytes) else source.read_bytes()
        except OSError as error:
            raise RegisterError(
                str(source), found=str(error.strerror), expected="a file that can be read", remedy="Check its name."
            ) from None
        name = name or (source.name if isinstance(source, Path) else "document")
        with self.register.writing() as session:
            sha256 = self.documents.keep(data)
            values = {"sha256": sha256, "name": name, "kind": kind, "n_bytes": len(data), "frame": frame or None,
                      "logger": logger or None, "taken": taken or None, "note": note}  # fmt: skip
            editing.Editor(self, session, place=name).put("documents", values)
        return sha256

    def history(self, kind: str | None = None, key: str | None = None) -> list[dict[str, Any]]:
        """Return the audit trail, oldest first, of everything, of a kind or of one record."""
        with self.register.reading() as session:
            return [
                {"time_utc": utc_text(line.time), "by": line.by, "action": line.action, "kind": line.kind,
                 "key": line.key, "before": line.before, "after": line.after}
                for line in trail.lines(session, kind=kind, key=key)
            ]  # fmt: skip

    def moment(self, text: str) -> dt.datetime:
        """Return the time that a date or time says at the site.

        Raises
        ------
        RegisterError
            It is neither.
        """
        with self.register.reading() as session:
            zone = self.time_zone(session)
        try:
            return to_time(text, zone)
        except ValueError:
            raise RegisterError(
                "time", found=f'"{text}"', expected="a date or time such as 2026-03-01 or 2026-03-01T09:00",
                remedy="Correct it.",
            ) from None  # fmt: skip

    def today(self) -> dt.datetime:
        """Return the moment things are due for: the present, or the pinned one of a demonstration."""
        with self.register.reading() as session:
            return self.collection(session).as_of or self.now()

    def due(self, as_of: dt.datetime | None = None) -> list[Due]:
        """List files that should have come, calibrations that have run out, and batteries."""
        moment = as_of or self.today()
        with self.register.reading() as session:
            return due(session, moment)

    def digest(self, *, since_days: float = 30.0, changes: Sequence[Change] = ()) -> Digest:
        """Gather what is new and due; what findings say is given by the caller."""
        moment = self.today()
        with self.register.reading() as session:
            return digest(session, since=moment - dt.timedelta(days=since_days), as_of=moment, changes=changes)
