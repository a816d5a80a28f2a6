"""The commands over an archive: demo, standing, serve, and the start-up of the command line."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from isohume.analysis.exchange.fit import CannotTell
from isohume.dashboard import server
from isohume.dashboard.cli import app
from isohume.dashboard.commands import demo, serve
from isohume.ingest.archive.archive import Archive

REGISTER = """
[collection]
name = "Two Frames (invented)"
time_zone = "Europe/Berlin"
as_of = 2026-03-20T12:00:00+01:00

[[rooms]]
id = "R1"
name = "Gallery"

[[loggers]]
id = "L1"
files = ["inside_*.csv"]
time_zone = "UTC"

[[loggers]]
id = "L2"
files = ["room_*.csv"]
time_zone = "UTC"

[[placements]]
logger = "L1"
frame = "F1"
from = 2026-01-01

[[placements]]
logger = "L2"
room = "R1"
from = 2026-01-01

[[frames]]
id = "F0"
painting = "Empty Chair (invented)"
[[frames.locations]]
room = "R1"
from = 2026-01-01

[[frames]]
id = "F1"
painting = "Full Table (invented)"
band = [45, 55]
[[frames.locations]]
room = "R1"
from = 2026-01-01
"""


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


@pytest.fixture(autouse=True)
def quick_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the fit of the exchange model, which has tests of its own and takes seconds."""
    unknown = CannotTell(why="Left out in this test.")
    monkeypatch.setattr("isohume.analysis.assess.fit_exchange", lambda *_sides, **_facts: unknown)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An archive of two frames; one has eleven weeks of dry readings."""
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    folder = tmp_path / "archive"
    with Archive.create(folder) as archive:
        archive.load_register(tmp_path / "register.toml")
        for name, middle, swing in (("inside_1.csv", 40.0, 0.5), ("room_1.csv", 38.0, 4.0)):
            rows = [
                f"2026-{1 + day // 28:02d}-{1 + day % 28:02d}T{hour:02d}:00:00Z,"
                f"{middle + swing * ((7 * day + 3 * hour) % 11 - 5) / 5:.1f},{20 + (hour % 5) / 5:.1f}"
                for day in range(75)
                for hour in range(24)
            ]
            content = "\n".join(["time,RH (%),temperature (°C)", *rows, ""]).encode()
            assert archive.ingest(content, name=name).status == "kept"
    return folder


def test_standing_lists_frames_most_urgent_first(folder: Path) -> None:
    outcome = run("standing", "--archive", str(folder))
    assert outcome.exit_code == 0, outcome.output
    lines = outcome.stdout.splitlines()
    assert [line.split()[0] for line in lines] == ["Frame", "F1", "F0"]
    assert "needs reconditioning, too dry" in lines[1]
    assert "Two Frames (invented), as of 20 Mar 2026 12:00 (UTC+01:00)" in outcome.stderr


def test_standing_as_json_says_the_same(folder: Path) -> None:
    found = json.loads(run("standing", "--archive", str(folder), "--json").stdout)
    assert found["as_of"] == "2026-03-20T11:00:00Z"
    assert [frame["frame"] for frame in found["frames"]] == ["F1", "F0"]
    first = found["frames"][0]
    assert first["standing"]["name"] == "needs reconditioning"
    assert first["standing"]["reasons"][0]["unit"] == "%RH"
    assert found["frames"][1]["newest_utc"] is None


def test_standing_holds_for_the_moment_asked_for(folder: Path) -> None:
    later = json.loads(run("standing", "--archive", str(folder), "--as-of", "2026-06-01", "--json").stdout)
    assert later["as_of"] == "2026-05-31T22:00:00Z"
    assert later["frames"][0]["data"]["name"] == "stale"
    wrong = run("standing", "--archive", str(folder), "--as-of", "soon")
    assert wrong.exit_code == 2
    assert 'Moment "soon"' in wrong.stderr


def test_standing_without_archive_or_frames_says_what_to_do(tmp_path: Path) -> None:
    nowhere = run("standing", "--archive", str(tmp_path / "none"))
    assert nowhere.exit_code == 3
    assert "isohume archive create" in nowhere.stderr
    Archive.create(tmp_path / "empty").close()
    empty = run("standing", "--archive", str(tmp_path / "empty"))
    assert empty.exit_code == 3
    assert "isohume register load" in empty.stderr


def test_demo_refuses_to_mix_with_a_real_collection(folder: Path) -> None:
    outcome = run("demo", "--no-serve", "--archive", str(folder))
    assert outcome.exit_code == 2
    assert "real collection" in outcome.stderr


def test_demo_uses_the_archive_of_an_earlier_demonstration_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken: list[str] = []

    def one_file_only(held: Archive, path: Path) -> object:
        taken.append(path.name)
        return real(held, path) if len(set(taken)) == 1 else kept

    with Archive.create(tmp_path / "archive") as archive:
        samples = Path(demo.__file__).parents[2] / "sample_logs"
        archive.load_register(samples / "register.toml")
        kept = archive.ingest(samples / "logs" / "FRAME03 2026-11-20.csv")
    real = Archive.ingest
    monkeypatch.setattr(Archive, "ingest", one_file_only)
    outcome = run("demo", "--no-serve", "--archive", str(tmp_path / "archive"))
    assert outcome.exit_code == 0, outcome.output
    assert "F03" in outcome.stdout
    assert taken == sorted(path.name for path in (samples / "logs").iterdir())


def test_the_port_stands_in_one_place_only_in_name() -> None:
    assert serve.DEFAULT_PORT == server.DEFAULT_PORT


def test_serve_says_that_a_port_is_taken(folder: Path) -> None:
    with socket.socket() as taken:
        taken.bind((server.LOCAL_HOST, 0))
        taken.listen()
        outcome = run("serve", "--archive", str(folder), "--port", str(taken.getsockname()[1]))
    assert outcome.exit_code == 2
    assert "Choose another" in outcome.stderr


def test_isohume_alone_makes_an_archive_and_serves_its_pages(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind((server.LOCAL_HOST, 0))
        port = free.getsockname()[1]
    archive = tmp_path / "new"
    command = [sys.executable, "-m", "isohume.dashboard.cli", "serve", "--archive", str(archive), "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as served:
        try:
            assert "isohume" in fetched(f"http://{server.LOCAL_HOST}:{port}/", served)
        finally:
            served.terminate()
    assert (archive / "archive.toml").exists()


def fetched(address: str, served: subprocess.Popen[str]) -> str:
    for _ in range(300):
        assert served.poll() is None, served.communicate()[1]
        try:
            with urllib.request.urlopen(address, timeout=5) as answer:  # noqa: S310 - our own server
                return str(answer.read().decode())
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.1)
    raise AssertionError(f"No answer from {address} within half a minute")


def test_the_command_line_starts_without_heavy_libraries() -> None:
    heavy = "{'pandas', 'numpy', 'polars', 'scipy', 'dash', 'plotly', 'matplotlib', 'sqlalchemy', 'flask'}"
    code = f"import isohume.dashboard.cli, sys; print(sorted({heavy} & set(sys.modules)))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert loaded.stdout.strip() == "[]"


def test_version_is_printed() -> None:
    assert run("--version").stdout.startswith("isohume ")
