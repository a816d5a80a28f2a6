"""The long work of the Files page, outside the requests: one thread reads and keeps what was received."""

from __future__ import annotations

import logging
import threading
from io import BytesIO
from pathlib import Path
from typing import Any

from isohume.dashboard.received import FOLDER, TABLE, WAITING_STATES, Received
from isohume.dashboard.understood import understood
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models_imports import Import
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers
from isohume.ingest.recipe import Recipe

# A file during which the server ended as often is not tried again by itself.
MOST_TRIES = 2
LOOK_EVERY_SECONDS = 30
log = logging.getLogger(__name__)
_workers: dict[Path, Worker] = {}
_lock = threading.Lock()


class Worker:
    """Reads waiting files and keeps those that were told to be kept, one after the other.

    Attributes
    ----------
    stopped : str
        Why the work as a whole has stopped; "" while it goes on.
    """

    def __init__(self, archive: Archive) -> None:
        self.archive, self.received = archive, Received(archive.folder)
        self.stopped = ""
        self._wake = threading.Event()
        self._thread = self._started()

    def wake(self) -> None:
        """Say that there is something to do; work that has stopped begins again."""
        self._wake.set()
        if not self._thread.is_alive():
            self.stopped = ""
            self._thread = self._started()

    def _started(self) -> threading.Thread:
        thread = threading.Thread(target=self._run, name="received files", daemon=True)
        thread.start()
        return thread

    def _run(self) -> None:
        try:
            while self.archive.folder.is_dir():
                self._wake.clear()
                for job in self.received.jobs(*WAITING_STATES):
                    self.work(job)
                self._wake.wait(LOOK_EVERY_SECONDS)
        except Exception as error:  # shown on the page, with a way to go on
            if self.archive.folder.is_dir():
                log.exception("the work on received files has stopped")
                self.stopped = f"{type(error).__name__}: {error}"
        finally:
            with _lock:
                if not self.archive.folder.is_dir():
                    _workers.pop(self.archive.folder, None)

    def work(self, job: dict[str, Any]) -> None:
        """Do what one job waits for; a failure is written into it."""
        keeps = job["state"] in ("to keep", "keeping")
        if job["tries"] >= MOST_TRIES:
            told = "The server ended twice while it was at work on this file."
            self.received.change(job["id"], state="failed", told=told, tries=0)
            return
        try:
            self.received.change(job["id"], state="keeping" if keeps else "reading", tries=job["tries"] + 1)
            self._keep(job) if keeps else self._read(job)
        except LoggerFileError as error:
            self.received.change(job["id"], state="refused", told=str(error), tries=0)
        except Exception as error:  # shown on the page, whatever it is
            log.exception("the received file %s could not be worked on", job["id"])
            self.received.change(job["id"], state="failed", told=f"{type(error).__name__}: {error}", tries=0)

    def restore(self, job: dict[str, Any]) -> None:
        """Read a file again whose import was undone: its bytes come from the archive."""
        path = self.received.path(job["id"])
        if not path.exists():
            path.write_bytes(self.archive.originals.bytes_of(job["sha256"]))
        self.received.change(job["id"], state="waiting", told="", import_id=None)
        self.wake()

    def _read(self, job: dict[str, Any]) -> None:
        data = self.received.path(job["id"]).read_bytes()
        found = self.archive.preview(data, name=job["name"], **said_of(job))
        document = understood(found, data)
        if found.already_kept is not None:
            state, told = "kept", "already kept"
        elif found.questions:
            state, told = "asks", ""
        elif not found.files:
            state, told = "refused", " ".join(found.refused)
        else:
            state, told = "settled", ""
        self.received.change(job["id"], state=state, told=told, found=document, import_id=found.already_kept, tries=0)
        if found.already_kept is not None:
            self.received.path(job["id"]).unlink(missing_ok=True)  # the archive holds the same bytes

    def _keep(self, job: dict[str, Any]) -> None:
        acting = self.archive.acting_as(job["said"].get("by") or job["by"])
        data = self.received.path(job["id"]).read_bytes()
        result = acting.ingest(data, name=job["name"], **said_of(job))
        if result.status == "asks":
            self.received.change(job["id"], state="waiting", tries=0)
            self.wake()
            return
        self.received.change(job["id"], state="kept", import_id=result.import_id, told=result.status, tries=0)
        self.received.path(job["id"]).unlink(missing_ok=True)  # the archive holds the original now
        if job["said"].get("answers") or job["said"].get("recipe"):
            # What was said is remembered for its logger: other files may ask the same no more.
            self.received.change_all("waiting", from_states=("asks",))
            self.wake()


def worker_of(archive: Archive) -> Worker:
    """Return the worker of an archive, started at first need."""
    with _lock:
        if archive.folder not in _workers:
            _workers[archive.folder] = Worker(archive)
        return _workers[archive.folder]


def resume(archive: Archive) -> None:
    """Go on with files that were received before the server stopped; without any, nothing is started."""
    if (archive.folder / FOLDER / TABLE).is_file() and Received(archive.folder).jobs(*WAITING_STATES):
        worker_of(archive).wake()


def receive_again(archive: Archive, import_id: int, *, by: str) -> None:
    """Queue the file of an import that was undone; its bytes come from the archive."""
    with archive.register.reading() as session:
        undone = session.get(Import, import_id)
    if undone is None or undone.undone is None:
        return
    worker = worker_of(archive)
    worker.received.take(undone.name, BytesIO(archive.originals.bytes_of(undone.sha256)), by=by)
    worker.wake()


def said_of(job: dict[str, Any]) -> dict[str, Any]:
    """Return what a person said about a file, as the archive takes it."""
    said = job["said"]
    return {
        "logger": said.get("logger", ""),
        "time_zone": said.get("time_zone", ""),
        "recipe": Recipe.from_toml(said["recipe"]) if said.get("recipe") else None,
        "answers": Answers({k: v for k, v in said.get("answers", {}).items() if v}),
    }
