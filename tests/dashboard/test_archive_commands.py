"""The commands over an archive, as a person types them: what they print, and their exit codes."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from isohume.dashboard.cli import app

REGISTER = """
[collection]
name = "One Frame (invented)"
time_zone = "Europe/Berlin"
as_of = 2026-03-01T12:00:00+01:00

[[rooms]]
id = "R1"

[[loggers]]
id = "L1"
serial = "AX-10001"
files = ["inside_*.csv"]
time_zone = "UTC"
expect_every_days = 31

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
id = "F1"
painting = "Empty Chair (invented)"
band = [45, 55]
panel = { species = "Oak, white (Quercus alba)", width_mm = 300 }
[[frames.locations]]
room = "R1"
from = 2026-01-01
"""


def logger_file(path: Path, *, days: int = 3, rh: float = 50.0, start: str = "2026-01-05") -> Path:
    first = dt.datetime.fromisoformat(start)
    rows = ["Time (UTC),Relative humidity (%),Temperature (°C)"]
    rows += [
        f"{first + dt.timedelta(hours=hour):%Y-%m-%dT%H:%M:%SZ},{rh + hour % 7 / 10:.1f},{20 + hour % 5 / 10:.1f}"
        for hour in range(24 * days)
    ]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a folder with an archive in it, which the environment names."""
    monkeypatch.setenv("ISOHUME_ARCHIVE", str(tmp_path / "archive"))
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    assert run("archive", "create").exit_code == 0
    assert "added" in run("register", "load", tmp_path / "register.toml").stdout
    return tmp_path


def run(*arguments: Any) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments], catch_exceptions=False)


def answer(*arguments: Any) -> Any:
    """Return what a command prints with --json: one document and nothing else."""
    return json.loads(run(*arguments, "--json").stdout)


def test_ingest_list_undo_and_audit(home: Path) -> None:
    first = logger_file(home / "inside_1.csv")
    result = run("ingest", first)
    assert (result.exit_code, "72 new readings" in result.stdout, "in frame F1" in result.stdout) == (0, True, True)
    again = answer("ingest", first)
    assert (again["files"][0]["status"], again["refused"]) == ("already kept", [])
    assert "inside_1.csv" in run("archive", "imports").stdout
    assert answer("archive", "imports")[0]["files"][0]["new"] == 72
    assert answer("audit")["clean"] is True
    assert answer("undo", 1)["readings_after"] == 0
    refused = run("undo", 1)
    assert (refused.exit_code, refused.stdout) == (3, "")
    assert "undone on" in refused.stderr


def test_exit_codes_tell_some_from_none(home: Path) -> None:
    good = logger_file(home / "inside_1.csv")
    (home / "letter.txt").write_text("The files follow.")
    unknown = logger_file(home / "who.csv", start="2026-02-01")
    some = run("ingest", good, home / "letter.txt")
    assert some.exit_code == 1
    assert "letter.txt" in some.stderr
    none = run("ingest", home / "letter.txt")
    assert none.exit_code == 3
    asked = run("ingest", unknown)
    assert (asked.exit_code, "--answer logger=" in asked.stdout) == (3, True)
    assert run("ingest", unknown, "--answer", "logger=L2").exit_code == 0
    assert run("ingest", unknown, "--answer", "logger").exit_code == 2
    assert run("ingest", good, "--archive", home / "nowhere").exit_code == 3


def test_conflicts_are_listed(home: Path) -> None:
    run("ingest", logger_file(home / "inside_1.csv"))
    run("ingest", logger_file(home / "inside_2.csv", rh=60.0))
    listed = answer("archive", "conflicts")
    assert len(listed) == 72
    assert (listed[0]["kept_rh_percent"], listed[0]["rh_percent"], listed[0]["import"]) == (50.0, 60.0, 2)


def test_a_damaged_part_is_found_and_mended(home: Path) -> None:
    run("ingest", logger_file(home / "inside_1.csv"))
    part = next((home / "archive" / "readings").rglob("*.parquet"))
    part.write_bytes(part.read_bytes()[:-5])
    assert run("audit", "--quick").exit_code == 1
    assert answer("rebuild")["mended"] == ["L1 2026"]
    assert run("audit").exit_code == 0


