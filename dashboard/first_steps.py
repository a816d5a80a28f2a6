"""From two files to a frame: which was inside and which the room, and the records that follow from it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import pandas as pd
import polars as pl

from isohume.dashboard.components.file_controls import only_logger_open
from isohume.dashboard.file_names import patterns_apart
from isohume.dashboard.jobs import Worker, said_of
from isohume.dashboard.understood import understood
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.setting_up import FileToKeep
from isohume.ingest.archive.settling import Said

INSIDE, ROOM, NEITHER = "inside", "room", "neither"
# Of two records the room is the one that moves more in a day; below this ratio they are too alike to tell.
CLEARLY_LIVELIER = 1.3
ALONE = (
    "One file from inside the frame and one from its room are needed; the one alone where a registered logger "
    "measures the room already."
)


class FirstStepsError(ValueError):
    """Something is missing before a frame can be made; the message says what."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """One channel of a received file, that may be the inside or the room.

    Attributes
    ----------
    job, file, channel : str
        Which.
    daily : float or None [%RH]
        Median range of a day.
    first : datetime
        Its first reading.
    """

    job: str
    file: str
    channel: str
    mean: float | None
    daily: float | None
    first: dt.datetime
    last: dt.datetime

    @property
    def name(self) -> str:
        """How it is called on the page."""
        return f"{self.file}, channel {self.channel}" if self.channel else self.file


def records_of(jobs: Sequence[Mapping[str, Any]]) -> list[Record]:
    """Return what files of unknown loggers hold that can be the air of a frame or of a room."""
    return [
        Record(
            job=job["id"], file=one["name"], channel=picture["channel"], mean=picture["mean"], daily=picture["daily"],
            first=pd.Timestamp(picture["first"]).to_pydatetime(), last=pd.Timestamp(picture["last"]).to_pydatetime(),
        )
        for job in jobs
        if job["state"] == "asks" and only_logger_open(dict(job))
        for one in job["found"]["files"]
        for picture in one["pictures"]
        if picture["n"] and picture["quantity"] == "relative humidity"
    ]  # fmt: skip


def guess(records: Sequence[Record]) -> tuple[dict[int, str], str]:
    """Guess which record is inside and which is the room, and say why; a person decides.

    Returns
    -------
    dict, str
        Side by place in `records`, empty where they are too alike; and the reason in words.
    """
    told = [(record.daily, place) for place, record in enumerate(records) if record.daily is not None]
    if len(records) < 2 or len(told) < 2:
        return {}, ALONE if len(records) < 2 else ""
    low, calm = min(told)
    high, lively = max(told)
    figures = f"{records[calm].name} moves {low:.1f} %RH in a usual day, {records[lively].name} {high:.1f} %RH"
    if high < CLEARLY_LIVELIER * max(low, 0.1):
        return {}, f"They are too alike to guess which is which: {figures}."
    sides = {place: (INSIDE if d * d < low * high or d == low else ROOM) for d, place in told}
    return sides, f"Guessed: the livelier record is the room. {figures}. Turn them round if it is the other way."


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a person said about a new frame.

    Attributes
    ----------
    frame, painting, room : str
        Its number or name, what it holds, and where it hangs.
    band : (low, high) or None [%RH]
    conditioned : float or None [%RH]
    time_zone, collection : str
        Of the site, and its name; "" leaves them as they are.
    sides : mapping of Record to str
        Inside, room or neither.
    """

    frame: str
    room: str
    painting: str = ""
    band: tuple[float, float] | None = None
    conditioned: float | None = None
    time_zone: str = ""
    collection: str = ""
    sides: Sequence[tuple[Record, str]] = field(default_factory=tuple)

    def of_side(self, side: str) -> list[Record]:
        """Return the records of one side."""
        return [record for record, said in self.sides if said == side]


def make(held: Archive, worker: Worker, plan: Plan) -> None:
    """Make frame, room, loggers and placements and keep the files: all of it, or nothing.

    Raises
    ------
    FirstStepsError
        A side or a name is missing, or the frame exists.
    ArchiveError, LoggerFileError
        The archive refuses a record or a file; nothing was made.
    """
    _refuse_incomplete(held, plan)
    inside, room = plan.of_side(INSIDE), plan.of_side(ROOM)
    loggers = _loggers(held, inside, room)
    names = {record.job: record.file for record in (*inside, *room)}
    jobs = {job["id"]: job for job in worker.received.jobs() if job["id"] in names}
    files = [
        FileToKeep(
            data=worker.received.path(job_id).read_bytes(),
            name=job["name"],
            said=Said(**{**said_of(job), "logger": loggers[job_id]}),
        )
        for job_id, job in jobs.items()
    ]
    firsts = {
        (job_id, *key): first
        for (job_id, job), file in zip(jobs.items(), files, strict=True)
        for key, first in _first_readings(held, file, said_of(job)["time_zone"] or plan.time_zone).items()
    }
    first = min(firsts[record.job, record.file, record.channel] for record in (*inside, *room))
    records: list[tuple[str, dict[str, Any]]] = []
    if collection := {k: v for k, v in (("name", plan.collection), ("time_zone", plan.time_zone)) if v}:
        records.append(("collection", collection))
    if held.record("rooms", {"id": plan.room}) is None:
        records.append(("rooms", {"id": plan.room}))
    records.append(
        ("frames", {"id": plan.frame, "painting": plan.painting, "lifecycle": "hanging",
                    "band": list(plan.band) if plan.band else None, "conditioned_percent": plan.conditioned})
    )  # fmt: skip
    records.append(("locations", {"frame": plan.frame, "room": plan.room, "from": first}))
    records += _loggers_and_placements(plan, jobs, loggers, firsts)
    imports = held.set_up(records, files, name=f"frame {plan.frame}")
    for job_id, import_id, file in zip(jobs, imports, files, strict=True):
        found = understood(held.preview(file.data, name=file.name), file.data)
        worker.received.change(job_id, state="kept", import_id=import_id, told="kept", found=found)
        worker.received.path(job_id).unlink(missing_ok=True)  # the archive holds the originals now


