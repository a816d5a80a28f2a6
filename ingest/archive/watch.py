"""A folder that is looked at: files are taken once they are complete; nothing in it is moved or changed."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import StorageError
from isohume.ingest.archive.import_results import ImportResult
from isohume.ingest.archive.models_register import Watched
from isohume.ingest.errors import LoggerFileError

# A copy over a slow network writes at least once in this time.
SETTLE_SECONDS = 10.0
LOOK_EVERY_SECONDS = 5.0

Outcome = Literal["kept", "waiting", "already kept", "asks", "refused"]


@dataclass(frozen=True, slots=True)
class Look:
    """How a file was found at one look."""

    n_bytes: int
    modified_ns: int


@dataclass(frozen=True, slots=True)
class Taken:
    """A file that was taken or refused; exactly one of result and reason says how."""

    path: Path
    outcome: Outcome
    result: ImportResult | None = None
    reason: str = ""


class Watch:
    """Looks at one folder, with the folders in it.

    Parameters
    ----------
    archive : Archive
        Where files go.
    folder : Path
        Where they appear.
    settle_seconds : float [s]
        A file is complete when it did not change for this long.
    clock : callable
        Returns seconds that only go forward.
    """

    def __init__(
        self,
        archive: Archive,
        folder: Path,
        *,
        settle_seconds: float = SETTLE_SECONDS,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.archive, self.folder, self.settle_seconds, self.clock = archive, folder, settle_seconds, clock
        self._growing: dict[Path, tuple[Look, float]] = {}

    def look(self) -> Iterator[Taken]:
        """Look once: take every file that is complete and was not dealt with in this state before."""
        now = self.clock()
        for path in sorted(self.folder.rglob("*")):
            if any(part.startswith(".") for part in path.relative_to(self.folder).parts):
                continue  # half-copied files of many programs, and thumbnails
            found = _look_at(path)
            if found is None or self._is_known(path, found):
                continue
            before, since = self._growing.get(path, (None, now))
            if before != found:
                self._growing[path] = (found, now)
                if self.settle_seconds > 0:
                    continue
            elif now - since < self.settle_seconds:
                continue
            taken = self._take(path)
            if _look_at(path) != found:
                self._growing[path] = (
                    found,
                    now,
                )  # it grew while it was read: what was read is kept, the rest follows
            else:
                self._growing.pop(path, None)
                self._remember(path, found, taken)
            yield taken

    def _take(self, path: Path) -> Taken:
        try:
            result = self.archive.ingest(path)
        except LoggerFileError as error:
            return Taken(path, "refused", reason=str(error))
        return Taken(path, result.status, result=result)

    def _is_known(self, path: Path, found: Look) -> bool:
        with self.archive.register.reading() as session:
            row = session.get(Watched, str(path.resolve()))
            # A question may have been answered, or a logger registered, since: such files are tried at each start.
            return row is not None and row.outcome != "asks" and (row.n_bytes, row.modified_ns) == (
                found.n_bytes, found.modified_ns,
            )  # fmt: skip

    def _remember(self, path: Path, found: Look, taken: Taken) -> None:
        with self.archive.register.writing() as session:
            session.merge(
                Watched(
                    path=str(path.resolve()), n_bytes=found.n_bytes, modified_ns=found.modified_ns,
                    outcome=taken.outcome, import_id=taken.result.import_id if taken.result else None,
                    seen=self.archive.now(),
                )
            )  # fmt: skip


def watch(
    watching: Watch,
    tell: Callable[[Taken], None],
    *,
    every_seconds: float = LOOK_EVERY_SECONDS,
    sleep: Callable[[float], None] = time.sleep,
    tell_trouble: Callable[[str], None],
) -> None:
    """Look again and again, until interrupted; a full disk is told and waited for."""
    trouble = ""
    while True:
        try:
            for taken in watching.look():
                tell(taken)
            trouble = ""
        except (StorageError, OSError) as error:
            if str(error) != trouble:
                trouble = str(error)
                tell_trouble(trouble)
        sleep(every_seconds)


def _look_at(path: Path) -> Look | None:
    """Return size and time of a file; None if it is none, or gone again."""
    try:
        facts = path.stat()
        return Look(facts.st_size, facts.st_mtime_ns) if path.is_file() and facts.st_size else None
    except OSError:
        return None
