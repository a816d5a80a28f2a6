"""An import is whole or absent, recognised when it comes again, and leaves no trace in the readings once undone."""

from __future__ import annotations

import io
import threading
import zipfile
from typing import Any

import pytest

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.errors import LoggerFileError


def test_a_file_finds_its_logger_and_its_frame(archive: Archive, files: Any) -> None:
    result = archive.ingest(files.logger_file(), name="inside_2026-01.csv")
    assert result.status == "kept"
    (file,) = result.files
    assert (file.logger, file.n_new, file.n_equal, file.n_conflicting) == ("L01", 96, 0, 0)
    assert [(one.place, one.n_readings) for one in file.placed] == [("frame F01", 96)]
    assert archive.originals.bytes_of(result.sha256) == files.logger_file()
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_readings == 96
    assert record.rh_percent.iloc[:11].tolist() == pytest.approx([files.wave(row) for row in range(11)])


def test_the_same_bytes_again_change_nothing(archive: Archive, files: Any) -> None:
    first = archive.ingest(files.logger_file(), name="inside_1.csv")
    before = files.readings(archive)
    again = archive.ingest(files.logger_file(), name="copy of inside_1.csv")
    assert (again.status, again.import_id) == ("already kept", first.import_id)
    assert files.readings(archive) == before
    assert len(archive.imports()) == 1


def test_equal_readings_are_kept_once_and_undo_brings_back_the_same_bytes(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file(n_rows=96), name="inside_1.csv")
    before = files.readings(archive)
    second = archive.ingest(files.logger_file(n_rows=192), name="inside_2.csv")
    assert [(one.n_new, one.n_equal, one.n_conflicting) for one in second.files] == [(96, 96, 0)]
    assert second.import_id is not None
    archive.undo(second.import_id)
    assert files.readings(archive) == before
    assert archive.audit().problems == []


def test_of_conflicting_readings_the_earlier_stays_and_the_later_is_listed(archive: Archive, files: Any) -> None:
    first = archive.ingest(files.logger_file(n_rows=96), name="inside_1.csv")
    second = archive.ingest(files.logger_file(n_rows=100, rh=lambda _: 61.0), name="inside_2.csv")
    assert [(one.n_new, one.n_conflicting) for one in second.files] == [(4, 96)]
    record = archive.inside_record("F01")
    assert record is not None
    assert record.rh_percent.iloc[0] == 50.0
    assert record.flag_counts["conflicting time"] == 96
    listed = archive.conflicts()
    assert listed.height == 96
    assert listed["rh_percent"].unique().to_list() == [61.0]
    assert listed["kept_import"].unique().to_list() == [first.import_id]
    # Without the first import, the second one's readings are in force as if they had never been contradicted.
    assert first.import_id is not None
    archive.undo(first.import_id)
    record = archive.inside_record("F01")
    assert record is not None
    assert (record.rh_percent == 61.0).all()
    assert "conflicting time" not in record.flag_counts
    assert archive.audit().problems == []


def test_humidity_and_temperature_from_two_files_complete_each_other(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file(celsius=None), name="inside_rh.csv")
    before = files.readings(archive)
    second = archive.ingest(files.logger_file(rh=lambda row: None if row else 50.0), name="inside_t.csv")
    assert [(one.n_new, one.n_conflicting) for one in second.files] == [(96, 0)]
    record = archive.inside_record("F01")
    assert record is not None
    assert record.rh_percent.notna().all()
    assert record.temperature_celsius.notna().all()
    assert second.import_id is not None
    archive.undo(second.import_id)
    assert files.readings(archive) == before


def test_a_file_without_placement_is_kept_and_waits(archive: Archive, files: Any) -> None:
    archive.put("placements", {"logger": "L01", "from": "2026-01-02T00:00Z", "to": "2026-02-01T00:00Z"})
    result = archive.ingest(files.logger_file("2026-03-01T00:00"), name="inside_3.csv")
    assert result.status == "waiting"
    archive.put("placements", {"logger": "L01", "frame": "F01", "from": "2026-03-01T00:00Z"})
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_readings == 96


def test_readings_from_before_a_logger_went_in_are_kept_and_left_out(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file("2026-01-01T12:00", 96), name="inside_1.csv")  # placed at midnight
    record = archive.inside_record("F01")
    assert record is not None
    assert len(record.readings) == 48
    assert record.flag_counts["outside placement"] == 48
    assert (record.n_readings, record.n_excluded) == (96, 48)


