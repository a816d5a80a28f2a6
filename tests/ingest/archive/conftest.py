"""An archive to work in, on SQLite and on PostgreSQL, and logger files to put into it."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from isohume.ingest.archive.archive import Archive

COLLECTION = """
[collection]
name = "Two rooms (invented)"
time_zone = "Europe/Berlin"
invented = true

[[rooms]]
id = "R1"

[[rooms]]
id = "R2"

[[loggers]]
id = "L01"
serial = "AX-10001"
uncertainty_percent = 2.0
files = ["inside_*.csv"]
time_zone = "UTC"
expect_every_days = 31

[[loggers]]
id = "L02"
serial = "AX-10002"
files = ["room_*.csv"]
time_zone = "UTC"
[[loggers.calibrations]]
date = 2026-01-01
offset_percent = 0.5
uncertainty_percent = 1.5
certificate = "K-26-001"

[[frames]]
id = "F01"
painting = "A View of Nowhere, oil on oak panel (invented)"
band = [45, 55]
conditioned_percent = 50
conditioned_on = 2025-12-20
panel = { support = "solid wood", width_mm = 320, thickness_mm = 9 }
limits = { horizon_days = 60 }
[[frames.locations]]
room = "R1"
from = 2025-12-20
[[frames.events]]
time = 2025-12-20T11:00:00+01:00
kind = "sealed"

[[placements]]
logger = "L01"
frame = "F01"
from = 2026-01-02T00:00:00+00:00

[[placements]]
logger = "L02"
room = "R1"
from = 2026-01-01T00:00:00+00:00
"""


class Files:
    """Plain logger files: a preamble, headings, ISO times in UTC."""

    @staticmethod
    def logger_file(
        start: str = "2026-01-02T00:00",
        n_rows: int = 96,
        *,
        minutes: int = 15,
        rh: Callable[[int], float | None] | None = None,
        celsius: float | None = 20.0,
        serial: str = "AX-10001",
    ) -> bytes:
        """Return the bytes of one file."""
        first = dt.datetime.fromisoformat(start)
        rows = [f"Logger {serial}", "Time (UTC),Relative humidity (%),Temperature (°C)"]
        for row in range(n_rows):
            value = (rh or Files.wave)(row)
            humidity = "" if value is None else f"{value:.1f}"
            temperature = "" if celsius is None else f"{celsius + 0.1 * (row % 7):.1f}"
            rows.append(f"{first + dt.timedelta(minutes=minutes * row):%Y-%m-%dT%H:%M:%SZ},{humidity},{temperature}")
        return ("\n".join(rows) + "\n").encode()

    @staticmethod
    def wave(row: int) -> float:
        """Return a humidity [%RH] that no quality test can call stuck or a spike."""
        return 50.0 + (row % 11) * 0.1

    @staticmethod
    def readings(archive: Archive) -> dict[str, bytes]:
        """Return every stored part of the readings by name."""
        folder = archive.folder / "readings"
        return {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*.parquet"))}


@pytest.fixture(scope="session")
def files() -> Files:
    """Return what makes logger files."""
    return Files()


@pytest.fixture(scope="session")
def collection() -> str:
    """Return the description of two rooms, one frame and two loggers."""
    return COLLECTION


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[sa.URL]:
    """Start Debian's PostgreSQL on loopback for this test session."""
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not programs:
        message = "PostgreSQL is not installed: no initdb under /usr/lib/postgresql. apt-get install postgresql"
        if os.environ.get("ISOHUME_CI"):
            pytest.fail(message)
        pytest.skip(message)
    bin_folder = programs[-1].parent
    folder = Path(tempfile.mkdtemp(prefix="isohume-postgres-"))
    # The server refuses to run as root.
    become = ["runuser", "-u", "postgres", "--"] if os.name == "posix" and os.getuid() == 0 else []
    if become:
        shutil.chown(folder, "postgres")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    cluster = folder / "cluster"

    def run(program: str, *arguments: str) -> None:
        subprocess.run(
            [*become, str(bin_folder / program), *arguments], check=True, cwd=folder, stdout=subprocess.DEVNULL
        )

    run("initdb", "-D", str(cluster), "-U", "isohume", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
    # Tests end processes, not the machine: no need to wait for the disk.
    options = f"-F -c listen_addresses=127.0.0.1 -p {port} -k {folder} -c max_connections=50"
    run("pg_ctl", "-D", str(cluster), "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield sa.URL.create("postgresql+psycopg", "isohume", host="127.0.0.1", port=port, database="postgres")
    finally:
        run("pg_ctl", "-D", str(cluster), "-m", "immediate", "-w", "stop")
        shutil.rmtree(folder, ignore_errors=True)


def empty_database(server: sa.URL, name: str) -> str:
    """Return the address of a database, made if need be and emptied: quicker than making one for each test."""
    for_all = sa.create_engine(server, isolation_level="AUTOCOMMIT")
    with for_all.connect() as connection:
        known = connection.execute(sa.text("SELECT 1 FROM pg_database WHERE datname = :name"), {"name": name}).scalar()
        if not known:
            connection.execute(sa.text(f'CREATE DATABASE "{name}"'))
    for_all.dispose()
    url = server.set(database=name)
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(sa.text("DROP SCHEMA public CASCADE"))
        connection.execute(sa.text("CREATE SCHEMA public"))
    engine.dispose()
    return url.render_as_string(hide_password=False)


@pytest.fixture
def postgres_url(postgres_server: sa.URL) -> str:
    """Return an empty database for one test."""
    return empty_database(postgres_server, "test")


@pytest.fixture
def empty_postgres_url(postgres_server: sa.URL) -> str:
    """Make a second empty database for one test."""
    return empty_database(postgres_server, "another")


@pytest.fixture(params=["sqlite", "postgresql"])
def register_url(request: pytest.FixtureRequest) -> str:
    """Return where the register is kept: the same tests run on both databases."""
    return "" if request.param == "sqlite" else str(request.getfixturevalue("postgres_url"))


@pytest.fixture
def archive(tmp_path: Path, register_url: str) -> Iterator[Archive]:
    """Return an archive with two rooms, one frame and two loggers."""
    description = tmp_path / "register.toml"
    description.write_text(COLLECTION, encoding="utf-8")
    with Archive.create(tmp_path / "archive", register_url=register_url, by="tester") as made:
        made.load_register(description)
        yield made


@pytest.fixture
def local_archive(tmp_path: Path) -> Iterator[Archive]:
    """Return the same archive with its register in the folder, for what does not touch the database."""
    description = tmp_path / "register.toml"
    description.write_text(COLLECTION, encoding="utf-8")
    with Archive.create(tmp_path / "archive", by="tester") as made:
        made.load_register(description)
        yield made
