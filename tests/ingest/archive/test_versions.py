"""The register's version: tables and models agree, an old one is brought up to date, a newer one refused."""

from __future__ import annotations

from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

import isohume.ingest.archive.models
import isohume.ingest.archive.models_imports
import isohume.ingest.archive.models_register
from isohume.ingest.archive import creating, restoring
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.columns import Base
from isohume.ingest.archive.errors import ArchiveError, ArchiveMissingError, NewerArchiveError
from isohume.ingest.archive.session import Register
from isohume.ingest.archive.versions import KNOWN, NEWEST, migrate, version_of


def test_the_newest_version_is_the_newest_migration() -> None:
    folder = Path(isohume.ingest.archive.models.__file__).parent / "migrations"
    revisions = [script.revision for script in ScriptDirectory(str(folder)).walk_revisions()]
    assert revisions[0] == NEWEST
    assert tuple(reversed(revisions)) == KNOWN


def test_migrations_make_the_tables_that_the_models_name(archive: Archive) -> None:
    with archive.register.reading() as session:
        context = MigrationContext.configure(session.connection(), opts={"compare_type": False})
        assert compare_metadata(context, Base.metadata) == []


def old_archive(folder: Path, register_url: str) -> None:
    """Make an archive as version 0001 left it, with one room."""
    creating.create(folder, register_url=register_url, on_step=lambda _step: None)
    register = creating.open_register(folder, register_url=register_url)
    archive_id = creating.Description.read(folder).archive_id
    with register.writing() as session:
        if register.is_sqlite:
            for table in reversed(sa.inspect(session.connection()).get_table_names()):
                session.execute(sa.text("PRAGMA defer_foreign_keys = ON"))
                session.execute(sa.text(f'DROP TABLE "{table}"'))
        else:
            session.execute(sa.text("DROP SCHEMA public CASCADE"))
            session.execute(sa.text("CREATE SCHEMA public"))
    migrate(register, to="0001")
    with register.writing() as session:
        session.execute(
            sa.text("INSERT INTO collection (archive_id, name, time_zone, invented, second_signature) "
                    "VALUES (:id, 'Old', 'Europe/Berlin', :no, :no)"), {"id": archive_id, "no": False},
        )  # fmt: skip
        session.execute(sa.text("INSERT INTO rooms (id, name, note) VALUES ('R1', 'North', '')"))
    register.close()


def test_an_old_archive_is_backed_up_and_brought_up_to_date(tmp_path: Path, register_url: str) -> None:
    folder = tmp_path / "old"
    old_archive(folder, register_url)
    with Archive.open(folder, register_url=register_url) as archive:
        assert version_of(archive.register) == NEWEST
        assert archive.records("rooms") == [{"id": "R1", "name": "North", "note": ""}]
        assert archive.put("venues", {"id": "V1"}) == "added"
        assert "brought up to date" in archive.remarks[0]
    (kept,) = (folder / "backups").iterdir()
    assert kept.name.startswith("register-0001-")
    with Archive.open(folder, register_url=register_url) as archive:
        assert archive.remarks == ()


def test_the_register_can_be_put_back_as_it_was_before(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    old_archive(folder, "")
    with Archive.open(folder) as archive:
        archive.put("rooms", {"id": "R2"})
    (kept,) = (folder / "backups").iterdir()
    restoring.restore_register(kept, folder)
    with Archive.open(folder) as archive:
        assert [room["id"] for room in archive.records("rooms")] == ["R1"]
        assert archive.audit().problems == []


def test_a_newer_archive_is_refused_and_not_touched(archive: Archive, register_url: str) -> None:
    with archive.register.writing() as session:
        session.execute(sa.text("UPDATE alembic_version SET version_num = '0099'"))
    with pytest.raises(NewerArchiveError, match="A newer isohume wrote this archive"):
        Archive.open(archive.folder, register_url=register_url)


def test_a_newer_folder_is_refused(local_archive: Archive) -> None:
    path = local_archive.folder / "archive.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace("folder_format = 1", "folder_format = 2"), encoding="utf-8"
    )
    with pytest.raises(NewerArchiveError, match="folder layout 2"):
        Archive.open(local_archive.folder)


def test_a_register_of_another_archive_is_refused(tmp_path: Path, local_archive: Archive) -> None:
    with Archive.create(tmp_path / "other") as other:
        stranger = other.register.url.render_as_string(hide_password=False)
    with pytest.raises(ArchiveError, match="a register of archive"):
        Archive.open(local_archive.folder, register_url=stranger)


def test_what_is_no_archive_is_said(tmp_path: Path) -> None:
    with pytest.raises(ArchiveMissingError, match="isohume archive create"):
        Archive.open(tmp_path / "nowhere")
    (tmp_path / "letter.txt").write_text("Dear all")
    with pytest.raises(ArchiveError, match="other files"):
        Archive.create(tmp_path)
    folder = tmp_path / "emptied"
    Archive.create(folder).close()
    (folder / "register.sqlite3").unlink()
    with pytest.raises(ArchiveError, match="the originals in the folder are safe"):
        Archive.open(folder)


def test_a_password_is_not_written_down() -> None:
    assert creating.shown_address("postgresql+psycopg://museum:secret@db/register") == (
        "postgresql+psycopg://museum@db/register"
    )
    assert "secret" not in creating.shown_address("postgresql+psycopg://db/register?password=secret&sslmode=require")


def test_an_unreachable_register_is_said() -> None:
    register = Register("postgresql+psycopg://isohume@127.0.0.1:1/none")
    with pytest.raises(ArchiveError, match="Check that the database runs"), register.reading() as session:
        session.execute(sa.text("SELECT 1"))
