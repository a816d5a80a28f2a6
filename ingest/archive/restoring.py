"""An archive made again from a backup, in one step that is done or not done."""

from __future__ import annotations

import json
import secrets
import shutil
import sqlite3
import zipfile
import zlib
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from isohume.ingest.archive import register_dump
from isohume.ingest.archive.backup import CONTENTS, FOLDERS, FORMAT
from isohume.ingest.archive.creating import make_sqlite_file, shown_address, sqlite_url
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.files import sha256_of_bytes, storage_refusals, sync_folder, write_whole
from isohume.ingest.archive.holdings import DESCRIPTION, FOLDER_FORMAT, REGISTER_FILE, Description, utc_now
from isohume.ingest.archive.rebuild import Progress, no_progress
from isohume.ingest.archive.session import Register
from isohume.ingest.archive.versions import migrate, refuse_newer

# What reading a damaged member ends in, whichever of its bytes it is.
DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)


def restore(source: Path, folder: Path, *, register_url: str = "", progress: Progress = no_progress) -> None:
    """Make an archive from a backup; after an interruption there is none, and it can be repeated.

    Parameters
    ----------
    source : Path
        A backup of a whole archive.
    folder : Path
        New or empty.
    register_url : str
        An empty PostgreSQL database; "" for a register in the folder.

    Raises
    ------
    ArchiveError
        The file is no backup, is damaged, or the folder is not empty.
    NewerArchiveError
        A newer isohume made the backup.
    """
    if folder.exists() and any(folder.iterdir()):
        raise ArchiveError(
            str(folder), found="files", expected="a new or empty folder",
            remedy="Restore beside it, look at the result, then exchange the folders yourself.",
        )  # fmt: skip
    with storage_refusals(folder), _opened(source) as pack:
        contents = _contents(pack, source)
        if not contents["whole"]:
            raise _no_backup(source, "a backup of the register alone, which goes back with --register-only")
        making = folder.with_name(f"{folder.name}-restoring-{secrets.token_hex(4)}")
        making.mkdir(parents=True)
        try:
            _unpack(pack, making, source, progress)
            if not register_url:
                make_sqlite_file(making / REGISTER_FILE)
            _fill(pack, contents, Register(register_url or sqlite_url(making)), source)
            _describe(making, contents["archive_id"], register_url)
            if folder.exists():
                folder.rmdir()
            making.replace(folder)
        except BaseException:
            shutil.rmtree(making, ignore_errors=True)
            raise
    sync_folder(folder.parent)


def restore_register(source: Path, folder: Path, *, register_url: str = "") -> None:
    """Put a register back into its archive folder, as before a migration; the one there is set aside.

    Parameters
    ----------
    source : Path
        Any backup of this archive.
    folder : Path
        The archive, which no other process may have open.
    register_url : str
        An empty PostgreSQL database to put it into; "" for the file in the folder.

    Raises
    ------
    ArchiveError
        The backup is of another archive, or damaged.
    """
    description = Description.read(folder)
    with storage_refusals(folder), _opened(source) as pack:
        contents = _contents(pack, source)
        if contents["archive_id"] != description.archive_id:
            raise _no_backup(source, "a backup of another archive")
        if register_url:
            _fill(pack, contents, Register(register_url), source)
        else:
            making = folder / f"register-restoring-{secrets.token_hex(4)}"
            make_sqlite_file(making)
            try:
                _fill(pack, contents, Register(sa.URL.create("sqlite", database=str(making))), source)
                (folder / "backups").mkdir(exist_ok=True)
                if (folder / REGISTER_FILE).exists():
                    aside = folder / "backups" / f"set-aside-{utc_now():%Y%m%dT%H%M%S%f}.sqlite3"
                    _checkpoint(folder / REGISTER_FILE)
                    (folder / REGISTER_FILE).replace(aside)
                making.replace(folder / REGISTER_FILE)
            finally:
                making.unlink(missing_ok=True)
        _describe(folder, description.archive_id, register_url)


def _checkpoint(register: Path) -> None:
    """Move what stands in the write-ahead log into the database file, which is then whole by itself."""
    connection = sqlite3.connect(register)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()


def _describe(folder: Path, archive_id: str, register_url: str) -> None:
    address = shown_address(register_url) if register_url else ""
    write_whole(folder / DESCRIPTION, Description(archive_id, FOLDER_FORMAT, address).text().encode())


def _opened(source: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(source)
    except (zipfile.BadZipFile, FileNotFoundError) as error:
        raise _no_backup(source, str(error)) from None


def _contents(pack: zipfile.ZipFile, source: Path) -> dict[str, Any]:
    try:
        contents: dict[str, Any] = json.loads(pack.read(CONTENTS))
        if contents["format"] != FORMAT:
            raise _no_backup(source, f"format {contents['format']}")
    except (KeyError, ValueError, *DAMAGED) as error:
        raise _no_backup(source, str(error)) from None
    return contents


def _unpack(pack: zipfile.ZipFile, folder: Path, source: Path, progress: Progress) -> None:
    members = [member for member in pack.infolist() if member.filename.split("/")[0] in FOLDERS]
    for done, member in enumerate(members):
        progress(done, len(members))
        parts = member.filename.split("/")
        # Names are ours or the file is none of ours: nothing may land outside the folder.
        if len(parts) != 3 or any(part in {"", ".", ".."} or "\\" in part or ":" in part for part in parts):
            raise _no_backup(source, f"a member named {member.filename}")
        data = _member(pack, member.filename, source)
        if parts[0] != "readings" and sha256_of_bytes(data) != parts[2]:
            raise _no_backup(source, f"other bytes in {member.filename} than were backed up")
        target = folder.joinpath(*parts)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    progress(len(members), len(members))


def _member(pack: zipfile.ZipFile, name: str, source: Path) -> bytes:
    try:
        return pack.read(name)  # its checksum is verified on the way
    except (KeyError, *DAMAGED) as error:
        raise _no_backup(source, str(error)) from None


def _fill(pack: zipfile.ZipFile, contents: dict[str, Any], register: Register, source: Path) -> None:
    try:
        refuse_newer(register, contents["register_version"])
        tables = {name: _member(pack, f"register/{name}.jsonl", source) for name in contents["tables"]}
        for name, data in tables.items():
            if sha256_of_bytes(data) != contents["tables"][name]:
                raise _no_backup(source, f"other rows in table {name} than were backed up")
        migrate(register, to=contents["register_version"])
        register_dump.load(register, {name: data.decode() for name, data in tables.items()})
        migrate(register)
    finally:
        register.close()


def _no_backup(source: Path, found: str) -> ArchiveError:
    return ArchiveError(
        str(source), found=found, expected="a backup made by `isohume backup`",
        remedy="Use another backup; nothing was restored.",
    )  # fmt: skip
