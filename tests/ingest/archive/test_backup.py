"""A backup is the whole archive, and gives the same archive again, on either database."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import pytest

from isohume.ingest.archive import restoring
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError, NewerArchiveError
from isohume.ingest.archive.kinds import KINDS


def everything(archive: Archive, files: Any) -> dict[str, Any]:
    """Return all that an archive holds."""
    records = {kind: archive.records(kind) for kind in KINDS}
    return {
        "records": records,
        "imports": archive.imports(),
        "history": archive.history(),
        "readings": files.readings(archive),
        "originals": list(archive.originals.all_hashes()),
    }


@pytest.fixture
def filled(archive: Archive, files: Any) -> Archive:
    archive.ingest(files.logger_file(), name="inside_1.csv")
    archive.ingest(files.logger_file(rh=lambda _: 61.0), name="inside_2.csv")
    undone = archive.ingest(files.logger_file(serial="AX-10002"), name="room_1.csv")
    assert undone.import_id is not None
    archive.undo(undone.import_id)
    archive.put(
        "terms",
        {"id": "T1", "clauses": [{"air": "room", "quantity": "rh_percent", "kind": "range", "low": 45, "high": 55}]},
    )
    archive.keep_document(b"\x89PNG not really", name="back.png", frame="F01")
    return archive


@pytest.mark.parametrize("to", ["sqlite", "postgresql"])
def test_a_restored_archive_is_the_same(
    filled: Archive, files: Any, tmp_path: Path, to: str, empty_postgres_url: str
) -> None:
    done = filled.back_up(tmp_path / "backup.zip")
    assert done.n_files == 3 + 1 + 2  # originals, the document, the readings and what they shadow
    folder, url = tmp_path / "restored", empty_postgres_url if to == "postgresql" else ""
    restoring.restore(tmp_path / "backup.zip", folder, register_url=url)
    with Archive.open(folder) as restored:  # the address of the register stands in the folder
        assert restored.register.is_sqlite == (to == "sqlite")
        assert everything(restored, files) == everything(filled, files)
        assert restored.audit().problems == []
        # Numbers go on after the highest.
        again = restored.ingest(files.logger_file("2026-02-01T00:00"), name="inside_3.csv")
        assert again.import_id == 4


def test_a_damaged_backup_restores_nothing(filled: Archive, tmp_path: Path) -> None:
    target = tmp_path / "backup.zip"
    filled.back_up(target)
    with pytest.raises(ArchiveError, match="a new name"):
        filled.back_up(target)
    whole = target.read_bytes()
    with zipfile.ZipFile(target) as pack:
        members = sorted(pack.infolist(), key=lambda member: -member.compress_size)[:3]
    # Within what the members hold: a date in a header may change without harm.
    for place in [one.header_offset + 30 + len(one.filename) + one.compress_size // 2 for one in members]:
        target.write_bytes(whole[:place] + bytes([whole[place] ^ 255]) + whole[place + 1 :])
        with pytest.raises(ArchiveError, match="nothing was restored"):
            restoring.restore(target, tmp_path / "restored")
        assert not (tmp_path / "restored").exists()
    target.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(ArchiveError, match="a backup made by"):
        restoring.restore(target, tmp_path / "restored")
    assert [path.name for path in tmp_path.iterdir() if "restor" in path.name] == []


def test_whichever_byte_is_damaged_it_is_told_or_harmless(local_archive: Archive, files: Any, tmp_path: Path) -> None:
    local_archive.ingest(files.logger_file(), name="inside_1.csv")
    target = tmp_path / "backup.zip"
    local_archive.back_up(target)
    whole, n_refused = target.read_bytes(), 0
    for number, place in enumerate(range(7, len(whole), len(whole) // 60)):
        target.write_bytes(whole[:place] + bytes([whole[place] ^ 255]) + whole[place + 1 :])
        try:
            restoring.restore(target, tmp_path / f"restored_{number}")
        except ArchiveError:
            n_refused += 1
    assert n_refused > 30


def rewritten(source: Path, target: Path, change: Any) -> None:
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w") as new:
        for name in old.namelist():
            new.writestr(*change(name, old.read(name)))


def test_a_hostile_backup_writes_nothing_outside(local_archive: Archive, files: Any, tmp_path: Path) -> None:
    local_archive.ingest(files.logger_file(), name="inside_1.csv")
    local_archive.back_up(tmp_path / "backup.zip")

    def outside(name: str, data: bytes) -> tuple[str, bytes]:
        return ("originals/../../escaped" if name.startswith("originals/") else name), data

    rewritten(tmp_path / "backup.zip", tmp_path / "hostile.zip", outside)
    with pytest.raises(ArchiveError, match="a member named"):
        restoring.restore(tmp_path / "hostile.zip", tmp_path / "in" / "restored")
    assert not list(tmp_path.rglob("escaped"))


def test_a_backup_of_a_newer_version_is_refused(local_archive: Archive, tmp_path: Path) -> None:
    local_archive.back_up(tmp_path / "backup.zip")

    def newer(name: str, data: bytes) -> tuple[str, bytes]:
        return name, data.replace(
            b'"register_version": "', b'"register_version": "9'
        ) if name == "backup.json" else data

    rewritten(tmp_path / "backup.zip", tmp_path / "newer.zip", newer)
    with pytest.raises(NewerArchiveError, match="newer isohume"):
        restoring.restore(tmp_path / "newer.zip", tmp_path / "restored")


def test_nothing_is_restored_over_an_archive(local_archive: Archive, tmp_path: Path) -> None:
    local_archive.back_up(tmp_path / "backup.zip")
    with pytest.raises(ArchiveError, match="a new or empty folder"):
        restoring.restore(tmp_path / "backup.zip", local_archive.folder)