def test_an_unknown_logger_is_asked_for_and_nothing_is_kept(archive: Archive, files: Any) -> None:
    data = files.logger_file(serial="ZZ-9")
    result = archive.ingest(data, name="export.csv")
    assert (result.status, result.import_id) == ("asks", None)
    ((_, question),) = result.questions
    assert question.id == "logger"
    assert [choice.value for choice in question.choices] == ["L01", "L02"]
    assert files.readings(archive) == {}
    assert archive.ingest(data, name="export.csv", logger="L02").status == "kept"


def test_signs_that_disagree_are_asked_about(archive: Archive, files: Any) -> None:
    result = archive.ingest(files.logger_file(serial="AX-10002"), name="inside_1.csv")
    assert result.status == "asks"
    assert "L02, L01" in result.questions[0][1].text


def test_a_pack_is_one_import_and_one_undo(archive: Archive, files: Any) -> None:
    pack = io.BytesIO()
    with zipfile.ZipFile(pack, "w") as writer:
        writer.writestr("inside_1.csv", files.logger_file())
        writer.writestr("room_1.csv", files.logger_file(serial="AX-10002"))
        writer.writestr("about.txt", b"These are the files of January.")
    result = archive.ingest(pack.getvalue(), name="january.zip")
    assert [file.logger for file in result.files] == ["L01", "L02"]
    assert len(result.refused) == 1
    assert archive.audit().problems == []
    assert result.import_id is not None
    archive.undo(result.import_id)
    assert files.readings(archive) == {}


def test_what_cannot_be_read_leaves_nothing(archive: Archive, files: Any) -> None:
    with pytest.raises(LoggerFileError):
        archive.ingest(b"Dear colleague, the file follows by post.\n", name="inside_letter.csv")
    assert archive.imports() == []
    assert list(archive.originals.all_hashes()) == []
    assert files.readings(archive) == {}


def test_undo_refuses_what_is_not_in_force(archive: Archive, files: Any) -> None:
    result = archive.ingest(files.logger_file(), name="inside_1.csv")
    assert result.import_id is not None
    archive.undo(result.import_id)
    with pytest.raises(ArchiveError, match="undone on"):
        archive.undo(result.import_id)
    with pytest.raises(ArchiveError, match="no such import"):
        archive.undo(99)
    assert archive.ingest(files.logger_file(), name="inside_1.csv").status == "kept"


def test_readings_span_years(archive: Archive, files: Any) -> None:
    archive.put(
        "placements", {"logger": "L01", "frame": "F01", "from": "2025-12-01T00:00Z", "to": "2026-01-02T00:00Z"}
    )
    archive.ingest(files.logger_file("2025-12-31T00:00", 192), name="inside_turn.csv")
    assert sorted(name.split("/")[1][:4] for name in files.readings(archive)) == ["2025", "2026"]
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_readings == 192


def test_two_writers_at_once_both_succeed(archive: Archive, files: Any, register_url: str) -> None:
    # Threads of one process here; two processes are tested with the faults.
    with Archive.open(archive.folder, register_url=register_url) as other:
        jobs = [
            threading.Thread(target=one.ingest, args=(files.logger_file(f"2026-01-{day:02}T00:00"),),
                             kwargs={"name": f"inside_{day}.csv"})
            for one, days in ((archive, (2, 4, 6)), (other, (3, 5, 7))) for day in days
        ]  # fmt: skip
        for job in jobs:
            job.start()
        for job in jobs:
            job.join()
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_readings == 6 * 96
    assert archive.audit().problems == []


def test_a_preview_says_what_would_happen_and_keeps_nothing(archive: Archive, files: Any) -> None:
    data = files.logger_file("2026-01-01T12:00")
    seen = archive.preview(data, name="inside_1.csv")
    assert (seen.already_kept, seen.questions, seen.refused) == (None, (), ())
    (file,) = seen.files
    assert (file.logger, file.reading.table.height) == ("L01", 96)
    assert archive.imports() == []
    assert list(archive.originals.all_hashes()) == []
    done = archive.ingest(data, name="inside_1.csv")
    assert done.files[0].placed == file.placed
    assert archive.preview(data, name="inside_1.csv").already_kept == done.import_id
    asked = archive.preview(files.logger_file(serial="ZZ-9"), name="export.csv")
    assert [question.id for _, question in asked.questions] == ["logger"]
