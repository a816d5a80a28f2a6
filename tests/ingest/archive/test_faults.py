"""What happens to an archive when the power goes, the disk is full, or two work at once."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import StorageError

KILL_SERVER = Path(__file__).with_name("kill_server.py")
MORE = """
[collection]
time_zone = "Europe/Vienna"

[[rooms]]
id = "R3"

[[loggers]]
id = "L03"
[[loggers.calibrations]]
date = 2026-01-01
offset_percent = -0.5

[[frames]]
id = "F02"
[[frames.locations]]
room = "R3"
from = 2026-01-01

[[frames]]
id = "F01"
note = "Changed by the same description."

[[placements]]
logger = "L03"
frame = "F02"
from = 2026-01-01
"""
can_fork = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="this system has no fork; the kills need one process each"
)


def kill_server(root: Path, files: Any, collection: str, how: str) -> dict[str, Any]:
    """Run the kill server on overlapping imports that span a year's end."""
    folder = root / "files"
    folder.mkdir()
    (folder / "register.toml").write_text(collection, encoding="utf-8")
    (folder / "more.toml").write_text(MORE, encoding="utf-8")
    (folder / "inside_first.csv").write_bytes(files.logger_file("2025-12-31T12:00", 96))
    with zipfile.ZipFile(folder / "pack.zip", "w") as pack:
        pack.writestr("inside_2.csv", files.logger_file("2025-12-31T18:00", 120))
        pack.writestr("room_2.csv", files.logger_file("2025-12-31T18:00", 120, serial="AX-10002"))
    run = subprocess.run(
        [sys.executable, "-W", "error", str(KILL_SERVER), str(root), str(folder), how],
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    return dict(json.loads(run.stdout))


def outline(state: dict[str, str]) -> list[str]:
    """Return a state without its numbers: PostgreSQL does not give the number of a lost transaction again."""
    return sorted(said if " undone=" in said else name for name, said in state.items())


def check(outcome: dict[str, Any]) -> int:
    n_kills = 0
    for name, found in outcome.items():
        before, after = found["before"], found["after"]
        n_after = 0
        for n, kill in enumerate(found["kills"], start=1):
            where = f"{name}, killed at step {n}"
            if name != "rebuild":  # there, damage is what it starts from, and may still be there
                assert kill["problems"] == [], where
            assert kill["left"] in (before, after), f"{where}: neither whole nor absent"
            n_after += kill["left"] == after
            assert outline(kill.get("end", after)) == outline(after), f"{where}: done again, it ended otherwise"
            assert kill.get("problems_at_end", []) == [], where
        if before != after:
            assert 0 < n_after < len(found["kills"]), f"{name}: the kills do not span the commit"
        n_kills += len(found["kills"])
    return n_kills


@can_fork
def test_killed_at_every_step_the_work_is_whole_or_absent(tmp_path: Path, files: Any, collection: str) -> None:
    outcome = kill_server(tmp_path, files, collection, "")
    n_kills = check(outcome)
    print({name: len(found["kills"]) for name, found in outcome.items()})
    assert n_kills >= 110


@can_fork
def test_killed_at_every_step_on_postgresql_too(
    tmp_path: Path, files: Any, collection: str, postgres_server: sa.URL
) -> None:
    server = postgres_server.render_as_string(hide_password=False)
    outcome = kill_server(tmp_path, files, collection, server)
    n_kills = check(outcome)
    print({name: len(found["kills"]) for name, found in outcome.items()})
    assert n_kills >= 100  # together with those above, 200 and more


@can_fork
def test_a_folder_that_may_only_be_read_is_said_and_left_as_it_is(files: Any, collection: str) -> None:
    # Not below pytest's own folder, which other users may not enter.
    with tempfile.TemporaryDirectory() as name:
        Path(name).chmod(0o755)
        found = kill_server(Path(name), files, collection, "read-only")
    assert "Correct the permissions" in found["result"]["refused"]
    assert found["aftermath"]["result"]["problems"] == []
    assert [one for one in found["aftermath"]["result"]["left"].values() if "pack.zip" in one] == []


@pytest.mark.parametrize("step", ["original half written", "readings part half written", "readings part written"])
def test_a_full_disk_is_said_and_nothing_is_half_done(
    archive: Archive, register_url: str, files: Any, step: str
) -> None:
    archive.ingest(files.logger_file(), name="inside_1.csv")
    before, imports = files.readings(archive), archive.imports()

    def full(at: str) -> None:
        if at == step:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with (
        Archive.open(archive.folder, register_url=register_url, on_step=full) as on_full_disk,
        pytest.raises(StorageError, match="Free space") as refused,
    ):
        on_full_disk.ingest(files.logger_file(n_rows=200), name="inside_2.csv")
    assert "No space left" in str(refused.value)
    assert files.readings(archive) == before
    assert archive.imports() == imports
    assert not list(archive.folder.rglob("*.part-written"))
    assert archive.audit().problems == []
    assert archive.ingest(files.logger_file(n_rows=200), name="inside_2.csv").status == "kept"


def test_a_register_that_cannot_grow_is_said_and_nothing_is_half_done(local_archive: Archive, files: Any) -> None:
    before = files.readings(local_archive)

    @sa.event.listens_for(local_archive.register.engine, "connect")
    def no_page_more(connection: Any, _record: Any) -> None:
        connection.execute("PRAGMA max_page_count = 1")  # SQLite itself then says that the disk is full

    local_archive.register.engine.dispose()
    rows = files.logger_file(n_rows=20_000, minutes=1)

    def fill() -> None:  # the pages there are hold some rows yet
        for number in range(40):
            local_archive.ingest(rows + b"\n" * number, name=f"inside_{number}.csv", logger="L01")

    with pytest.raises(StorageError, match="Free disk space"):
        fill()
    sa.event.remove(local_archive.register.engine, "connect", no_page_more)
    local_archive.register.engine.dispose()
    assert set(files.readings(local_archive)) >= set(before)
    assert local_archive.audit().problems == []


WORKER = """
import sys
from pathlib import Path
from isohume.ingest.archive.archive import Archive
with Archive.open(Path(sys.argv[1]), register_url=sys.argv[2]) as archive:
    for name in sys.argv[3:]:
        print(archive.ingest(Path(name)).status)
"""


def test_two_processes_import_at_once_and_nothing_is_lost_or_doubled(
    archive: Archive, register_url: str, files: Any, tmp_path: Path
) -> None:
    paths = []
    for day in range(2, 8):
        paths.append(tmp_path / f"inside_{day}.csv")
        paths[-1].write_bytes(files.logger_file(f"2026-01-{day:02}T00:00", 120))  # each overlaps the next
    # Both take the files of the middle.
    shares = (paths[:4], paths[:1:-1])
    running = [
        subprocess.Popen(
            [sys.executable, "-c", WORKER, str(archive.folder), register_url, *map(str, share)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for share in shares
    ]  # fmt: skip
    said = [process.communicate(timeout=120) for process in running]
    assert [process.returncode for process in running] == [0, 0], said
    statuses = "".join(out for out, _ in said).splitlines()
    assert (statuses.count("kept"), statuses.count("already kept")) == (6, 2)
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_readings == 5 * 96 + 120
    assert archive.audit().problems == []


def flip_a_byte(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)


def test_a_flipped_byte_in_readings_is_found_and_mended(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file(), name="inside_1.csv")
    before = files.readings(archive)
    flip_a_byte(next((archive.folder / "readings").rglob("*.parquet")))
    assert [("missing or altered" in problem) for problem in archive.audit().problems] == [True]
    assert archive.rebuild().mended == ["L01 2026"]
    assert files.readings(archive) == before
    assert archive.audit().problems == []


def test_a_flipped_byte_in_an_original_is_found_and_named(archive: Archive, files: Any) -> None:
    result = archive.ingest(files.logger_file(), name="inside_1.csv")
    archive.ingest(files.logger_file(serial="AX-10002"), name="room_1.csv")
    flip_a_byte(archive.originals.path(result.sha256))
    problems = archive.audit().problems
    assert any("Original inside_1.csv" in problem for problem in problems)
    assert not any("room_1.csv" in problem for problem in problems)
    # The readings themselves are untouched, and a rebuild does not lose them.
    rebuilt = archive.rebuild()
    assert (rebuilt.n_sound, len(rebuilt.refused)) == (1, 1)
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_readings == 96
    # The logger's own copy mends it: the same bytes.
    archive.originals.keep(files.logger_file())
    assert archive.audit().problems == []


def test_an_altered_line_of_the_trail_is_found(archive: Archive) -> None:
    with pytest.raises(sa.exc.DBAPIError, match="only ever added to"), archive.register.writing() as session:
        session.execute(sa.text("UPDATE trail SET \"by\" = 'nobody' WHERE id = 2"))
    with archive.register.writing() as session:  # somebody with the right to change tables
        if archive.register.is_sqlite:
            session.execute(sa.text("DROP TRIGGER trail_no_update"))
        else:
            session.execute(sa.text("DROP TRIGGER trail_kept ON trail"))
        session.execute(sa.text("UPDATE trail SET \"by\" = 'nobody' WHERE id = 2"))
    assert [problem[:19] for problem in archive.audit().problems] == ["Audit trail, line 2"]
