"""What a person can do with a received file; each act in that person's name, and refused where it cannot be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from isohume.dashboard.access.gate import person
from isohume.dashboard.components.file_controls import asked
from isohume.dashboard.jobs import Worker, worker_of
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.corrections import Correction
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.recipe import Recipe

Said = Mapping[str, str]
Job = dict[str, Any]
# A file on which the worker is not at work now.
AT_REST = ("asks", "settled", "refused", "failed", "undone", "kept", "twice", "waiting", "to keep")


def do(held: Archive, act: str, job_id: str, said: Said) -> str:
    """Do one thing a person asked for; return what is wrong with it, "" where it was done."""
    worker = worker_of(held)
    job = worker.received.job(job_id)
    if job is None:
        return "This file is not in the list any more."
    states, done = ACTS[act]
    if job["state"] not in states:
        return "This file has moved on meanwhile."
    try:
        done(held, worker, job, said)
    except (ArchiveError, LoggerFileError, ValueError) as error:
        return str(error)
    return ""


def keep(held: Archive, job: Job) -> None:
    """Queue a file for keeping, in the name of whoever asked."""
    worker = worker_of(held)
    worker.received.change(job["id"], state="to keep", said={**job["said"], "by": person().name})
    worker.wake()


def read_again(worker: Worker, job: Job, **said: Any) -> None:
    """Queue a file for reading with something more said about it."""
    worker.received.change(job["id"], said={**job["said"], **said}, state="waiting", told="")
    worker.wake()


def _keep(held: Archive, _worker: Worker, job: Job, _said: Said) -> None:
    keep(held, job)


def _aside(_held: Archive, worker: Worker, job: Job, _said: Said) -> None:
    worker.received.set_aside(job["id"])


def _restore(_held: Archive, worker: Worker, job: Job, _said: Said) -> None:
    worker.restore(job)


def _retry(_held: Archive, worker: Worker, job: Job, _said: Said) -> None:
    read_again(worker, job)


def _again(_held: Archive, worker: Worker, job: Job, said: Said) -> None:
    read_again(worker, job, answers={**job["said"].get("answers", {}), **_answers(said)})


def _alike(_held: Archive, worker: Worker, job: Job, said: Said) -> None:
    """Answer the same for every file that asks the very same."""
    answers, same = _answers(said), asked(job)
    for other in worker.received.jobs("asks"):
        if asked(other) == same:
            read_again(worker, other, answers={**other["said"].get("answers", {}), **answers})


def _answers(said: Said) -> dict[str, str]:
    answers = {k.removeprefix("answer:"): v.strip() for k, v in said.items() if k.startswith("answer:") and v}
    if not answers:
        raise ValueError("Choose an answer first.")
    if zone := answers.get("time_zone"):
        ClockZone.parse(zone)
    return answers


def _correct(_held: Archive, worker: Worker, job: Job, said: Said) -> None:
    found = job["found"]
    columns = {} if found.get("long") else {
        int(k.removeprefix("column:")): v for k, v in said.items() if k.startswith("column:") and v
    }  # fmt: skip
    before = Recipe.from_toml(found["recipe"])
    unseen = range(len(found["roles"]) + 1, before.width + 1)  # columns beyond those shown stay as they were read
    if columns and any(value.column in unseen for value in before.values):
        columns = {}
    correction = Correction(
        zone=(said.get("zone") or "").strip(),
        order=said.get("order") or "",
        decimal=said.get("decimal") or "",
        columns=columns,
    )
    read_again(worker, job, recipe=correction.applied_to(before).to_toml(), answers={})


def _afresh(_held: Archive, worker: Worker, job: Job, _said: Said) -> None:
    read_again(worker, job, recipe="", answers={}, time_zone="")


def _whose(held: Archive, worker: Worker, job: Job, said: Said) -> None:
    """Remember a logger nobody registered: its name pattern, and where it was."""
    logger = (said.get("logger") or "").strip()
    if not logger:
        raise ValueError("Say which logger wrote it: one of the register, or a name for a new one.")
    known = held.record("loggers", {"id": logger})
    pattern = (said.get("pattern") or "").strip()
    files = list(known["files"] if known else [])
    values = {"id": logger, "files": [*files, pattern] if pattern and pattern not in files else files}
    where = (said.get("where") or "").strip()
    if where:
        place(held, values, where, said)
    elif known:
        held.acting_as(person().name).put("loggers", values)
    else:
        raise ValueError(f"Logger {logger} is new: say in which frame or room it was.")
    read_again(worker, job, logger=logger)


def _move(held: Archive, worker: Worker, job: Job, said: Said) -> None:
    """Correct whose a file is, and the side its logger's readings go to."""
    logger = (said.get("logger") or "").strip()
    if not logger:
        raise ValueError("Say which logger wrote it.")
    if where := (said.get("where") or "").strip():
        place(held, {"id": logger}, where, said)
    read_again(worker, job, logger=logger)


def place(held: Archive, logger: Mapping[str, Any], where: str, said: Said) -> None:
    """Say in the register where a logger was from a moment on, the room being new perhaps."""
    kind, _, name = where.partition(" ")
    frame = name if kind == "frame" and name in held.frame_ids() else ""
    room = "" if frame else (name if kind == "room" and name else where)
    if kind == "frame" and not frame:
        raise ValueError(f"There is no {where} in the register. Choose one of the list, or make it there first.")
    since = (said.get("since") or "").strip()
    if not since:
        raise ValueError("Say from when it was there: a date, or date and time such as 2026-03-01 10:00.")
    held.acting_as(person().name).place_logger(
        logger, channel=said.get("channel") or "", frame=frame, room=room, start=held.moment(since)
    )


# What can be done in which states.
ACTS: dict[str, tuple[tuple[str, ...], Callable[[Archive, Worker, Job, Said], None]]] = {
    "keep": (("settled",), _keep),
    "aside": (AT_REST, _aside),
    "restore": (("undone",), _restore),
    "retry": (("failed", "refused"), _retry),
    "again": (("asks",), _again),
    "alike": (("asks",), _alike),
    "correct": (("asks", "settled", "refused", "failed"), _correct),
    "afresh": (("asks", "settled", "refused", "failed"), _afresh),
    "whose": (("asks",), _whose),
    "move": (("settled",), _move),
}
