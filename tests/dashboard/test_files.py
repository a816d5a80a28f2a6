"""Files received over HTTP are read, kept and undone; names are labels; broken files say so."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from isohume.dashboard.app import create_app
from isohume.dashboard.components.received_file import Around, received_file
from isohume.dashboard.jobs import worker_of
from isohume.dashboard.received import label
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

REGISTER = """[collection]
name = "Invented"
time_zone = "Europe/Berlin"
[[rooms]]
id = "R1"
[[loggers]]
id = "L1"
files = ["hall_*.csv"]
time_zone = "+00:00"
[[placements]]
logger = "L1"
room = "R1"
from = 2025-01-01T00:00:00+00:00
"""
CSV = "Time,Temperature (°C),RH (%)\n" + "".join(
    f"2025-03-{day:02d} {hour:02d}:00:00,20.0,{48 + hour / 10:.1f}\n" for day in range(14, 18) for hour in range(24)
)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as made:
        made.load_register(tmp_path / "register.toml")
        yield made


@pytest.fixture
def client(archive: Archive) -> Any:
    made = create_app(Store(archive)).server.test_client()
    made.set_cookie("_csrf_token", "t", domain="127.0.0.1")
    return made


def post(client: Any, name: str, body: bytes, sent: str = "t") -> Any:
    headers = {"X-CSRFToken": sent, "X-File-Name": name, "Host": "127.0.0.1"}
    return client.post("/files/receive", data=body, headers=headers, base_url="http://127.0.0.1")


def settled(archive: Archive, job: str) -> dict[str, Any]:
    for _ in range(200):
        found = worker_of(archive).received.job(job)
        if found is not None and found["state"] not in ("waiting", "reading", "to keep", "keeping"):
            return found
        time.sleep(0.05)
    raise AssertionError("the worker did not finish")


def test_a_file_is_read_kept_and_undone(client: Any, archive: Archive) -> None:
    job = post(client, "hall_1.csv", CSV.encode()).get_data(as_text=True)
    found = settled(archive, job)
    assert found["state"] == "settled", found
    assert found["found"]["files"][0]["rows"]["kept"] == 96
    assert found["found"]["files"][0]["logger"] == "L1"
    worker = worker_of(archive)
    worker.received.change(job, state="to keep", said={"by": "Ada"})
    worker.wake()
    kept = settled(archive, job)
    assert kept["state"] == "kept", kept
    assert archive.imports()[0]["by"] == "Ada"
    archive.acting_as("Ada").undo(kept["import_id"])
    assert archive.imports()[0]["undone_by"] == "Ada"


def test_a_broken_file_shows_its_refusal(client: Any, archive: Archive) -> None:
    job = post(client, "hall_2.csv", b"\x00\x01\x02 no readings").get_data(as_text=True)
    found = settled(archive, job)
    assert found["state"] == "refused"
    assert found["told"]


def test_a_request_without_the_token_is_refused(client: Any) -> None:
    assert post(client, "hall_1.csv", b"x", sent="other").status_code == 403


def test_a_name_is_only_a_label(client: Any, archive: Archive) -> None:
    job = post(client, "..%2F..%2Fevil<img>.csv", b"x").get_data(as_text=True)
    found = settled(archive, job)
    assert found["name"] == "evil<img>.csv"
    assert not list(archive.folder.parent.glob("**/evil*"))
    drawn = received_file(found, Around(zone="Europe/Berlin", loggers=["L1"], writes=True))
    assert drawn.children[0].children[0].children == "evil<img>.csv"
    with pytest.raises(ValueError, match="UUID"):
        worker_of(archive).received.path("../x")
    assert label("\\\\host\\a\x00b.csv") == "ab.csv"
