"""Files that are there whole or not at all: temporary file, fsync, rename."""

from __future__ import annotations

import hashlib
import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from isohume.ingest.archive.errors import StorageError

# Called with the name of each step just taken; tests end the process there.
StepHook = Callable[[str], None]
TEMPORARY_SUFFIX = ".part-written"


def no_hook(_step: str) -> None:
    """Take a step without remark."""


def sha256_of_bytes(data: bytes) -> str:
    """Return the SHA-256 of some bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def sha256_of_file(path: Path) -> str:
    """Return the SHA-256 of a file as 64 hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sync_folder(folder: Path) -> None:
    """Make a rename in this folder survive a power cut, where the system lets a folder be synced."""
    if os.name == "nt":  # Windows syncs the rename with the file
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def write_whole(path: Path, data: bytes, *, on_step: StepHook = no_hook, what: str = "file") -> None:
    """Write a file so that after any interruption it is there with all its bytes, or not there.

    Raises
    ------
    StorageError
        The disk is full, read-only or gone; the temporary file is removed.
    """
    with storage_refusals(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        temporary = path.with_name(f"{path.name[:40]}-{secrets.token_hex(4)}{TEMPORARY_SUFFIX}")
        try:
            with temporary.open("xb") as file:
                file.write(data[: len(data) // 2])
                on_step(f"{what} half written")
                file.write(data[len(data) // 2 :])
                file.flush()
                os.fsync(file.fileno())
            on_step(f"{what} written")
            temporary.replace(path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
        sync_folder(path.parent)
    on_step(f"{what} in place")


@contextmanager
def storage_refusals(path: Path) -> Iterator[None]:
    """Turn the system's refusal to write into one sentence that says what to do."""
    try:
        yield
    except OSError as error:
        raise StorageError(
            str(error.filename or path),
            found=f'"{error.strerror or error}"',
            expected="a folder that can be written to, with space left",
            remedy="Free space or correct the permissions, then repeat; nothing was kept of this attempt.",
        ) from error


def remove_if_possible(path: Path) -> bool:
    """Remove a derived file; False where another process still holds it (Windows), to be swept later."""
    try:
        path.unlink(missing_ok=True)
    except OSError:
        return False
    return True
