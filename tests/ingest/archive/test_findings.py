"""Kept findings: found again while nothing they depend on changed, and only then."""

from __future__ import annotations

from typing import Any

import pytest

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding

CHANGES: dict[str, Any] = {
    "facts": lambda archive, _: archive.put("frames", {"id": "F01", "band": [40, 60]}),
    "limits": lambda archive, _: archive.put("frames", {"id": "F01", "limits": {"horizon_days": 30}}),
    "event": lambda archive, _: archive.put("events", {"frame": "F01", "time": "2026-02-01", "kind": "opened"}),
    "readings inside": lambda archive, files: archive.ingest(
        files.logger_file("2026-01-05T00:00"), name="inside_2.csv"
    ),
    "readings in the room": lambda archive, files: archive.ingest(
        files.logger_file(serial="AX-10002"), name="room_1.csv"
    ),
    "calibration": lambda archive, _: archive.put(
        "calibrations", {"logger": "L01", "date": "2026-01-01", "offset_percent": 1}
    ),
    "clock": lambda archive, _: archive.put(
        "clock_corrections", {"logger": "L02", "from": "2026-01-01", "add_seconds": 60}
    ),
    "placement": lambda archive, _: archive.put(
        "placements", {"logger": "L01", "from": "2026-01-02T00:00Z", "to": "2026-03-01"}
    ),
    "room": lambda archive, _: archive.put("locations", {"frame": "F01", "room": "R2", "from": "2026-02-01"}),
    "time zone": lambda archive, _: archive.put("collection", {"time_zone": "Europe/Paris"}),
    "undo": lambda archive, _: archive.undo(1),
}


@pytest.mark.parametrize("what", CHANGES)
def test_the_key_changes_with_everything_it_depends_on(local_archive: Archive, files: Any, what: str) -> None:
    local_archive.ingest(files.logger_file(), name="inside_1.csv")
    before = local_archive.findings_key("F01")
    assert local_archive.findings_key("F01") == before
    CHANGES[what](local_archive, files)
    assert local_archive.findings_key("F01") != before


def test_the_key_stays_where_another_frame_changes(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file(), name="inside_1.csv")
    before = archive.findings_key("F01")
    archive.put("frames", {"id": "F02", "band": [40, 60]})
    archive.put("loggers", {"id": "L03", "serial": "AX-10003", "time_zone": "UTC"})
    archive.put("placements", {"logger": "L03", "frame": "F02", "from": "2026-01-01"})
    archive.ingest(files.logger_file(serial="AX-10003"), name="three.csv")
    assert archive.findings_key("F01") == before
    assert archive.findings_keys()["F01"] == before
    assert set(archive.findings_keys()) == {"F01", "F02"}


def test_the_key_follows_the_frame_it_was_built_like(archive: Archive, files: Any) -> None:
    archive.put("frames", {"id": "F02", "construction": {"built_like": "F01"}})
    before, of_sister = archive.findings_keys()["F02"], archive.findings_key("F01")
    archive.ingest(files.logger_file(), name="inside_1.csv")
    assert archive.findings_key("F01") != of_sister
    assert archive.findings_key("F02") != before
    assert archive.findings_key("F02") == archive.findings_keys()["F02"]
    archive.put("frames", {"id": "F02", "construction": {"built_like": "F01", "board_kg": 0.3}})
    unchanged = archive.findings_key("F01")
    assert archive.findings_keys()["F01"] == unchanged


def test_undo_brings_back_the_key_and_with_it_the_finding(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file(), name="inside_1.csv")
    before = archive.findings_key("F01")
    archive.keep_findings("summary", {"F01": Finding(before, "2026-01-10", {"standing": "steady", "ä": [1, None]})})
    second = archive.ingest(files.logger_file("2026-01-05T00:00"), name="inside_2.csv")
    assert archive.kept_findings("summary")["F01"].key != archive.findings_key("F01")
    assert second.import_id is not None
    archive.undo(second.import_id)
    kept = archive.kept_findings("summary")["F01"]
    assert kept == Finding(archive.findings_key("F01"), "2026-01-10", {"standing": "steady", "ä": [1, None]})


def test_keeping_again_replaces_and_names_are_told_apart(archive: Archive) -> None:
    archive.keep_findings("one", {"F01": Finding("a", "", {"n": 1})})
    archive.keep_findings("one", {"F01": Finding("b", "", {"n": 2})})
    archive.keep_findings("two", {"F01": Finding("c", "", {"n": 3})})
    assert archive.kept_findings("one") == {"F01": Finding("b", "", {"n": 2})}
    assert archive.kept_findings("two", ["F02"]) == {}
    with pytest.raises(ValueError, match="JSON"):
        archive.keep_findings("one", {"F01": Finding("a", "", {"n": float("nan")})})
