"""What is new and what is due, for people who do not look every day: text, e-mail, calendar."""

from __future__ import annotations

import datetime as dt
import hashlib
import smtplib
import ssl
from collections.abc import Sequence
from dataclasses import dataclass
from email.message import EmailMessage
from typing import Any
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.due import Due, due
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.models import Collection
from isohume.ingest.archive.models_imports import Import, ImportFile

LINE_OCTETS = 75  # RFC 5545, section 3.1: longer lines of a calendar are folded
SMTP_SECONDS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A frame whose standing is another than before, or that somebody should look at by a date."""

    frame: str
    text: str
    by: dt.datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Digest:
    """What happened in a period, and what is due after it.

    Attributes
    ----------
    collection, time_zone : str
        Whose, and in which zone dates are written.
    since, as_of : datetime (UTC)
        The period.
    imports : tuple of str
        One line for each file that came, or was undone.
    changes : tuple of Change
        What the findings say; given by the caller, who computes them.
    due : tuple of Due
        Files, calibrations, batteries.
    """

    collection: str
    time_zone: str
    since: dt.datetime
    as_of: dt.datetime
    imports: tuple[str, ...]
    changes: tuple[Change, ...]
    due: tuple[Due, ...]

    def report(self) -> str:
        """Return the digest as text."""
        overdue = [one.text for one in self.due if one.is_overdue]
        coming = [one.text for one in self.due if not one.is_overdue]
        sections = (
            ("Frames to look at", [f"{one.frame}: {one.text}" for one in self.changes]),
            ("Files received", list(self.imports)),
            ("Overdue", overdue),
            ("Due next", coming),
        )
        head = f"{self.collection}, {self._day(self.since)} to {self._day(self.as_of)}"
        lines = [head, "=" * len(head)]
        for title, items in sections:
            lines += ["", title, *([f"- {item}" for item in items] or ["- nothing"])]
        return "\n".join(lines)

    def document(self) -> dict[str, Any]:
        """Return the digest as values that JSON can hold."""
        return {
            "collection": self.collection,
            "since_utc": _utc(self.since),
            "as_of_utc": _utc(self.as_of),
            "imports": list(self.imports),
            "changes": [
                {"frame": one.frame, "text": one.text, "by_utc": None if one.by is None else _utc(one.by)}
                for one in self.changes
            ],
            "due": [one.document() for one in self.due],
        }

    def calendar(self) -> str:
        """Return the dates as a calendar file (RFC 5545); the same entry has the same id each time."""
        entries = [(f"{one.kind} {one.logger}", one.due, one.text) for one in self.due]
        entries += [(f"frame {one.frame}", one.by, f"{one.frame}: {one.text}") for one in self.changes if one.by]
        lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//isohume//digest//EN"]
        for key, when, text in entries:
            day = when.astimezone(ZoneInfo(self.time_zone)).date()
            uid = hashlib.sha256(f"{self.collection} {key} {day}".encode()).hexdigest()[:32]
            lines += [
                "BEGIN:VEVENT",
                f"UID:{uid}@isohume",
                f"DTSTAMP:{self.as_of:%Y%m%dT%H%M%SZ}",
                f"DTSTART;VALUE=DATE:{day:%Y%m%d}",
                f"SUMMARY:{_escaped(text)}",
                "TRANSP:TRANSPARENT",
                "END:VEVENT",
            ]
        lines.append("END:VCALENDAR")
        return "".join(f"{folded}\r\n" for line in lines for folded in _folded(line))

    def message(self, *, sender: str, to: Sequence[str]) -> EmailMessage:
        """Return the digest as an e-mail with its calendar attached."""
        mail = EmailMessage()
        mail["Subject"] = f"{self.collection}: {self._day(self.as_of)}"
        mail["From"], mail["To"] = sender, ", ".join(to)
        mail.set_content(self.report())
        mail.add_attachment(self.calendar().encode(), maintype="text", subtype="calendar", filename="due.ics")
        return mail

    def _day(self, time: dt.datetime) -> str:
        return f"{time.astimezone(ZoneInfo(self.time_zone)):%Y-%m-%d}"


def digest(session: Session, *, since: dt.datetime, as_of: dt.datetime, changes: Sequence[Change] = ()) -> Digest:
    """Gather a digest from the register; what the findings say comes from the caller."""
    collection = session.scalars(sa.select(Collection)).one()
    # No upper bound: a demonstration, whose today is pinned, was imported after it.
    received = sa.select(Import).where(sa.or_(Import.received >= since, Import.undone >= since))
    lines: list[str] = []
    for row in session.scalars(received.order_by(Import.id)):
        files = list(session.scalars(sa.select(ImportFile).where(ImportFile.import_id == row.id)))
        told = "; ".join(f"logger {file.logger}, {file.n_new} new readings" for file in files)
        lines.append(f"{row.name}: {told}" + (" (undone)" if row.undone else ""))
    return Digest(
        collection=collection.name or "The collection",
        time_zone=collection.time_zone,
        since=since,
        as_of=as_of,
        imports=tuple(lines),
        changes=tuple(changes),
        due=tuple(due(session, as_of)),
    )


def send(mail: EmailMessage, *, host: str, port: int, user: str = "", password: str = "", starttls: bool) -> None:
    """Hand an e-mail to an SMTP server.

    Raises
    ------
    ArchiveError
        The server cannot be reached or refuses it.
    """
    try:
        with smtplib.SMTP(host, port, timeout=SMTP_SECONDS) as server:
            if starttls:
                server.starttls(context=ssl.create_default_context())
            if user:
                server.login(user, password)
            server.send_message(mail)
    except (OSError, smtplib.SMTPException) as error:
        raise ArchiveError(
            f"mail server {host}:{port}", found=f'"{error}"', expected="a server that takes the message",
            remedy="Check its name, port, user and password; the digest was not sent.",
        ) from error  # fmt: skip


def _utc(time: dt.datetime) -> str:
    return f"{time.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%SZ}"


def _escaped(text: str) -> str:
    for sign, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(sign, escaped)
    return text


def _folded(line: str) -> list[str]:
    """Fold one line of a calendar at its octets; the rest begins with a space."""
    folded, now = [], ""
    for char in line:
        if len((now + char).encode()) > LINE_OCTETS:
            folded.append(now)
            now = " "
        now += char
    return [*folded, now]
