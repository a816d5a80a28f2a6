"""Climate records of venues: uploaded for a trial, read like any logger file, never part of the archive."""

from __future__ import annotations

import datetime as dt
import logging
import time
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, BinaryIO, cast

import polars as pl

from isohume.analysis.readings import AirRecord
from isohume.dashboard.received import Received
from isohume.ingest.archive.archive import Archive
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.handover import air_record
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_source

FOLDER = "venue_records"
KEPT_DAYS = 90
MOST_BYTES, MOST_RECORDS = 50_000_000, 20
MOST_DAYS_DRAWN = 1200
READABLE = ("asks", "settled", "refused", "failed")
JOINED = "all"
log = logging.getLogger(__name__)


class NoVenueRecordError(LookupError):
    """There is no such uploaded record, or nothing of it can be used; the message says what to do."""


@dataclass(frozen=True, slots=True)
class Place:
    """One series of an uploaded record: a channel of one of its files.

    Attributes
    ----------
    key : str
        Names it in an address.
    label : str
        Names it for people.
    """

    key: str
    label: str


class VenueRecords:
    """The uploaded records of one archive's loans, each under a name of our own and a state that survives restarts.

    Parameters
    ----------
    archive : Archive
    """

    def __init__(self, archive: Archive) -> None:
        self.received = Received(archive.folder, FOLDER)

    def take(self, name: str, stream: BinaryIO, *, loan: str, by: str) -> str:
        """Store an upload for a loan; returns its id."""
        job = self.received.take(name, stream, by=by)
        self.received.change(job, said={"loan": loan})
        return job

    def of_loan(self, loan: str) -> list[dict[str, Any]]:
        """Return the records uploaded for a loan, the oldest first; what is too old is removed."""
        self.forget_old()
        return [job for job in self.received.jobs() if job["said"].get("loan") == loan]

    def one(self, record_id: str) -> dict[str, Any]:
        """Return one record.

        Raises
        ------
        NoVenueRecordError
            There is none of that id.
        """
        found = self.received.job(record_id)
        if found is None:
            raise NoVenueRecordError("This venue record is no longer here. Upload it again.")
        return found

    def remove(self, record_id: str) -> None:
        """Remove a record: its bytes and what was read of it."""
        self.one(record_id)
        self.received.set_aside(record_id)
        self.received.change(record_id, said={}, found={}, told="")

    def forget_old(self, now: float | None = None) -> None:
        """Remove what was uploaded more than 90 days ago."""
        limit = (now or time.time()) - KEPT_DAYS * 86_400
        for job in self.received.jobs():
            if job["received"] < limit:
                self.remove(job["id"])

    def say(self, record_id: str, said: dict[str, Any]) -> None:
        """Keep what a person answered or corrected, to be read again."""
        held = self.one(record_id)
        self.received.change(record_id, said={**held["said"], **said}, state="waiting", told="")

    def read(self, record_id: str) -> None:
        """Read a record, and write into its state how it was understood, what it asks, or why it cannot be read."""
        held = self.one(record_id)
        self.received.change(record_id, state="reading")
        try:
            readings = self._readings(held)
        except LoggerFileError as error:
            self.received.change(record_id, state="refused", told=str(error))
            return
        except Exception as error:  # whatever an upload makes go wrong is shown beside it
            log.exception("the venue record %s could not be read", record_id)
            self.received.change(record_id, state="failed", told=f"{type(error).__name__}: {error}")
            return
        questions = [(reading.file, question) for reading in readings for question in reading.questions]
        found = {
            "files": [_told(reading) for reading in readings if reading.is_settled],
            "questions": [
                {"file": file, "id": one.id, "text": one.text, "control": one.control,
                 "choices": [[choice.value, choice.label] for choice in one.choices]}
                for file, one in questions
            ],
            "places": [[place.key, place.label] for place in places_of(readings)],
        }  # fmt: skip
        if questions:
            self.received.change(record_id, state="asks", found=found, told="")
        elif not found["places"]:
            told = "It holds no relative humidity. Ask the venue for the humidity of this logger, too."
            self.received.change(record_id, state="refused", found=found, told=told)
        else:
            self.received.change(record_id, state="settled", found=found, told="")

    def record(self, record_id: str, place: str) -> AirRecord:
        """Return one series of a record as analysis takes it.

        Raises
        ------
        NoVenueRecordError
            The record or the series is not there, or a question of it is open.
        """
        held = self.one(record_id)
        if held["state"] != "settled":
            raise NoVenueRecordError(f"{held['name']} is not understood yet. Answer its questions first.")
        readings = self._readings(held)
        known = places_of(readings)
        chosen = place or (known[0].key if len(known) == 1 or known[0].key == JOINED else "")
        if chosen not in {one.key for one in known}:
            listed = "; ".join(one.label for one in known)
            raise NoVenueRecordError(f"{held['name']} holds several series: {listed}. Choose one.")
        return air_record(_table(readings, chosen))

    def _readings(self, held: dict[str, Any]) -> tuple[FileReading, ...]:
        said = held["said"]
        answers = Answers({key: value for key, value in said.get("answers", {}).items() if value})
        data = self.received.path(held["id"]).read_bytes()
        return read_source(data, name=held["name"], time_zone=said.get("time_zone") or None, answers=answers)