def test_backup_and_restore(home: Path) -> None:
    run("ingest", logger_file(home / "inside_1.csv"))
    assert answer("backup", home / "all.zip")["files"] == 2
    restored = run("restore", home / "all.zip", "--archive", home / "again")
    assert (restored.exit_code, "clean" in restored.stdout) == (0, True)
    assert len(answer("archive", "imports", "--archive", home / "again")) == 1
    assert run("restore", home / "register.toml", "--archive", home / "third").exit_code == 3


def test_the_register_is_edited_shown_and_exported(home: Path) -> None:
    assert answer("register", "show")["frames"] == 1
    run("register", "set", "frames", "id=F1", "band=40-60", "panel.thickness_mm=9", "panel.width_mm=")
    (frame,) = answer("register", "show", "frames", "--where", "id=F1")
    assert (frame["band"], frame["panel"]) == (
        [40.0, 60.0],
        {"species": "Oak, white (Quercus alba)", "thickness_mm": 9.0},
    )
    run(
        "register",
        "set",
        "events",
        "frame=F1",
        "time=2026-02-01T10:00",
        "kind=reconditioned",
        "rh_percent=50",
        "water_g=35",
    )
    assert "reconditioned" in run("register", "show", "events").stdout
    assert [line["action"] for line in answer("register", "history", "frames", "--key", "F1")] == ["added", "changed"]
    run("register", "remove", "events", "frame=F1", "time=2026-02-01T10:00", "kind=reconditioned")
    assert answer("register", "show", "events") == []
    (home / "back.jpg").write_bytes(b"a picture")
    assert "kept as" in run("register", "document", home / "back.jpg", "--frame", "F1").stdout
    run("register", "export", home / "out.toml")
    assert "0 records added, 0 changed" in run("register", "load", home / "out.toml").stdout
    run("register", "export", home / "frames.csv")
    assert "0 records added, 0 changed" in run("register", "load", home / "frames.csv").stdout
    wrong = run("register", "set", "frames", "id=F1", "band=60-40")
    assert (wrong.exit_code, "the low limit" in wrong.stderr) == (3, True)
    assert run("register", "set", "frames", "F1").exit_code == 2
    due = answer("register", "due")
    assert {(one["kind"], one["logger"]) for one in due} >= {("file", "L1"), ("calibration", "L2")}


def test_calibration_by_salts_and_side_by_side(home: Path) -> None:
    run(
        "register",
        "calibrate",
        "L2",
        "--date",
        "2026-01-01",
        "--salt",
        "sodium chloride:25:77",
        "--certificate",
        "K-1",
    )
    (found,) = answer("register", "show", "calibrations")
    # Greenspan (1977): 75.29 %RH over sodium chloride at 25 °C (the polynomial gives 75.30).
    assert (found["offset_percent"], found["certificate"]) == (pytest.approx(-1.71, abs=0.02), "K-1")
    run("ingest", logger_file(home / "inside_1.csv"), logger_file(home / "room_1.csv", rh=51.0))
    side_by_side = ("--beside", "L2", "--from", "2026-01-05", "--to", "2026-01-08", "--date", "2026-01-01")
    said = run("register", "calibrate", "L1", *side_by_side, "--dry-run")
    assert "side by side the reference read -0.70 %RH higher" in said.stdout
    assert len(answer("register", "show", "calibrations")) == 1
    assert run("register", "calibrate", "L1", "--date", "2026-01-01").exit_code == 2
    assert "tabulated" in run("register", "calibrate", "L1", "--date", "2026-01-01", "--salt", "sugar:25:50").stderr


def test_watch_once_and_digest(home: Path) -> None:
    (home / "drop").mkdir()
    logger_file(home / "drop" / "inside_1.csv")
    taken = answer("watch", home / "drop", "--once", "--settle", "0")
    assert [one["status"] for one in taken] == ["kept"]
    assert answer("watch", home / "drop", "--once", "--settle", "0") == []
    assert run("watch", home / "nowhere", "--once").exit_code == 2
    document = answer("digest", "--days", "90", "--remember")
    assert document["imports"] == ["inside_1.csv: logger L1, 72 new readings"]
    assert [one["frame"] for one in document["changes"]] == ["F1"]
    run("digest", "--ics", home / "due.ics")
    assert (home / "due.ics").read_bytes().startswith(b"BEGIN:VCALENDAR\r\n")
    assert run("digest", "--to", "a@b.example").exit_code == 2
