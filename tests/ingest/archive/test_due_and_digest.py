"""What is due, and how it reaches people: text, calendar, and e-mail through a real server on this machine."""

from __future__ import annotations

import datetime as dt
import email
import email.policy
import socket
from typing import Any

import pytest
from aiosmtpd.controller import Controller

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.digest import Change, Digest, send
from isohume.ingest.archive.errors import ArchiveError


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


def due(archive: Archive, kind: str, moment: str) -> dict[str, tuple[str, bool]]:
    return {one.logger: (f"{one.due:%Y-%m-%d}", one.is_overdue) for one in archive.due(at(moment)) if one.kind == kind}


def test_a_file_is_due_so_long_after_the_newest_reading(archive: Archive, files: Any) -> None:
    assert due(archive, "file", "2026-01-20") == {"L01": ("2026-02-02", False)}  # placed on 2 January, every 31 days
    archive.ingest(files.logger_file("2026-01-09T00:00"), name="inside_1.csv")
    assert due(archive, "file", "2026-02-05") == {"L01": ("2026-02-09", False)}
    assert due(archive, "file", "2026-02-20") == {"L01": ("2026-02-09", True)}
    # Taken out: one last file is wanted, and once it came no more.
    archive.put("placements", {"logger": "L01", "from": "2026-01-02T00:00Z", "to": "2026-02-01"})
    assert due(archive, "file", "2026-02-20") == {"L01": ("2026-02-09", True)}
    archive.ingest(files.logger_file("2026-01-30T00:00", 192), name="inside_2.csv")
    assert due(archive, "file", "2026-06-01") == {}


def test_calibrations_and_batteries_run_out(archive: Archive) -> None:
    found = due(archive, "calibration", "2026-06-01")
    assert found["L01"] == ("2026-01-02", True)  # never calibrated
    assert found["L02"] == ("2028-01-01", False)  # after 24 months
    archive.put("calibrations", {"logger": "L02", "date": "2026-01-01", "valid_until": "2026-05-01"})
    assert due(archive, "calibration", "2026-06-01")["L02"] == ("2026-04-30", True)  # midnight in Berlin
    archive.put("loggers", {"id": "L01", "battery_changed": "2026-01-01T00:00Z", "battery_months": 12})
    assert due(archive, "battery", "2026-06-01") == {"L01": ("2027-01-01", False)}
    archive.put("loggers", {"id": "L01", "retired": True})
    assert "L01" not in due(archive, "calibration", "2026-06-01")


@pytest.fixture
def made(archive: Archive, files: Any) -> Digest:
    archive.ingest(files.logger_file(), name="inside_1.csv")
    archive.put("collection", {"as_of": "2026-03-01T09:00Z"})
    changes = [Change(frame="F01", text="needs reconditioning (too dry), was steady", by=at("2026-03-20"))]
    return archive.digest(since_days=60, changes=changes)


def test_the_text_says_what_is_new_overdue_and_next(made: Digest) -> None:
    text = made.report()
    assert text.startswith("Two rooms (invented), 2025-12-31 to 2026-03-01\n===")
    assert "- F01: needs reconditioning (too dry), was steady" in text
    assert "- inside_1.csv: logger L01, 96 new readings" in text
    overdue = text[text.index("Overdue") : text.index("Due next")]
    assert "A file of logger L01 (frame F01) is expected by 3 Feb 2026" in overdue
    assert made.document()["due"][0]["overdue"] is True


def test_the_calendar_is_well_formed_and_stable(made: Digest) -> None:
    text = made.calendar()
    # RFC 5545: lines end with CR LF (3.1), are folded at 75 octets (3.1), and commas in texts are escaped (3.3.11).
    assert text.endswith("END:VCALENDAR\r\n")
    assert "\n" not in text.replace("\r\n", "")
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    unfolded = text.replace("\r\n ", "")
    assert unfolded.count("BEGIN:VEVENT") == unfolded.count("END:VEVENT") == len(made.due) + 1
    assert "SUMMARY:F01: needs reconditioning (too dry)\\, was steady" in unfolded
    assert "DTSTART;VALUE=DATE:20260320" in unfolded
    uids = [line for line in unfolded.split("\r\n") if line.startswith("UID:")]
    assert len(set(uids)) == len(uids)
    assert made.calendar() == text


class Inbox:
    """Keeps what arrives."""

    def __init__(self) -> None:
        self.mails: list[tuple[list[str], bytes]] = []

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802 - the name it looks for
        self.mails.append((envelope.rcpt_tos, envelope.content))
        return "250 Message accepted"


def test_the_digest_arrives_with_its_calendar(made: Digest) -> None:
    inbox = Inbox()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = Controller(inbox, hostname="127.0.0.1", port=port)
    server.start()
    try:
        mail = made.message(sender="isohume@museum.example", to=["conservator@museum.example"])
        send(mail, host="127.0.0.1", port=port, starttls=False)
        with pytest.raises(ArchiveError, match="the digest was not sent"):  # no encryption where it was asked for
            send(mail, host="127.0.0.1", port=port, starttls=True)
    finally:
        server.stop()
    ((to, content),) = inbox.mails
    assert to == ["conservator@museum.example"]
    arrived = email.message_from_bytes(content, policy=email.policy.default)
    assert arrived["Subject"] == "Two rooms (invented): 2026-03-01"
    body, calendar = arrived.iter_parts()
    assert body.get_content().replace("\r\n", "\n").strip() == made.report().strip()
    assert calendar.get_content_type() == "text/calendar"
    assert calendar.get_filename() == "due.ics"


def test_a_server_that_is_not_there_is_said(made: Digest) -> None:
    with pytest.raises(ArchiveError, match=r"mail server 127\.0\.0\.1:1"):
        send(made.message(sender="a@b.example", to=["c@d.example"]), host="127.0.0.1", port=1, starttls=False)