def _refuse_incomplete(held: Archive, plan: Plan) -> None:
    missing = [
        words
        for words, is_there in (
            ("a name or number for the frame", plan.frame),
            ("the room it hangs in", plan.room),
            ("which file is from inside the frame", plan.of_side(INSIDE)),
            ("which file is from its room", plan.of_side(ROOM) or is_measured(held, plan.room)),
        )
        if not is_there
    ]
    if missing:
        raise FirstStepsError(f"Still missing: {'; '.join(missing)}. Nothing was made yet.")
    channels = {(record.job, record.channel) for record in plan.of_side(INSIDE)}
    if channels & {(record.job, record.channel) for record in plan.of_side(ROOM)}:
        raise FirstStepsError("One record cannot be inside and in the room. Nothing was made yet.")
    for side in (INSIDE, ROOM):
        _refuse_two_at_once(plan.of_side(side), side)
    if held.record("frames", {"id": plan.frame}) is not None:
        raise FirstStepsError(f"There is a frame {plan.frame} already. Give this one another name or number.")


def _refuse_two_at_once(records: Sequence[Record], side: str) -> None:
    """Refuse two records of one side over the same time: one air has one record in these first steps."""
    told = sorted(records, key=lambda record: record.first)
    for earlier, later in pairwise(told):
        if later.first < earlier.last:
            where = "from inside the frame" if side == INSIDE else "from the room"
            raise FirstStepsError(
                f"{earlier.name} and {later.name} were logged at the same time, and both are said to be {where}. "
                "Say of one that it is neither; a second logger is added in the Register. Nothing was made yet."
            )


def is_measured(held: Archive, room: str) -> bool:
    """Tell whether a logger of the register measured a room: then its file is no part of the first steps."""
    return bool(room) and any(one["room"] == room for one in held.records("placements"))


def _loggers(held: Archive, inside: Sequence[Record], room: Sequence[Record]) -> dict[str, str]:
    """Name a logger for each file: one for all files of a side; a file with both sides is one logger's."""
    taken = {row["id"] for row in held.records("loggers") if not row["retired"]}
    free = (f"L{number:02d}" for number in range(1, 10_000) if f"L{number:02d}" not in taken)
    both = {record.job for record in inside} & {record.job for record in room}
    groups: dict[str, str] = {}
    loggers: dict[str, str] = {}
    for side, records in ((INSIDE, inside), (ROOM, room)):
        for record in records:
            group = "both" if record.job in both else side
            groups[group] = groups.get(group) or next(free)
            loggers[record.job] = groups[group]
    return loggers


def _first_readings(held: Archive, file: FileToKeep, time_zone: str) -> dict[tuple[str, str], dt.datetime]:
    """Return when each channel of a file begins, by table and channel, once the zone of the site is known."""
    said = file.said
    found = held.preview(file.data, name=file.name, time_zone=time_zone, recipe=said.recipe, answers=said.answers)
    if found.refused:
        raise FirstStepsError(f"{found.refused[0]} Nothing was made yet.")
    tables = [*(one.reading for one in found.files), *(one.shown for one in found.open)]
    return {
        (table.file, channel): first
        for table in tables
        for channel, first in table.table.group_by("channel").agg(pl.col("time_utc").min()).iter_rows()
    }


def _loggers_and_placements(
    plan: Plan,
    jobs: Mapping[str, Mapping[str, Any]],
    loggers: Mapping[str, str],
    firsts: Mapping[tuple[str, str, str], dt.datetime],
) -> list[tuple[str, dict[str, Any]]]:
    names = list(dict.fromkeys(loggers.values()))
    files = [
        [jobs[job]["name"] for job, logger in loggers.items() if logger == name and job in jobs] for name in names
    ]
    found: list[tuple[str, dict[str, Any]]] = [
        ("loggers", {"id": name, "files": patterns, "retired": False, "time_zone": ""})
        for name, patterns in zip(names, patterns_apart(files), strict=True)
    ]
    for side, where in ((INSIDE, {"frame": plan.frame}), (ROOM, {"room": plan.room})):
        starts: dict[tuple[str, str], dt.datetime] = {}
        for record in plan.of_side(side):
            key, first = (loggers[record.job], record.channel), firsts[record.job, record.file, record.channel]
            starts[key] = min(first, starts.get(key, first))
        found += [
            ("placements", {"logger": logger, "channel": channel, "from": start, **where})
            for (logger, channel), start in starts.items()
        ]
    return found
