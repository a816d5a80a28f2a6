"""A first frame in one step: records and files together, or nothing; and all of it undone again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.setting_up import FileToKeep
from isohume.ingest.archive.settling import Said
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers

START = dt.datetime(2025, 3, 1, tzinfo=dt.UTC)
HOURLY = "".join(f"2025-03-{1 + h // 24:02d} {h % 24:02d}:00,{48 + h % 5:.1f}\n" for h in range(240))
CSV = b"Time,RH (%)\n" + HOURLY.encode()


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Archive]:
    with Archive.create(tmp_path / "new") as made:
        yield made


def records() -> list[tuple[str, dict[str, Any]]]:
    return [
        ("collection", {"name": "Mine", "time_zone": "Europe/Berlin"}),
        ("rooms", {"id": "R1"}),
        ("frames", {"id": "F1", "band": [45, 55]}),
        ("locations", {"frame": "F1", "room": "R1", "from": START}),
        ("loggers", {"id": "L01", "files": ["in_*.csv"], "retired": False}),
        ("placements", {"logger": "L01", "channel": "", "frame": "F1", "from": START - dt.timedelta(days=1)}),
    ]


def file(data: bytes = CSV, name: str = "in_1.csv", **said: Any) -> FileToKeep:
    return FileToKeep(data=data, name=name, said=Said(logger="L01", **said))


def test_records_and_files_come_together_and_go_together(empty: Archive) -> None:
    acting = empty.acting_as("Ada")
    imports = acting.set_up(records(), [file()], name="frame F1")
    assert len(imports) == 1
    inside = empty.inside_record("F1")
    assert inside is not None
    assert len(inside.readings) == 240
    newest = empty.newest_set_up()
    assert newest is not None
    assert (newest["name"], newest["by"], newest["imports"]) == ("frame F1", "Ada", list(imports))
    assert acting.take_down() == "frame F1"
    assert empty.frame_ids() == []
    assert empty.records("rooms") == empty.records("placements") == empty.records("locations") == []
    assert [one["retired"] for one in empty.records("loggers")] == [True]
    assert empty.imports()[0]["undone_by"] == "Ada"
    assert empty.newest_set_up() is None
    assert empty.audit().is_clean
    again = acting.set_up(records(), [file()], name="frame F1")
    assert again != imports
    assert [one["retired"] for one in empty.records("loggers")] == [False]


@pytest.mark.parametrize(
    ("bad", "error"),
    [
        (file(b"nothing to read here", "in_2.csv"), LoggerFileError),
        (
            file(b"Time,RH (%)\n" + b"".join(b"03/04/2025 %02d:00,50\n" % h for h in range(9)), "in_3.csv"),
            RegisterError,
        ),
        (file(CSV, "in_4.csv"), RegisterError),  # the bytes of the first file once more
    ],
)
def test_nothing_is_made_where_one_file_is_refused(empty: Archive, bad: FileToKeep, error: type[Exception]) -> None:
    with pytest.raises(error):
        empty.set_up(records(), [file(), bad], name="frame F1")
    assert empty.frame_ids() == []
    assert empty.records("loggers") == []
    assert empty.imports() == []
    assert list((empty.folder / "readings").rglob("*.parquet")) == []


def test_what_others_refer_to_is_not_taken_down(empty: Archive) -> None:
    empty.set_up(records(), [file()], name="frame F1")
    empty.put("events", {"frame": "F1", "time": START, "kind": "note"})
    with pytest.raises(RegisterError):
        empty.take_down()
    assert empty.frame_ids() == ["F1"]
    assert empty.imports()[0]["undone_utc"] is None


def test_a_logger_is_moved_without_being_in_two_places(empty: Archive) -> None:
    empty.set_up(records(), name="frame F1")
    day = dt.timedelta(days=1)
    empty.place_logger({"id": "L01"}, room="R2", start=START + 10 * day)
    empty.place_logger({"id": "L01"}, frame="F1", start=START + 20 * day)
    empty.place_logger({"id": "L01"}, room="R1", start=START + 20 * day)  # corrected where it began
    found = [
        (one["room"] or one["frame"], one["from"][:10], (one["to"] or "")[:10]) for one in empty.records("placements")
    ]
    assert found == [("F1", "2025-02-28", "2025-03-11"), ("R2", "2025-03-11", "2025-03-21"), ("R1", "2025-03-21", "")]
    with pytest.raises(RegisterError):
        empty.place_logger({"id": "L01"}, frame="F99", start=START)


def test_a_correction_is_remembered_for_the_logger_and_forgotten_with_its_import(empty: Archive) -> None:
    """Day and month of such a file fit both orders; once said, the next file is read so without asking."""
    empty.set_up(records(), name="frame F1")

    def one_day(month: int) -> bytes:
        rows = "".join(f"{month:02d}/03/2025 {h:02d}:00,{48 + h % 5}\n" for h in range(8, 18))
        return b"Time,RH (%)\n" + rows.encode()

    assert empty.ingest(one_day(4), name="in_4.csv").status == "asks"
    first = empty.ingest(one_day(4), name="in_4.csv", answers=Answers({"date_order": "month-first"}))
    assert first.status == "kept"
    found = empty.preview(one_day(5), name="in_5.csv")
    assert not found.questions
    assert str(found.files[0].reading.table["time_utc"][0])[:10] == "2025-05-03"
    assert first.import_id is not None
    empty.undo(first.import_id)
    forgotten = empty.preview(one_day(5), name="in_5.csv")
    assert [question.id for _, question in forgotten.questions] == ["date_order"]
    assert forgotten.open[0].tentative is not None  # shown, as the likeliest answer would have it
    assert forgotten.open[0].logger == "L01"
