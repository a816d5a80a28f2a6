"""Files received over HTTP are read, answered, corrected, kept and undone; hostile ones do no harm."""

from __future__ import annotations

import gzip
import time
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from flask import g
from werkzeug.exceptions import Forbidden

from isohume.dashboard import jobs
from isohume.dashboard.access.people import AT_THIS_MACHINE, Person
from isohume.dashboard.app import create_app
from isohume.dashboard.components.file_controls import Around
from isohume.dashboard.components.file_picture import address, caption, ticks
from isohume.dashboard.components.received_file import received_file
from isohume.dashboard.file_acts import do
from isohume.dashboard.file_names import patterns_apart
from isohume.dashboard.import_history import undo_effect
from isohume.dashboard.jobs import receive_again, resume, worker_of
from isohume.dashboard.pages.files import receive
from isohume.dashboard.received import Received, label
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

REGISTER = """[collection]
name = "Invented"
time_zone = "Europe/Berlin"
[[rooms]]
id = "R1"
[[frames]]
id = "F1"
[[frames.locations]]
room = "R1"
from = 2025-01-01T00:00:00+00:00
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
AROUND = Around(zone="Europe/Berlin", loggers=["L1"], writes=True)


def one_day(month: int) -> bytes:
    """A file whose only date, the 3rd of a month written month first, can be read both ways."""
    rows = "".join(f"{month:02d}/03/2025 {hour:02d}:00,20.0,{48 + hour / 10:.1f}\n" for hour in range(8, 20))
    return ("Time,Temperature (°C),RH (%)\n" + rows).encode()


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as made:
        made.load_register(tmp_path / "register.toml")
        yield made


@pytest.fixture
def server(archive: Archive) -> Any:
    return create_app(Store(archive)).server


@pytest.fixture
def client(server: Any) -> Any:
    made = server.test_client()
    made.set_cookie("_csrf_token", "t", domain="127.0.0.1")
    return made


@contextmanager
def somebody(server: Any, who: Person = AT_THIS_MACHINE) -> Iterator[None]:
    with server.test_request_context("/files"):
        g.person = who
        yield


def post(client: Any, name: str, body: bytes, sent: str = "t", **more: Any) -> Any:
    headers = {"X-CSRFToken": sent, "X-File-Name": name, "Host": "127.0.0.1", **more}
    return client.post("/files/receive", data=body, headers=headers, base_url="http://127.0.0.1")


def sent(client: Any, archive: Archive, name: str, body: bytes) -> dict[str, Any]:
    return settled(archive, post(client, name, body).get_data(as_text=True))


def settled(archive: Archive, job: str) -> dict[str, Any]:
    for _ in range(400):
        found = worker_of(archive).received.job(job)
        if found is not None and found["state"] not in ("waiting", "reading", "to keep", "keeping"):
            return found
        time.sleep(0.02)
    raise AssertionError("the worker did not finish")


def done(server: Any, archive: Archive, act: str, job: dict[str, Any], **said: str) -> dict[str, Any]:
    with somebody(server):
        assert do(archive, act, job["id"], said) == ""
    return settled(archive, job["id"])


def test_a_file_is_read_kept_undone_and_read_again(server: Any, client: Any, archive: Archive) -> None:
    found = sent(client, archive, "hall_1.csv", CSV.encode())
    assert found["state"] == "settled", found
    table = found["found"]["files"][0]
    assert table["rows"]["kept"] == 96
    assert table["logger"] == "L1"
    assert [place for place, *_ in table["placed"]] == ["room R1"]
    kept = done(server, archive, "keep", found)
    assert kept["state"] == "kept", kept
    effect = undo_effect(archive, kept["import_id"])
    assert effect is not None
    assert (effect.n_fewer, effect.frames) == (96, ("F1",))
    archive.acting_as("Ada").undo(kept["import_id"])
    worker = worker_of(archive)
    worker.received.follow_undone({kept["import_id"]: "Ada"})
    undone = worker.received.job(found["id"])
    assert undone is not None
    assert (undone["state"], undone["told"]) == ("undone", "Ada")
    assert undo_effect(archive, kept["import_id"]) is None
    assert done(server, archive, "restore", undone)["state"] == "settled"


def test_a_wrong_order_is_set_right_and_remembered_for_the_logger(server: Any, client: Any, archive: Archive) -> None:
    asks = sent(client, archive, "hall_4.csv", one_day(4))
    assert asks["state"] == "asks"
    assert asks["found"]["files"][0]["tentative"]
    assert asks["found"]["files"][0]["pictures"][0]["n"] == 12
    wrong = done(server, archive, "again", asks, **{"answer:date_order": "day-first"})
    assert wrong["found"]["files"][0]["pictures"][0]["first"][:10] == "2025-03-04"
    right = done(server, archive, "correct", wrong, order="month-first")
    assert right["found"]["files"][0]["pictures"][0]["first"][:10] == "2025-04-03"
    waits = sent(client, archive, "hall_5.csv", one_day(5))
    assert waits["state"] == "asks"
    assert done(server, archive, "keep", right)["state"] == "kept"
    known = settled(archive, waits["id"])
    for _ in range(200):  # the one that asks meanwhile is read again
        if known["state"] == "settled":
            break
        time.sleep(0.02)
        known = settled(archive, waits["id"])
    assert known["found"]["files"][0]["pictures"][0]["first"][:10] == "2025-05-03"
    later = sent(client, archive, "hall_6.csv", one_day(6))
    assert later["state"] == "settled"
    assert later["found"]["files"][0]["remembered"]


def test_columns_are_chosen_anew_and_a_choice_that_cannot_be_is_refused(
    server: Any, client: Any, archive: Archive
) -> None:
    found = sent(client, archive, "hall_1.csv", CSV.encode())
    assert found["found"]["roles"] == ["time: moment", "temperature, °C", "relative humidity, %"]
    with somebody(server):
        told = do(archive, "correct", found["id"], {"column:1": "not used", "column:3": "relative humidity, %"})
    assert "no column of time" in told
    turned = {"column:1": "time: moment", "column:2": "relative humidity, %", "column:3": "temperature, °C"}
    corrected = done(server, archive, "correct", found, **turned)
    assert corrected["found"]["files"][0]["pictures"][0]["mean"] == pytest.approx(20.0)
    alone = done(server, archive, "afresh", corrected)
    assert alone["found"]["files"][0]["pictures"][0]["mean"] == pytest.approx(49.15)


def test_a_stranger_s_file_gets_its_logger_and_the_next_is_known(server: Any, client: Any, archive: Archive) -> None:
    asks = sent(client, archive, "attic_2025-03.csv", CSV.encode())
    assert [question["id"] for question in asks["found"]["questions"]] == ["logger"]
    with somebody(server):
        assert "new" in do(archive, "whose", asks["id"], {"logger": "L9"})
        assert "frame F7" in do(
            archive, "whose", asks["id"], {"logger": "L9", "where": "frame F7", "since": "2025-03-01"}
        )
    assert archive.record("loggers", {"id": "L9"}) is None
    said = {"logger": "L9", "where": "frame F1", "since": "2025-03-14 01:00", "pattern": "attic_*.csv"}
    known = done(server, archive, "whose", asks, **said)
    assert known["state"] == "settled"
    assert known["found"]["files"][0]["placed"][0][0] == "frame F1"
    later = CSV.replace("2025-03", "2025-04").encode()
    assert sent(client, archive, "attic_2025-04.csv", later)["found"]["files"][0]["logger"] == "L9"
    moved = done(server, archive, "move", known, logger="L9", where="a new attic", since="2025-03-14 01:00")
    assert moved["found"]["files"][0]["placed"][0][0] == "room a new attic"


def test_the_same_bytes_twice_are_one_file(client: Any, archive: Archive) -> None:
    sent(client, archive, "hall_1.csv", CSV.encode())
    again = sent(client, archive, "copy of hall_1.csv", CSV.encode())
    assert (again["state"], again["told"]) == ("twice", "hall_1.csv")
    assert not worker_of(archive).received.path(again["id"]).exists()


def test_broken_files_show_their_refusal(client: Any, archive: Archive) -> None:
    broken = sent(client, archive, "hall_2.csv", b"\x00\x01\x02 no readings")
    assert broken["state"] == "refused"
    assert broken["told"]
    bomb = gzip.compress(bytes(40_000_000))
    assert len(bomb) < 50_000
    refused = sent(client, archive, "hall_3.csv.gz", bomb)
    assert refused["state"] == "refused"
    assert "no more than 300 times its packed size" in refused["told"]


def test_work_that_stopped_is_shown_and_goes_on(
    client: Any, archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    worker = worker_of(archive)
    with monkeypatch.context() as broken:
        broken.setattr(worker.received, "jobs", lambda *_states: 1 / 0)
        worker.wake()
        worker._thread.join(5)
    assert "division by zero" in worker.stopped
    assert sent(client, archive, "hall_1.csv", CSV.encode())["state"] == "settled"
    assert worker.stopped == ""


def test_a_restart_goes_on_and_a_file_that_ends_the_server_twice_is_left(archive: Archive) -> None:
    received = Received(archive.folder)
    waiting = received.take("hall_1.csv", BytesIO(CSV.encode()), by="Ada")
    deadly = received.take("hall_2.csv", BytesIO(b"x"), by="Ada")
    received.change(deadly, state="reading", tries=jobs.MOST_TRIES)
    resume(archive)
    assert settled(archive, waiting)["state"] == "settled"
    left = settled(archive, deadly)
    assert left["state"] == "failed"
    assert "ended twice" in left["told"]


def test_what_is_too_large_or_of_unknown_size_is_not_taken(client: Any, archive: Archive) -> None:
    headers = {"X-CSRFToken": "t", "X-File-Name": "hall_1.csv"}
    for said in ({"CONTENT_LENGTH": "200000001"}, {"HTTP_TRANSFER_ENCODING": "chunked"}):
        refused = client.post(
            "/files/receive", data=b"x", headers=headers, base_url="http://127.0.0.1", environ_overrides=said
        )
        assert refused.status_code == 413
    assert worker_of(archive).received.jobs() == []


def test_requests_without_the_token_and_of_viewers_are_refused(server: Any, client: Any) -> None:
    assert post(client, "hall_1.csv", b"x", sent="other").status_code == 403
    with somebody(server, Person("vera", "", "viewer")), pytest.raises(Forbidden):
        receive()


def test_a_name_is_only_a_label(client: Any, archive: Archive) -> None:
    found = sent(client, archive, "..%2F..%2Fevil<img>.csv", b"x")
    assert found["name"] == "evil<img>.csv"
    assert not list(archive.folder.parent.glob("**/evil*"))
    drawn = received_file(found, AROUND)
    assert drawn.children[0].children[0].children == "evil<img>.csv"
    with pytest.raises(ValueError, match="UUID"):
        worker_of(archive).received.path("../x")
    assert label("\\\\host\\a\x00b.csv") == "ab.csv"
    assert label("folder/no ending") == "no ending"


def test_an_undone_file_is_read_again_from_the_archive(server: Any, client: Any, archive: Archive) -> None:
    kept = done(server, archive, "keep", sent(client, archive, "hall_1.csv", CSV.encode()))
    again = sent(client, archive, "hall_1 copy.csv", CSV.encode())
    assert (again["state"], again["told"]) == ("kept", "already kept")
    assert not worker_of(archive).received.path(again["id"]).exists()
    receive_again(archive, kept["import_id"], by="Ada")  # in force: nothing to read again
    assert len(worker_of(archive).received.jobs()) == 2
    archive.undo(kept["import_id"])
    receive_again(archive, kept["import_id"], by="Ada")
    assert settled(archive, worker_of(archive).received.jobs()[-1]["id"])["state"] == "settled"


def test_contradicting_readings_stand_side_by_side(client: Any, archive: Archive) -> None:
    other = CSV.replace("2025-03-14 05:00:00,20.0,48.5", "2025-03-14 05:00:00,20.0,61.0")
    archive.ingest(CSV.encode(), name="hall_1.csv")
    archive.ingest(other.encode(), name="hall_2.csv")
    told = client.get("/files/table/conflicts.csv?logger=L1", base_url="http://127.0.0.1").get_data(as_text=True)
    (line,) = told.splitlines()[1:]
    assert line == "L1,2025-03-14T05:00:00Z,,48.5,20.0,1,7,61.0,20.0,2,7"
    none = client.get("/files/table/conflicts.csv?logger=L2", base_url="http://127.0.0.1").get_data(as_text=True)
    assert len(none.splitlines()) == 1


def test_tables_are_handed_out_without_formulas_or_paths(server: Any, client: Any, archive: Archive) -> None:
    name = "=cmd()|hall_1.csv"
    archive.put("loggers", {"id": "=L2", "files": ["=cmd*"], "expect_every_days": 10})
    archive.put("placements", {"logger": "=L2", "room": "R1", "from": "2025-01-01"})
    rows = CSV + "2025-03-18 00:00:00,=1+1,@evil\n"
    done(server, archive, "keep", sent(client, archive, name.replace("|", "%7C"), rows.encode()))
    for table in ("imports", "expected", "conflicts", "rejected"):
        asked = client.get(f"/files/table/{table}.csv?import=1", base_url="http://127.0.0.1")
        assert asked.status_code == 200
        cells = [
            cell for line in asked.get_data(as_text=True).lstrip("\ufeff").splitlines() for cell in line.split(",")
        ]
        assert not [cell for cell in cells if cell.startswith(("=", "@"))]
        book = client.get(f"/files/table/{table}.xlsx", base_url="http://127.0.0.1")
        assert book.data[:2] == b"PK"
    assert "'=cmd()" in client.get("/files/table/imports.csv", base_url="http://127.0.0.1").get_data(as_text=True)
    for strange in ("/files/table/..%2F..%2Fregister.csv", "/files/table/imports.exe", "/files/table/users.csv"):
        assert client.get(strange, base_url="http://127.0.0.1").status_code == 404


def test_a_picture_keeps_gaps_and_writes_dates_of_the_site(client: Any, archive: Archive) -> None:
    gap = "\n".join(line for line in CSV.splitlines() if "2025-03-15" not in line) + "\n"
    (picture,) = sent(client, archive, "hall_1.csv", gap.encode())["found"]["files"][0]["pictures"]
    empty = [place for place, part in enumerate(picture["parts"]) if part[0] is None]
    assert len(picture["parts"]) == 36
    assert empty == list(range(empty[0], empty[0] + 9))  # a day of four, in one piece
    assert "14 Mar 2025, 01:00 to 18 Mar 2025, 00:00" in caption([picture], "Europe/Berlin")
    assert address([picture], {}, "Europe/Berlin").startswith("data:image/svg+xml,")
    labels = [text for _, text in ticks(1_741_910_400, 1_741_910_400 + 86_400 * 300, "Europe/Berlin")]
    assert labels == ["Jun 2025", "Sep 2025", "Dec 2025"]


def test_patterns_of_two_loggers_never_claim_each_other_s_files() -> None:
    assert patterns_apart([["inside_2025-01.csv", "inside_2025-02.csv"], ["room_2025.csv"]]) == [
        ["inside_*.csv"],
        ["room_*.csv"],
    ]
    assert patterns_apart([["log_20250101.csv"], ["log_20250102.csv"]]) == [[], []]
