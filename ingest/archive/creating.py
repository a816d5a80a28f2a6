"""Making an archive and opening one: location, version and the tie between folder and register."""

from __future__ import annotations

import secrets
import sqlite3
from pathlib import Path

import sqlalchemy as sa

from isohume.ingest.archive.errors import ArchiveError, ArchiveMissingError, NewerArchiveError
from isohume.ingest.archive.files import StepHook, storage_refusals, write_whole
from isohume.ingest.archive.holdings import DESCRIPTION, FOLDER_FORMAT, REGISTER_FILE, Description
from isohume.ingest.archive.models import Collection
from isohume.ingest.archive.session import Register
from isohume.ingest.archive.versions import NEWEST, migrate, refuse_newer, version_of


def create(folder: Path, *, register_url: str, on_step: StepHook) -> None:
    """Make an empty archive; an interrupted attempt leaves nothing that opens, and can be repeated.

    Raises
    ------
    ArchiveError
        The folder holds something else.
    """
    if (folder / DESCRIPTION).exists():
        raise ArchiveError(
            str(folder), found="an archive", expected="an empty or new folder", remedy="Open it, or choose another."
        )
    strangers = [path.name for path in folder.iterdir() if path.name != "archive-new"] if folder.is_dir() else []
    if [name for name in strangers if not name.startswith((REGISTER_FILE, "archive.toml", "."))]:
        raise ArchiveError(
            str(folder), found=f"other files ({', '.join(sorted(strangers)[:3])}, …)",
            expected="an empty or new folder", remedy="Choose another folder for the archive.",
        )  # fmt: skip
    with storage_refusals(folder):
        folder.mkdir(parents=True, exist_ok=True)
        # Left by an interrupted attempt: no description points to it yet.
        for path in folder.glob(f"{REGISTER_FILE}*"):
            path.unlink()
    url = sa.make_url(register_url) if register_url else sqlite_url(folder)
    archive_id = secrets.token_hex(16)
    if url.get_backend_name() == "sqlite":
        make_sqlite_file(folder / REGISTER_FILE)
    register = Register(url)
    try:
        if version_of(register):
            raise ArchiveError(
                f"register {url.render_as_string(hide_password=True)}", found="tables of another archive",
                expected="an empty database", remedy="Make a database for this archive, and give its address.",
            )  # fmt: skip
        migrate(register, on_step=on_step)
        with register.writing() as session:
            session.add(Collection(archive_id=archive_id))
        on_step("register made")
    finally:
        register.close()
    # The description comes last: without it there is no archive.
    address = shown_address(register_url) if register_url else ""
    text = Description(archive_id, FOLDER_FORMAT, address).text()
    write_whole(folder / DESCRIPTION, text.encode(), on_step=on_step, what="description")


def make_sqlite_file(path: Path) -> None:
    """Make an empty database whose readers and one writer do not wait for each other."""
    with storage_refusals(path):
        connection = sqlite3.connect(path)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.close()


def shown_address(register_url: str) -> str:
    """Return the address of a register without its password, which is not written down."""
    url = sa.make_url(register_url)
    query = {name: value for name, value in url.query.items() if name != "password"}
    # URL.set() takes None for "as it was".
    bare = sa.URL.create(url.drivername, url.username, None, url.host, url.port, url.database, query)
    return bare.render_as_string(hide_password=False)


def sqlite_url(folder: Path) -> sa.URL:
    """Return the address of the register file in an archive folder."""
    return sa.URL.create("sqlite", database=str(folder / REGISTER_FILE))


def open_register(folder: Path, *, register_url: str = "") -> Register:
    """Open the register that belongs to a folder, of whatever version.

    Raises
    ------
    ArchiveMissingError
        There is no archive in the folder.
    NewerArchiveError
        The folder's layout is newer than this isohume.
    ArchiveError
        Folder and register do not belong together.
    """
    if not (folder / DESCRIPTION).is_file():
        raise ArchiveMissingError(
            str(folder), found="no archive", expected=f"a folder with {DESCRIPTION}",
            remedy="Make one with `isohume archive create`, or name another with --archive.",
        )  # fmt: skip
    description = Description.read(folder)
    if description.folder_format > FOLDER_FORMAT:
        raise NewerArchiveError(
            str(folder), found=f"folder layout {description.folder_format}",
            expected=f"layout {FOLDER_FORMAT} or older", remedy="Install the newer isohume that wrote it.",
        )  # fmt: skip
    url = sa.make_url(register_url or description.register) if (register_url or description.register) else None
    if url is None and not (folder / REGISTER_FILE).is_file():
        raise ArchiveError(
            str(folder / REGISTER_FILE), found="no file", expected="the archive's register",
            remedy="Take the archive from a backup (`isohume restore`); the originals in the folder are safe.",
        )  # fmt: skip
    register = Register(url or sqlite_url(folder))
    try:
        found = version_of(register)
        refuse_newer(register, found)
        if found == NEWEST:
            refuse_stranger(register, description, folder)
    except BaseException:
        register.close()
        raise
    return register


def refuse_stranger(register: Register, description: Description, folder: Path) -> None:
    """Refuse a register that belongs to another folder.

    Raises
    ------
    ArchiveError
        The two carry different archive ids.
    """
    with register.reading() as session:
        found = session.scalar(sa.select(Collection.archive_id))
    if found != description.archive_id:
        raise ArchiveError(
            str(folder), found=f"a register of archive {found}", expected=f"that of {description.archive_id}",
            remedy="Give the address of the register that belongs to this folder.",
        )  # fmt: skip
