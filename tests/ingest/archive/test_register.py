"""The register: described, edited, exported; what it refuses, it refuses with a reason and unchanged."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.kinds import KINDS

SAMPLE_REGISTER = Path(__file__).parents[3] / "sample_logs" / "register.toml"


def test_loading_again_changes_nothing_and_exporting_gives_the_same_register(archive: Archive, tmp_path: Path) -> None:
    summary = archive.load_register(tmp_path / "register.toml")
    assert (summary.n_added, summary.n_changed) == (0, 0)
    text = archive.export_register()
    (tmp_path / "exported.toml").write_text(text, encoding="utf-8")
    assert archive.load_register(tmp_path / "exported.toml").n_changed == 0
    assert archive.export_register() == text


def test_the_invented_collection_goes_out_and_in_without_loss(tmp_path: Path) -> None:
    with Archive.create(tmp_path / "first") as first:
        first.load_register(SAMPLE_REGISTER)
        first.put(
            "terms",
            {
                "id": "T1",
                "name": "Loan",
                "clauses": [{"air": "room", "quantity": "rh_percent", "kind": "range", "low": 45.5}],
            },
        )
        first.put("venues", {"id": "V1", "name": 'Hall "B", \\ wing'})
        first.put("loans", {"id": "N1", "frames": ["F01", "F02"], "terms": "T1", "status": "agreed"})
        first.put("legs", {"loan": "N1", "from": "2026-03-01", "kind": "stay", "venue": "V1", "to": "2026-05-01"})
        (tmp_path / "out.toml").write_text(first.export_register(), encoding="utf-8")
        described = {kind: first.records(kind) for kind in KINDS}
    with Archive.create(tmp_path / "second") as second:
        second.load_register(tmp_path / "out.toml")
        assert {kind: second.records(kind) for kind in KINDS} == described
        # Times are in UTC inside, whatever the file wrote; 2025-06-16 is midnight of the site, in summer.
        assert second.records("frames")[0]["conditioned_on"].endswith("T22:00:00.000000Z")


@pytest.mark.parametrize(
    ("kind", "values", "said"),
    [
        ("frames", {"id": "F01", "band": [55, 45]}, "the low limit lies below the high one"),
        ("frames", {"id": "F01", "band": "wide"}, "two numbers, low and high"),
        ("frames", {"id": "F01", "colour": "brown"}, "found field colour"),
        ("frames", {"id": "F01", "panel": {"width_mm": "wide"}}, "expected a number"),
        ("frames", {"id": "F01", "panel": {"widht_mm": 3}}, "panel with widht_mm"),
        ("frames", {"id": "F01", "panel": {"cut": "sawn"}}, "flat-sawn, quarter-sawn"),
        ("frames", {"id": "F01", "limits": {"horizon_days": float("nan")}}, "expected a number"),
        ("frames", {"id": "F01", "lifecycle": "resting"}, "one of open, newly sealed"),
        ("frames", {"painting": "Nameless"}, "no id"),
        ("frames", {"id": "F01", "conditioned_on": "01.02.2026"}, "a date or time such as"),
        ("events", {"frame": "F01", "time": "2026-03-01", "kind": "dusted"}, "one of sealed, opened"),
        ("events", {"frame": "F99", "time": "2026-03-01", "kind": "note"}, "records that exist"),
        ("loggers", {"id": "L01", "time_zone": "Berlin"}, 'a time zone such as "Europe/Berlin"'),
        ("placements", {"logger": "L01", "from": "2027-01-01"}, "either frame or room"),
        ("placements", {"logger": "L01", "room": "R1", "from": "2026-03-01"}, "one place at a time"),
        ("placements", {"logger": "L01", "frame": "F01", "from": "2026-03-01", "to": "2026-02-01"}, "to later"),
        ("locations", {"frame": "F01", "room": "R2", "from": "2025-12-01", "to": "2026-01-01"}, "one place at a time"),
        ("calibrations", {"logger": "L01", "date": "2026-01-01"}, "offset_percent or points"),
        ("calibrations", {"logger": "L01", "date": "2026-01-01", "points": [[50, 51]]}, "two or more rising"),
        ("clock_corrections", {"logger": "L01", "from": "2026-01-01"}, "what to add"),
        ("clock_corrections", {"logger": "L01", "from": "2026-01-01", "add_seconds": 0, "add_seconds_at_end": 9},
         "give the end"),
        ("reviews", {"month": "Octember", "number": 1}, 'a month such as "2026-10"'),
        ("paintings", {"id": "F01"}, "one of collection, rooms"),
    ],
)  # fmt: skip
def test_what_a_record_cannot_be_is_refused_with_a_reason(
    local_archive: Archive, kind: str, values: dict[str, Any], said: str
) -> None:
    before = local_archive.export_register(), local_archive.history()
    with pytest.raises(RegisterError, match=".*".join(said.split("|"))):
        local_archive.put(kind, values)
    assert (local_archive.export_register(), local_archive.history()) == before


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[paintings]]\nid = 1", r"found \[paintings\]"),
        ("rooms = 3", r"\[\[rooms\]\] before each record"),
        ("[[rooms]]\nid = 3", "text in quotes"),
        ("[[rooms]\n", "a collection described in TOML"),
        ('[collection]\ntime_zone = "Berlin"', "a time zone"),
        ('[[rooms]]\nid = "R9"\n[[frames]]\nid = "F9"\n[[frames.locations]]\nroom = "R8"\nfrom = 2026-01-01', "exist"),
    ],
)
def test_a_wrong_description_is_refused_whole(archive: Archive, tmp_path: Path, text: str, said: str) -> None:
    before = archive.export_register()
    path = tmp_path / "wrong.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RegisterError, match=said):
        archive.load_register(path)
    assert archive.export_register() == before


def test_every_change_stands_in_the_trail_with_before_and_after(archive: Archive) -> None:
    assert archive.put("frames", {"id": "F01", "band": "40-60"}) == "changed"
    assert archive.put("frames", {"id": "F01", "band": [40, 60]}) == "unchanged"
    added, changed = archive.history("frames", "F01")
    assert (added["action"], added["by"], added["before"]) == ("added", "tester", None)
    assert (changed["before"]["band"], changed["after"]["band"]) == ([45.0, 55.0], [40.0, 60.0])
    archive.put("events", {"frame": "F01", "time": "2026-03-01T10:00", "kind": "note", "note": "dusted"})
    archive.remove("events", {"frame": "F01", "time": "2026-03-01T09:00Z", "kind": "note"})
    assert archive.history("events")[-1]["before"]["note"] == "dusted"
    with pytest.raises(RegisterError, match="the key of a record"):
        archive.remove("events", {"frame": "F01", "time": "2026-03-01T09:00Z", "kind": "note"})
    with pytest.raises(RegisterError, match="remove what refers to it"):
        archive.remove("rooms", {"id": "R1"})


GOOD_CLAUSE = {"air": "room", "quantity": "rh_percent", "kind": "range", "low": 45, "high": 55}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"low": 60}, "its low limit lies above"),
        ({"low": None, "high": None}, "sets no limit"),
        ({"high": 550}, "outside 0 to 100 %RH"),
        ({"quantity": "temperature_celsius", "high": 212}, "outside -30 to 60 °C"),
        ({"kind": "swing in 24 h", "high": -5}, "needs a high limit above 0"),
        ({"kind": "seasonal allowance", "low": -5, "high": None}, "is never negative"),
        ({"averaging_hours": 7}, "cannot average over 7 h"),
        ({"air": ""}, "air = ''|air.*''"),
        ({"quantity": "RH"}, "rh_percent, temperature_celsius"),
        ({"kind": "drift"}, "swing in 24 h"),
        ({"low": "45"}, "a number"),
        ({"low": float("nan")}, "a number"),
        ({"limit": 3}, "only air"),
        ({"notice": 3}, "text"),
    ],
)
def test_a_clause_that_cannot_be_judged_is_refused(archive: Archive, changed: dict[str, object], said: str) -> None:
    archive.put("terms", {"id": "T1", "clauses": [GOOD_CLAUSE]})
    with pytest.raises(RegisterError, match=said):
        archive.put("terms", {"id": "T1", "clauses": [GOOD_CLAUSE, {**GOOD_CLAUSE, **changed}]})
    assert archive.records("terms")[0]["clauses"] == [GOOD_CLAUSE]


def test_a_clause_that_does_not_say_what_it_limits_is_refused(archive: Archive) -> None:
    with pytest.raises(RegisterError, match="does not say air, quantity, kind"):
        archive.put("terms", {"id": "T1", "clauses": [{"low": 45}]})


def test_a_password_hash_is_never_shown_and_its_change_is_seen(archive: Archive) -> None:
    archive.put("users", {"name": "ada", "role": "contributor", "password_hash": "$argon2id$one"})
    assert archive.put("users", {"name": "ada", "password_hash": "$argon2id$two"}) == "changed"
    assert "argon2" not in str(archive.records("users")) + str(archive.history())
    assert "ada" not in archive.export_register()


def test_a_signed_review_stands_and_takes_a_second_signature(archive: Archive) -> None:
    key = {"month": "2026-10", "number": 1}
    archive.put("reviews", {**key, "text": "All steady.", "figures": {"F01": {"mean": 50.1}}})
    archive.put("reviews", {**key, "text": "All steady, F01 opened."})
    archive.put("reviews", {**key, "signed_by": "Ada", "signed_on": "2026-11-02T10:00Z"})
    for change in ({"text": "Otherwise."}, {"signed_by": "Bob"}, {"figures": {}}, {"decisions": {"F01": "open"}}):
        with pytest.raises(RegisterError, match="what is signed stays"):
            archive.put("reviews", {**key, **change})
    with pytest.raises(RegisterError, match="what is signed stays"):
        archive.remove("reviews", key)
    archive.put("reviews", {**key, "second_signed_by": "Bob", "second_signed_on": "2026-11-03T10:00Z"})
    archive.put("reviews", {"month": "2026-10", "number": 2, "text": "A late file came."})
    assert [review["second_signed_by"] for review in archive.records("reviews")] == ["Bob", ""]


def test_documents_are_kept_by_hash_and_once(archive: Archive) -> None:
    first = archive.keep_document(b"a picture", name="back.jpg", frame="F01", taken="2026-03-01", note="label")
    assert archive.keep_document(b"a picture", name="back.jpg", frame="F01", taken="2026-03-01", note="label") == first
    archive.put("events", {"frame": "F01", "time": "2026-03-01", "kind": "photograph", "document": first})
    assert archive.documents.bytes_of(first) == b"a picture"
    archive.documents.path(first).write_bytes(b"another picture")
    assert "Document back.jpg" in archive.audit().problems[0]


def test_four_columns_of_a_spreadsheet_make_frames(archive: Archive, tmp_path: Path) -> None:
    path = tmp_path / "frames.csv"
    path.write_text(
        "Frame;Painting;Room;Band;Width mm\nF02;Still Life with Salt;Store;40–60;250,5\nF01;=SUM(A1);R1;45-55;\n",
        encoding="cp1252",
    )
    archive.load_frames(path)
    frames = {row["id"]: row for row in archive.records("frames")}
    assert frames["F02"]["band"] == [40.0, 60.0]
    assert frames["F02"]["panel"] == {"width_mm": 250.5}
    # What the sheet does not name stays as it was.
    assert frames["F01"]["panel"] == {"support": "solid wood", "width_mm": 320, "thickness_mm": 9}
    hangs = {row["frame"]: row["room"] for row in archive.records("locations")}
    assert hangs == {"F01": "R1", "F02": "Store"}


@pytest.mark.parametrize("name", ["frames.csv", "frames.xlsx"])
def test_frames_go_out_as_a_spreadsheet_and_in_again(archive: Archive, tmp_path: Path, name: str) -> None:
    archive.put("frames", {"id": "F01", "painting": "=cmd|' /C calc'!A0", "note": "-1"})
    before = archive.export_register()
    archive.export_frames(tmp_path / name)
    summary = archive.load_frames(tmp_path / name)
    assert (summary.n_added, summary.n_changed) == (0, 0)
    assert archive.export_register() == before
    if name.endswith(".csv"):
        assert "'=cmd" in (tmp_path / name).read_text(encoding="utf-8-sig")
    else:
        cells = openpyxl.load_workbook(tmp_path / name)["frames"]
        kinds = {cell.value: cell.data_type for row in cells.iter_rows() for cell in row}
        assert kinds["=cmd|' /C calc'!A0"] == "s"  # a text, which no program runs


def test_a_sheet_without_a_needed_column_is_refused(archive: Archive, tmp_path: Path) -> None:
    path = tmp_path / "frames.csv"
    path.write_text("frame,painting,band\nF02,Still Life,40-60\n")
    with pytest.raises(RegisterError, match="no column room"):
        archive.load_frames(path)
    path.write_text("frame,painting,room,band\nF02,Still Life,R1,60-40\n")
    with pytest.raises(RegisterError, match=r"frames\.csv, row 2"):
        archive.load_frames(path)


def test_facts_are_what_the_register_says(archive: Archive) -> None:
    facts = archive.frame_facts("F01")
    assert facts.band == (45.0, 55.0)
    assert facts.panel is not None
    assert facts.panel.width_mm == 320
    assert facts.limits.horizon_days == 60
    assert facts.time_zone == "Europe/Berlin"
    assert facts.conditioned_on == dt.datetime(2025, 12, 19, 23, tzinfo=dt.UTC)  # midnight in Berlin, in winter
    assert [event.kind for event in facts.events] == ["sealed"]
    with pytest.raises(RegisterError, match="no such frame"):
        archive.frame_facts("F99")
