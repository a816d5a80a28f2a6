"""A collection's first frame, or a logger nobody registered: records and files in one step, undone in one step."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.columns import utc_text
from isohume.ingest.archive.editing import Editor
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.importing import keep_settled, kept_before
from isohume.ingest.archive.kinds import kind_named
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.models_imports import Import, TrailEntry
from isohume.ingest.archive.parts_work import changing_parts
from isohume.ingest.archive.settling import Said, settle
from isohume.ingest.archive.undo import take_out

SET_UP, TAKEN_DOWN = "set up", "taken down"
Records = Sequence[tuple[str, Mapping[str, Any]]]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileToKeep:
    """A received file, and what was said about it."""

    data: bytes
    name: str
    said: Said = field(default_factory=Said)


def set_up(holdings: Holdings, records: Records, files: Sequence[FileToKeep], *, name: str) -> tuple[int, ...]:
    """Put records and keep files in one transaction: all of it, or nothing.

    Parameters
    ----------
    records : sequence of (kind, values)
        In the order in which one needs the other.
    files : sequence of FileToKeep
        Kept once the records are there.
    name : str
        What was set up: under this name it can be taken down again.

    Returns
    -------
    tuple of int
        The imports.

    Raises
    ------
    RegisterError
        A record is not what its kind requires, or a file leaves a question open or was kept before.
    LoggerFileError
        A file cannot be read.
    """
    with changing_parts(holdings) as work:
        editor = Editor(holdings, work.session, place=name)
        added: list[list[Any]] = []
        for kind, values in records:
            if editor.put(kind, values) == "added":
                key = {field: values.get(field, "") for field in kind_named(kind).key}
                added.append([kind, {k: utc_text(v) if isinstance(v, dt.datetime) else v for k, v in key.items()}])
        editor.finish()
        imports = tuple(_keep(holdings, work, file) for file in files)
        holdings.note(work.session, SET_UP, "collection", name, after={"records": added, "imports": list(imports)})
    return imports


def _keep(holdings: Holdings, work: Any, file: FileToKeep) -> int:
    earlier = kept_before(work.session, sha256_of_bytes(file.data))
    if earlier is not None:
        raise _refusal(file.name, f"the file of import {earlier.id}", "a file that is not kept yet")
    settled = settle(work.session, file.data, name=file.name, said=file.said, now=holdings.now())
    if settled.questions:
        raise _refusal(file.name, f"an open question: {settled.questions[0][1].text}", "a file that leaves none open")
    if not settled.files:
        raise settled.refused[0]
    kept = keep_settled(holdings, work, file.data, name=file.name, settled=settled)
    if kept.import_id is None:
        raise AssertionError("A file that was kept has the number of its import.")
    return kept.import_id


def _refusal(place: str, found: str, expected: str) -> RegisterError:
    return RegisterError(place, found=found, expected=expected, remedy="Settle it first; nothing was made.")


def last_set_up(session: Session) -> TrailEntry | None:
    """Return the trail's line of the newest set-up that was not taken down; None if there is none."""
    lines = session.scalars(
        sa.select(TrailEntry).where(TrailEntry.action.in_((SET_UP, TAKEN_DOWN))).order_by(TrailEntry.id.desc())
    )
    n_down = 0
    for line in lines:
        if line.action == TAKEN_DOWN:
            n_down += 1
        elif n_down:
            n_down -= 1
        else:
            return line
    return None


def take_down(holdings: Holdings) -> str:
    """Undo the newest set-up: its imports are taken out, and the records it added are removed.

    Loggers stay, retired: the imports that were undone name them.

    Returns
    -------
    str
        Its name.

    Raises
    ------
    RegisterError
        There is none, or later records refer to what it made.
    """
    with changing_parts(holdings) as work:
        line = last_set_up(work.session)
        if line is None or line.after is None:
            raise RegisterError(
                "register", found="nothing that was set up", expected="first steps that are still there",
                remedy="Undo imports one by one.",
            )  # fmt: skip
        for import_id in line.after["imports"]:
            received = work.session.get(Import, import_id)
            if received is not None and received.undone is None:
                take_out(holdings, work, import_id)
        editor = Editor(holdings, work.session, place=line.key)
        for kind, key in reversed(line.after["records"]):
            if kind == "loggers":
                editor.put(kind, {**key, "retired": True, "files": []})
            elif editor.find(kind, key) is not None:
                editor.remove(kind, key)
        holdings.note(work.session, TAKEN_DOWN, "collection", line.key, before=line.after)
    return line.key


def place_logger(
    holdings: Holdings,
    logger: Mapping[str, Any],
    *,
    channel: str = "",
    frame: str = "",
    room: str = "",
    start: dt.datetime,
) -> None:
    """Say where a logger (or a channel of its files) measured from a moment on, until it is known to be elsewhere.

    Parameters
    ----------
    logger : mapping
        Its id, and fields to set; one that is not registered is added.
    channel : str
        "" where its files have one.
    frame, room : str
        One of the two; a room that is not registered is added.
    start : datetime (aware)
        The stay at that moment ends there, or is corrected where it began at that moment.

    Raises
    ------
    RegisterError
        There is no such frame, or a value is not what it holds.
    """
    with holdings.register.writing() as session:
        editor = Editor(holdings, session, place=f"logger {logger.get('id', '')}")
        editor.put("loggers", logger)
        if room and editor.find("rooms", {"id": room}) is None:
            editor.put("rooms", {"id": room})
        key = {"logger": logger["id"], "channel": channel}
        where = {"frame": frame or None, "room": room or None}
        mine = list(session.scalars(sa.select(Placement).filter_by(**key).order_by(Placement.start)))
        at = next((one for one in mine if one.start <= start and (one.end is None or start < one.end)), None)
        later = next((one.start for one in mine if one.start > start), None)
        if at is not None and at.start == start:
            editor.put("placements", {**key, "from": start, **where})
        else:
            end = later if at is None else at.end
            if at is not None:
                editor.put("placements", {**key, "from": at.start, "to": start})
            editor.put("placements", {**key, "from": start, "to": end, **where})
        editor.finish()
