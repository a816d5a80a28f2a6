"""Files that were received and not yet kept: their bytes under our own names, their state in a small table."""

from __future__ import annotations

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
 said TEXT DEFAULT '{}', found TEXT DEFAULT '{}', import_id INTEGER, told TEXT DEFAULT '', changed REAL)"""
_COLUMNS = frozenset({"state", "said", "found", "import_id", "told"})


def label(name: str) -> str:
    """Return a received name as a label: its last part, printable, never used as a path."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(c for c in last if c.isprintable()).strip()[-LONGEST_NAME:] or "unnamed file"


class Received:
    """The received files of one archive; survives a reload and a restart, and every session sees the same.

    Parameters
    ----------
    archive_folder : Path
    """

    def __init__(self, archive_folder: Path) -> None:
        self.folder = archive_folder / FOLDER
        self.folder.mkdir(exist_ok=True)
        with self._table() as table:
            table.execute(_SCHEMA)

    def take(self, name: str, stream: BinaryIO, *, by: str) -> str:
        """Store what a stream holds under a name of our own, and queue it; a stream that breaks leaves nothing."""
        job = uuid.uuid4().hex
        path = self.path(job)
        try:
            with path.open("xb") as out:
                while piece := stream.read(1 << 20):
                    out.write(piece)
        except BaseException:
            path.unlink(missing_ok=True)
            raise
        with self._table() as table:
            table.execute(
                "INSERT INTO job (id, name, by, received, state, changed) VALUES (?, ?, ?, ?, 'waiting', ?)",
                (job, label(name), by, time.time(), time.time()),
            )
        return job

    def path(self, job: str) -> Path:
        """Return where the bytes lie; raises ValueError for anything but an id of ours."""
        return self.folder / uuid.UUID(job).hex

    def jobs(self) -> list[dict[str, Any]]:
        """Return all that is not set aside, oldest first."""
        with self._table() as table:
            rows = table.execute("SELECT * FROM job WHERE state != 'set aside' ORDER BY received").fetchall()
        return [{**row, "said": json.loads(row["said"]), "found": json.loads(row["found"])} for row in map(dict, rows)]

    def job(self, job: str) -> dict[str, Any] | None:
        """Return one, None where there is none."""
        return next((row for row in self.jobs() if row["id"] == job), None)

    def change(self, job: str, **values: Any) -> None:
        """Set columns of one job."""
        unknown = values.keys() - _COLUMNS
        if unknown:
            raise ValueError(f"no such column of a job: {sorted(unknown)}")
        told = {key: json.dumps(value) if isinstance(value, dict) else value for key, value in values.items()}
        names = ", ".join(f"{key} = ?" for key in told)
        with self._table() as table:
            table.execute(f"UPDATE job SET {names}, changed = ? WHERE id = ?", (*told.values(), time.time(), job))  # noqa: S608  # names from _COLUMNS

    def set_aside(self, job: str) -> None:
        """Forget a received file; its bytes go."""
        self.change(job, state="set aside")
        self.path(job).unlink(missing_ok=True)

    def version(self) -> float:
        """Return what changes whenever any job does."""
        with self._table() as table:
            return float(table.execute("SELECT coalesce(max(changed), 0) FROM job").fetchone()[0])

    @contextmanager
    def _table(self) -> Iterator[sqlite3.Connection]:
        with closing(sqlite3.connect(self.folder / TABLE, timeout=20)) as connection, connection:
            connection.row_factory = sqlite3.Row
            yield connection