def places_of(readings: tuple[FileReading, ...]) -> list[Place]:
    """Return the series with humidity; several files that follow one another come first, as one."""
    settled = [reading for reading in readings if reading.is_settled]
    found = [
        Place(f"{number}:{channel.name}", f"{reading.file}{f', {channel.name}' if channel.name else ''}")
        for number, reading in enumerate(settled)
        for channel in reading.channels
        if reading.table.filter(pl.col("channel") == channel.name)["rh_percent"].is_not_null().any()
    ]
    names = {channel.name for reading in settled for channel in reading.channels}
    if len(settled) > 1 and len(names) == 1 and len(found) == len(settled) and _follow(settled):
        return [Place(JOINED, f"all {len(found)} files, one after the other"), *found]
    return found


def _follow(readings: list[FileReading]) -> bool:
    spans = sorted((cast("dt.datetime", reading.table["time_utc"].min()),
                    cast("dt.datetime", reading.table["time_utc"].max())) for reading in readings)  # fmt: skip
    return all(before[1] <= after[0] for before, after in pairwise(spans))


def _table(readings: tuple[FileReading, ...], place: str) -> pl.DataFrame:
    settled = [reading.table for reading in readings if reading.is_settled]
    if place == JOINED:
        return pl.concat(settled).unique("time_utc", keep="first").sort("time_utc")
    number, _, channel = place.partition(":")
    return settled[int(number)].filter(pl.col("channel") == channel)


def _told(reading: FileReading) -> dict[str, Any]:
    table = reading.table.sort("time_utc")
    return {
        "name": reading.file,
        "words": reading.recipe.in_words(),
        "in_file": reading.ledger.in_file,
        "kept": reading.ledger.kept,
        "rejected": len(reading.ledger.rejected),
        "notes": list(reading.notes),
        "daily": _daily(table),
        "first": str(table["time_utc"].min()),
        "last": str(table["time_utc"].max()),
    }


def _daily(table: pl.DataFrame) -> list[list[Any]]:
    """Return the newest days' mean humidity [%RH] and temperature [°C], for a small picture."""
    days = (
        table.group_by_dynamic("time_utc", every="1d")
        .agg(pl.col("rh_percent").mean(), pl.col("temperature_celsius").mean())
        .tail(MOST_DAYS_DRAWN)
    )
    return [
        [f"{day:%Y-%m-%d}", *(None if value is None else round(value, 2) for value in (rh, celsius))]
        for day, rh, celsius in days.fill_nan(None).iter_rows()
    ]
