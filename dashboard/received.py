"""Files that were received and not yet kept: their bytes under our own names, their state in a small table."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import time
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, BinaryIO

FOLDER, TABLE = "received", "jobs.sqlite3"
LONGEST_NAME = 160
_SCHEMA = """CREATE TABLE IF NOT EXISTS job (id TEXT PRIMARY KEY, name TEXT, by TEXT, received REAL, state TEXT,
 said TEXT DEFAULT '{}', found TEXT DEFAULT '{}', import_id INTEGER, told TEXT DEFAULT '', changed REAL,
 sha256 TEXT DEFAULT '', n_bytes INTEGER DEFAULT 0, tries INTEGER DEFAULT 0)"""
_ADDED = {"sha256": "TEXT DEFAULT ''", "n_bytes": "INTEGER DEFAULT 0", "tries": "INTEGER DEFAULT 0"}
_COLUMNS = frozenset({"state", "said", "found", "import_id", "told", "tries"})
# A file in one of these states waits for the worker.
WAITING_STATES = ("waiting", "reading", "to keep", "keeping")
# The same bytes once more are no second file while the first is in one of these.
OPEN_STATES = (*WAITING_STATES, "asks", "settled", "refused", "failed")


def label(name: str) -> str:
    """Return a received name as a label: its last part, printable, never used as a path."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(c for c in last if c.isprintable()).strip()[-LONGEST_NAME:] or "unnamed file"


class Received:
    """The received files of one archive; survives a reload and a restart, and every session sees the same.

    Parameters
    ----------
    archive_folder : Path
    folder : str
        Within it; venues' records lie apart from the files that are to be kept.
    """

    def __init__(self, archive_folder: Path, folder: str = FOLDER) -> None:
        self.folder = archive_folder / folder
        self.folder.mkdir(exist_ok=True)
        with self._table() as table:
            table.execute(_SCHEMA)
            present = {row["name"] for row in table.execute("PRAGMA table_info(job)")}
            for name in _ADDED.keys() - present:
                table.execute(f"ALTER TABLE job ADD COLUMN {name} {_ADDED[name]}")

    def take(self, name: str, stream: BinaryIO, *, by: str) -> str:
        """Store what a stream holds under a name of our own, and queue it; a stream that breaks leaves nothing."""
        job, digest, n_bytes = uuid.uuid4().hex, hashlib.sha256(), 0
        path = self.path(job)
        try:
            with path.open("xb") as out:
                while piece := stream.read(1 << 20):
                    out.write(piece)
                    digest.update(piece)
                    n_bytes += len(piece)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        marks = ",".join("?" * len(OPEN_STATES))
        with self._table() as table:
            same = table.execute(
                f"SELECT name FROM job WHERE sha256 = ? AND state IN ({marks})",  # noqa: S608  # marks only
                (digest.hexdigest(), *OPEN_STATES),
            ).fetchone()
            table.execute(
                "INSERT INTO job (id, name, by, received, state, told, changed, sha256, n_bytes) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (job, label(name), by, time.time(), "twice" if same else "waiting", same["name"] if same else "",
                 time.time(), digest.hexdigest(), n_bytes),
            )  # fmt: skip
        if same:
            path.unlink(missing_ok=True)
        return job

    def path(self, job: str) -> Path:
        """Return where the bytes lie; raises ValueError for anything but an id of ours."""
        return self.folder / uuid.UUID(job).hex

    def jobs(self, *states: str) -> list[dict[str, Any]]:
        """Return all that is not set aside, or all in certain states, oldest first."""
        marks = ",".join("?" * len(states))
        which = f"state IN ({marks})" if states else "state != 'set aside'"
        with self._table() as table:
            rows = table.execute(f"SELECT * FROM job WHERE {which} ORDER BY received, id", states).fetchall()  # noqa: S608  # marks only
        return [_job(row) for row in rows]

    def job(self, job: str) -> dict[str, Any] | None:
        """Return one, None where there is none."""
        with self._table() as table:
            row = table.execute("SELECT * FROM job WHERE id = ? AND state != 'set aside'", (job,)).fetchone()
        return None if row is None else _job(row)

    def listed(self) -> list[tuple[str, str, float]]:
        """Return id, state and time of the last change of all that is not set aside, oldest first."""
        with self._table() as table:
            rows = table.execute(
                "SELECT id, state, changed FROM job WHERE state != 'set aside' ORDER BY received, id"
            ).fetchall()
        return [(row["id"], row["state"], row["changed"]) for row in rows]

    def change(self, job: str, **values: Any) -> None:
        """Set columns of one job."""
        self._change("id = ? AND state != 'set aside'", (job,), values)

    def change_all(self, state: str, *, from_states: tuple[str, ...]) -> None:
        """Move every job that is in certain states to another."""
        self._change(f"state IN ({','.join('?' * len(from_states))})", from_states, {"state": state})

    def follow_undone(self, undone: dict[int, str]) -> None:
        """Say of kept files whose import was taken out again, by whom.

        Parameters
        ----------
        undone : mapping of int to str
            Import to person.
        """
        for job in self.jobs("kept"):
            if job["import_id"] in undone:
                self.change(job["id"], state="undone", told=undone[job["import_id"]])

    def set_aside(self, job: str) -> None:
        """Forget a received file; its bytes go."""
        self.change(job, state="set aside")
        self.path(job).unlink(missing_ok=True)

    def _change(self, where: str, which: tuple[str, ...], values: dict[str, Any]) -> None:
        unknown = values.keys() - _COLUMNS
        if unknown:
            raise ValueError(f"no such column of a job: {sorted(unknown)}")
        told = {key: json.dumps(value) if isinstance(value, dict) else value for key, value in values.items()}
        names = ", ".join(f"{key} = ?" for key in told)
        with self._table() as table:
            table.execute(f"UPDATE job SET {names}, changed = ? WHERE {where}", (*told.values(), time.time(), *which))  # noqa: S608  # names from _COLUMNS

    @contextmanager
    def _table(self) -> Iterator[sqlite3.Connection]:
        with closing(sqlite3.connect(self.folder / TABLE, timeout=20)) as connection, connection:
            connection.row_factory = sqlite3.Row
            yield connection


def _job(row: sqlite3.Row) -> dict[str, Any]:
    return {**dict(row), "said": json.loads(row["said"]), "found": json.loads(row["found"])}
