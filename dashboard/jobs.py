"""The long work of the Files page, outside the requests: one thread reads and keeps what was received."""

from __future__ import annotations

import logging
import threading
from pathlib import Path
from typing import Any

import polars as pl

from isohume.dashboard.received import Received
from isohume.ingest.archive.archive import Archive
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.ledger import RowLedger
from isohume.ingest.questions import Answers

N_POINTS = 160
ROWS = ("in_file", "kept", "flagged", "duplicate", "conflicting")
WAITING_STATES = ("waiting", "reading", "to keep", "keeping")
log = logging.getLogger(__name__)
_workers: dict[Path, Worker] = {}
_lock = threading.Lock()


class Worker:
    """Reads waiting files and keeps those that were told to be kept, one after the other."""

    def __init__(self, archive: Archive) -> None:
        self.archive, self.received = archive, Received(archive.folder)
        self._wake = threading.Event()
        threading.Thread(target=self._run, name="received files", daemon=True).start()

    def wake(self) -> None:
        """Say that there is something to do."""
        self._wake.set()

    def _run(self) -> None:
        while True:
            self._wake.clear()
            for job in self.received.jobs():
                if job["state"] in WAITING_STATES:
                    self.work(job)
            self._wake.wait(30)

    def work(self, job: dict[str, Any]) -> None:
        """Do what one job waits for; a failure is written into it."""
        keeps = job["state"] in ("to keep", "keeping")
        try:
            self.received.change(job["id"], state="keeping" if keeps else "reading")
            self._keep(job) if keeps else self._read(job)
        except LoggerFileError as error:
            self.received.change(job["id"], state="refused", told=str(error))
        except Exception as error:  # shown on the page, whatever it is
            log.exception("the received file %s could not be worked on", job["id"])
            self.received.change(job["id"], state="failed", told=f"{type(error).__name__}: {error}")

    def _read(self, job: dict[str, Any]) -> None:
        found = self.archive.preview(self.received.path(job["id"]).read_bytes(), name=job["name"], **_said(job))
        document = {
            "files": [
                {
                    "name": one.reading.file,
                    "words": one.reading.recipe.in_words(),
                    "rows": rows(one.reading.ledger),
                    "logger": one.logger,
                    "by": one.recognised_by,
                    "placed": [[p.place, p.channel, p.n_readings, str(p.first), str(p.last)] for p in one.placed],
                    "notes": list(one.notes),
                    "points": points(one.reading.table),
                }
                for one in found.files
            ],
            "questions": [
                {"file": file, "id": q.id, "text": q.text, "control": q.control,
                 "choices": [[c.value, c.label] for c in q.choices]}
                for file, q in found.questions
            ],
            "refused": list(found.refused),
        }  # fmt: skip
        if found.already_kept is not None:
            self.received.change(
                job["id"], state="kept", import_id=found.already_kept, found=document, told="already kept"
            )
        elif found.questions:
            self.received.change(job["id"], state="asks", found=document)
        elif not found.files:
            self.received.change(job["id"], state="refused", found=document, told=" ".join(found.refused))
        else:
            self.received.change(job["id"], state="settled", found=document, told="")

    def _keep(self, job: dict[str, Any]) -> None:
        acting = self.archive.acting_as(job["said"].get("by") or job["by"])
        result = acting.ingest(self.received.path(job["id"]).read_bytes(), name=job["name"], **_said(job))
        if result.status == "asks":
            self.received.change(job["id"], state="waiting")
            self.wake()
            return
        self.received.change(job["id"], state="kept", import_id=result.import_id, told=result.status)
        self.received.path(job["id"]).unlink(missing_ok=True)  # the archive holds the original now


def worker_of(archive: Archive) -> Worker:
    """Return the worker of an archive, started at first need."""
    with _lock:
        if archive.folder not in _workers:
            _workers[archive.folder] = Worker(archive)
        return _workers[archive.folder]


def rows(ledger: RowLedger) -> dict[str, int]:
    """Return the account of a table's rows as numbers."""
    return {**{name: getattr(ledger, name) for name in ROWS}, "rejected": len(ledger.rejected)}


def points(table: pl.DataFrame) -> list[list[float | None]]:
    """Thin the relative humidity to smallest and largest of equal parts, for a small picture."""
    rh = table["rh_percent"]
    step = max(1, len(rh) // N_POINTS)
    parts = [rh[start : start + step].drop_nulls().drop_nans() for start in range(0, len(rh), step)]
    return [[float(part.min()), float(part.max())] if len(part) else [None, None] for part in parts]  # type: ignore[arg-type]


def _said(job: dict[str, Any]) -> dict[str, Any]:
    said = job["said"]
    return {
        "logger": said.get("logger", ""),
        "time_zone": said.get("time_zone", ""),
        "answers": Answers({k: v for k, v in said.get("answers", {}).items() if v}),
    }
