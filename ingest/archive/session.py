"""Connections to the register: one writer at a time, readers never in its way."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.orm import Session

from isohume.ingest.archive.errors import StorageError

WAIT_FOR_OTHER_WRITER_SECONDS = 120
# Any constant serves: one number that every isohume uses for the advisory lock of a register on PostgreSQL.
WRITER_LOCK = 0x1507_7E0D
WRITES = "isohume_writes"


class Register:
    """The register's database.

    Parameters
    ----------
    url : str or URL
        `sqlite:///path` or `postgresql+psycopg://…`.
    """

    def __init__(self, url: str | sa.URL) -> None:
        self.url = sa.make_url(url)
        self.engine = _engine(self.url)

    @property
    def is_sqlite(self) -> bool:
        """Whether the register is a file of the archive folder."""
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Open a session that sees one consistent state and writes nothing."""
        with _database_refusals(self.url), Session(self.engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """Open the one writing transaction: commits at the end of the block, or leaves no trace.

        A second writer, in this or another process, waits here for the first.
        """
        with (
            _database_refusals(self.url),
            self.writer() as connection,
            connection.begin(),
            Session(connection, expire_on_commit=False) as session,
        ):
            if not self.is_sqlite:
                session.execute(sa.text("SELECT pg_advisory_xact_lock(:key)"), {"key": WRITER_LOCK})
            yield session
            session.flush()

    def writer(self) -> sa.Connection:
        """Open a connection whose transaction is the one writing transaction from its beginning."""
        return self.engine.execution_options(**{WRITES: True}).connect()

    def close(self) -> None:
        """Release all connections."""
        self.engine.dispose()


def _engine(url: sa.URL) -> sa.Engine:
    if url.get_backend_name() != "sqlite":
        return sa.create_engine(url, pool_pre_ping=True)
    engine = sa.create_engine(url, connect_args={"timeout": WAIT_FOR_OTHER_WRITER_SECONDS})

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves, so that schema changes are transactional too
        cursor = connection.cursor()
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA synchronous = FULL")  # a committed import survives a power cut
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def begin(connection: sa.Connection) -> None:
        writes = connection.get_execution_options().get(WRITES, False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def _database_refusals(url: sa.URL) -> Iterator[None]:
    try:
        yield
    except OperationalError as error:
        raise StorageError(
            f"register {url.render_as_string(hide_password=True)}",
            found=f'"{str(error.orig).strip()}"',
            expected="a database that can be reached and written to",
            remedy=_remedy(error),
        ) from error


def _remedy(error: DBAPIError) -> str:
    text = str(error.orig).lower()
    if "full" in text:
        return "Free disk space, then repeat; nothing was kept of this attempt."
    if "readonly" in text or "read-only" in text or "unable to open" in text:
        return "Correct the permissions of the archive folder, then repeat; nothing was changed."
    if "locked" in text:
        return "Another process is writing for very long; wait for it to end, then repeat."
    return "Check that the database runs and that its address is right, then repeat; nothing was changed."
