"""Two files become a frame: guessed with reasons, made in one step, refused where something is missing."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest

from isohume.dashboard.first_steps import INSIDE, ROOM, FirstStepsError, Plan, Record, guess, make, records_of
from isohume.dashboard.jobs import Worker, worker_of
from isohume.dashboard.pages.files_first import plan_of
from isohume.ingest.archive.archive import Archive

DAY = dt.datetime(2025, 3, 1, tzinfo=dt.UTC)


def logged(swing: float, seed: int) -> bytes:
    rng = np.random.default_rng(seed)
    hours = np.arange(24 * 30)
    rh = 50 + swing * np.sin(2 * np.pi * hours / 24) + rng.normal(0, 0.1, hours.size)
    rows = [f"{DAY + dt.timedelta(hours=int(h)):%Y-%m-%d %H:%M},{v:.2f},20.0" for h, v in zip(hours, rh, strict=True)]
    return ("Time,RH (%),Temperature (°C)\n" + "\n".join(rows) + "\n").encode()


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Archive]:
    with Archive.create(tmp_path / "archive") as made:
        yield made


def received(held: Archive, **files: bytes) -> Worker:
    worker = worker_of(held)
    for name, data in files.items():
        worker.received.take(f"{name}_2025-03.csv", BytesIO(data), by="Ada")
    worker.wake()
    for _ in range(400):
        if not worker.received.jobs("waiting", "reading"):
            return worker
        time.sleep(0.02)
    raise AssertionError("the worker did not finish")


def said(worker: Worker) -> list[tuple[Record, str]]:
    records = records_of(worker.received.jobs())
    sides, _ = guess(records)
    return [(record, sides[place]) for place, record in enumerate(records)]


def test_two_files_become_a_frame_whose_records_meet_the_site_s_clock(empty: Archive) -> None:
    worker = received(empty, back_of_panel=logged(0.5, 1), hall=logged(5, 2))
    sides = said(worker)
    assert [(record.file, side) for record, side in sides] == [
        ("back_of_panel_2025-03.csv", INSIDE),
        ("hall_2025-03.csv", ROOM),
    ]
    plan = Plan(frame="F/1", room="Hall", band=(45, 55), time_zone="Europe/Berlin", collection="Mine", sides=sides)
    make(empty.acting_as("Ada"), worker, plan)
    inside, outside = empty.inside_record("F/1"), empty.outside_record("F/1")
    assert inside is not None
    assert outside is not None
    # Midnight on a Berlin wall clock in winter: no reading is lost to the zone that was said last.
    assert str(inside.readings.index[0]) == "2025-02-28 23:00:00+00:00"
    assert len(inside.readings) == len(outside.readings) == 720
    assert {job["state"] for job in worker.received.jobs()} == {"kept"}
    assert [one["files"] for one in empty.records("loggers")] == [["back_of_panel_*.csv"], ["hall_*.csv"]]
    later = empty.preview(logged(0.5, 3).replace(b"2025-03", b"2025-05"), name="back_of_panel_2025-05.csv")
    assert later.files[0].placed[0].place == "frame F/1"


def test_one_file_with_both_sides_is_one_logger_in_two_places(empty: Archive) -> None:
    lines = logged(0.5, 1).decode().splitlines(), logged(5, 2).decode().splitlines()
    both = ["Time,Inside RH (%),Room RH (%)"] + [
        f"{a.split(',')[0]},{a.split(',')[1]},{b.split(',')[1]}"
        for a, b in zip(lines[0][1:], lines[1][1:], strict=True)
    ]
    worker = received(empty, both="\n".join(both).encode())
    make(empty, worker, Plan(frame="F1", room="Hall", sides=said(worker)))
    assert len(empty.records("loggers")) == 1
    assert sorted(one["frame"] or one["room"] for one in empty.records("placements")) == ["F1", "Hall"]


def test_nothing_is_made_of_half_of_it(empty: Archive) -> None:
    worker = received(empty, a=logged(0.5, 1), b=logged(5, 2))
    whole = Plan(frame="F1", room="Hall", sides=said(worker))
    for plan, missing in (
        (replace(whole, frame=""), "a name or number"),
        (replace(whole, room=""), "the room"),
        (replace(whole, sides=whole.sides[:1]), "from its room"),
    ):
        with pytest.raises(FirstStepsError, match=missing):
            make(empty, worker, plan)
    with pytest.raises(FirstStepsError, match="time zone"):
        make(empty, worker, replace(whole, time_zone="Atlantis/Nowhere"))
    assert empty.frame_ids() == []
    assert empty.records("loggers") == []
    assert {job["state"] for job in worker.received.jobs()} == {"asks"}
    make(empty, worker, whole)
    with pytest.raises(FirstStepsError, match="a frame F1 already"):
        make(empty, worker, whole)


def test_records_too_alike_are_not_guessed(empty: Archive) -> None:
    worker = received(empty, a=logged(3, 1), b=logged(3.1, 2))
    sides, why = guess(records_of(worker.received.jobs()))
    assert sides == {}
    assert "too alike" in why


@pytest.mark.parametrize(
    ("low", "high", "told"), [(45, None, "two limits"), (-3, 55, "0 to 100"), ("x", 55, "0 to 100")]
)
def test_numbers_that_cannot_be_are_refused(low: object, high: object, told: str) -> None:
    with pytest.raises(FirstStepsError, match=told):
        plan_of({"frame": "F1", "room": "R", "low": low, "high": high}, [], is_first=True)


def test_a_second_frame_in_a_measured_room_needs_its_own_file_only(empty: Archive) -> None:
    worker = received(empty, a=logged(0.5, 1), b=logged(5, 2))
    make(empty, worker, Plan(frame="F1", room="Hall", sides=said(worker)))
    received(empty, c=logged(0.4, 3), b=logged(5, 2))  # the hall's file is known and no part of it
    (record,) = records_of(worker.received.jobs())
    with pytest.raises(FirstStepsError, match="from its room"):
        make(empty, worker, Plan(frame="F2", room="Attic", sides=[(record, INSIDE)]))
    make(empty, worker, Plan(frame="F2", room="Hall", sides=[(record, INSIDE)]))
    outside = empty.outside_record("F2")
    assert outside is not None
    assert len(outside.readings) == 720


def test_two_records_of_one_time_are_not_joined_to_one_inside(empty: Archive) -> None:
    worker = received(empty, a=logged(0.5, 1), b=logged(5, 2), c=logged(0.7, 3))
    sides = said(worker)
    assert [side for _, side in sides].count(INSIDE) == 2
    with pytest.raises(FirstStepsError, match="at the same time"):
        make(empty, worker, Plan(frame="F1", room="Hall", sides=sides))
    assert empty.frame_ids() == []
