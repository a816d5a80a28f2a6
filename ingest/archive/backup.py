"""The whole archive in one file: originals, documents, papers, readings and the register's tables."""

from __future__ import annotations

import json
import secrets
import zipfile
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import sqlalchemy as sa

from isohume.ingest.archive import register_dump
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.files import (
    TEMPORARY_SUFFIX,
    sha256_of_bytes,
    storage_refusals,
    sync_folder,
)
from isohume.ingest.archive.holdings import Description, Holdings, utc_now
from isohume.ingest.archive.models_imports import Part
from isohume.ingest.archive.rebuild import Progress, no_progress
from isohume.ingest.archive.session import Register
from isohume.ingest.archive.versions import version_of

FORMAT = "isohume.backup.1"
CONTENTS = "backup.json"
FOLDERS = ("originals", "documents", "papers", "readings")


@dataclass(frozen=True, slots=True)
class BackupResult:
    """What a backup holds."""

    file: Path
    n_files: int
    n_bytes: int

    def report(self) -> str:
        """Return the result as one line."""
        return f"{self.file}: {self.n_files} files and the register, {self.n_bytes / 1e6:.1f} MB."


def back_up(holdings: Holdings, target: Path, *, progress: Progress = no_progress) -> BackupResult:
    """Write the archive into one file; imports wait meanwhile.

    Raises
    ------
    StorageError
        The target cannot be written.
    ArchiveError
        The target exists.
    """
    if target.exists():
        raise ArchiveError(str(target), found="a file", expected="a new name", remedy="Choose another name.")
    temporary = target.with_name(f"{target.name}-{secrets.token_hex(4)}{TEMPORARY_SUFFIX}")
    with storage_refusals(target):
        try:
            with holdings.register.writing() as session:
                named = {path for part in session.scalars(sa.select(Part)) for path in holdings.readings.paths(part)}
                files = [path for path in _files(holdings.folder) if path.suffix != ".parquet" or path in named]
                with zipfile.ZipFile(temporary, "x", zipfile.ZIP_DEFLATED, compresslevel=6) as pack:
                    _write_register(session.connection(), pack, holdings.folder, whole=True)
                    for done, path in enumerate(files):
                        progress(done, len(files))
                        kind = zipfile.ZIP_STORED if path.suffix == ".parquet" else zipfile.ZIP_DEFLATED
                        pack.write(path, path.relative_to(holdings.folder).as_posix(), kind)
            temporary.replace(target)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
    sync_folder(target.parent)
    progress(len(files), len(files))
    return BackupResult(target, len(files), target.stat().st_size)


def back_up_register(folder: Path, register: Register) -> Path:
    """Keep the register's tables in the folder's `backups/` before they are changed."""
    with register.reading() as session:
        found = version_of(register)
        target = folder / "backups" / f"register-{found}-{utc_now():%Y%m%dT%H%M%S%f}.zip"
        with storage_refusals(target):
            target.parent.mkdir(exist_ok=True)
            temporary = target.with_name(target.name + TEMPORARY_SUFFIX)
            with zipfile.ZipFile(temporary, "w", zipfile.ZIP_DEFLATED) as pack:
                _write_register(session.connection(), pack, folder, whole=False)
            temporary.replace(target)
            sync_folder(target.parent)
    return target


def _files(folder: Path) -> list[Path]:
    found = [path for name in FOLDERS for path in sorted((folder / name).rglob("*")) if path.is_file()]
    return [path for path in found if path.suffix != TEMPORARY_SUFFIX]


def _write_register(connection: sa.Connection, pack: zipfile.ZipFile, folder: Path, *, whole: bool) -> None:
    tables = dict(register_dump.dump(connection))
    contents = {
        "format": FORMAT,
        "whole": whole,
        "isohume_version": version("isohume"),
        "register_version": connection.scalar(sa.text("SELECT version_num FROM alembic_version")),
        "archive_id": Description.read(folder).archive_id,
        "made_utc": f"{utc_now():%Y-%m-%dT%H:%M:%SZ}",
        "tables": {name: sha256_of_bytes(text.encode()) for name, text in tables.items()},
    }
    pack.writestr(CONTENTS, json.dumps(contents, indent=2))
    for name, text in tables.items():
        pack.writestr(f"register/{name}.jsonl", text)
