"""Where the bytes come from: a file, standard input, a .gz, a .zip of several, with bounds on what they unfold to."""

from __future__ import annotations

import hashlib
import io
import zipfile
import zlib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from isohume.ingest.errors import LoggerFileError

# A century of readings every minute is about 2 GB of text; one logger file beyond 1 GiB is a mistake or an attack.
MOST_BYTES = 1 << 30
MOST_MEMBERS = 1000
# Logger text compresses 5 to 40 times; 300 leaves room for constant readings, and a bomb reaches 1000 and more.
LARGEST_RATIO = 300
# Below this an extreme ratio does no harm.
HARMLESS_BYTES = 1 << 20
BLOCK = 1 << 20
# Hashing 4 MB takes a few milliseconds, more than starting a thread.
HASHED_BESIDE = 1 << 22

GZIP_MAGIC = b"\x1f\x8b"
ZIP_MAGIC = (b"PK\x03\x04", b"PK\x05\x06")  # with members, and without
SPREADSHEET_MEMBER = "xl/workbook.xml"
# First bytes of things people drop by mistake, and what to do about each.
FOREIGN = (
    (b"%PDF", "a PDF document", "Export the readings as CSV or .xlsx instead."),
    (b"\xd0\xcf\x11\xe0", "an old binary office file", "Open it and save it as .xlsx or CSV."),
    (b"\x89PNG", "a picture", "Export the readings as CSV or .xlsx instead."),
    (b"\xff\xd8\xff", "a picture", "Export the readings as CSV or .xlsx instead."),
    (b"SQLite format 3", "a database", "Export the readings as CSV."),
    (b"PAR1", "a Parquet file", "Save its table as CSV."),
    (b"7z\xbc\xaf", "a 7z archive", "Unpack it, or pack the files as .zip."),
    (b"Rar!", "a RAR archive", "Unpack it, or pack the files as .zip."),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceFile:
    """The bytes of one logger file as received.

    Attributes
    ----------
    name : str
        As shown to people; a member of an archive is `pack.zip/member.csv`.
    content : bytes
        What the file holds, unpacked.
    digest : callable
        Gives the hash of the bytes as received (of the member, for a .zip; of the .gz itself, for a .gz).
    is_spreadsheet : bool
        The content is an .xlsx workbook.
    """

    name: str
    content: bytes
    digest: Callable[[], str]
    is_spreadsheet: bool = False

    @property
    def sha256(self) -> str:
        """The hash, as soon as it is known."""
        return self.digest()


def hashing(content: bytes) -> Callable[[], str]:
    """Hash the bytes, large ones beside other work, and return what gives the hash."""
    if len(content) < HASHED_BESIDE:
        value = sha256_of(content)
        return lambda: value
    pool = ThreadPoolExecutor(1)
    future = pool.submit(sha256_of, content)
    pool.shutdown(wait=False)
    return future.result


def open_source(source: Path | bytes, *, name: str) -> Iterator[SourceFile | LoggerFileError]:
    """Yield the logger files that a source holds; an error in place of a member that cannot be unpacked.

    Raises
    ------
    LoggerFileError
        The source is missing, is a folder, is too large, or is damaged.
    """
    content = source if isinstance(source, bytes) else _bytes_of(source, name)
    if len(content) > MOST_BYTES:
        raise _too_large(name, len(content))
    for magic, what, remedy in FOREIGN:
        if content.startswith(magic):
            raise LoggerFileError(file=name, found=what, expected="text or an .xlsx workbook", remedy=remedy)
    if not content.startswith(ZIP_MAGIC):
        single = [_one_file(content, name)]
        del content  # a generator at rest would keep the bytes in memory while their text is read
        yield single.pop()
        return
    with _opened(content, name) as archive:
        if SPREADSHEET_MEMBER in archive.namelist():
            _check_sizes(archive, name)
            yield SourceFile(name=name, content=content, digest=hashing(content), is_spreadsheet=True)
        else:
            yield from _members(archive, name)


def sha256_of(content: bytes) -> str:
    """Return the SHA-256 of the bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def _bytes_of(path: Path, name: str) -> bytes:
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise _too_large(name, size)
        return path.read_bytes()
    except FileNotFoundError:
        raise LoggerFileError(
            file=name, found="no such file", expected="a logger file", remedy="Check the name and the folder."
        ) from None
    except (IsADirectoryError, PermissionError) as error:
        # Windows answers a folder with PermissionError, too.
        is_folder = path.is_dir()
        raise LoggerFileError(
            file=name,
            found="a folder" if is_folder else f"no permission to read it ({error.strerror})",
            expected="a logger file",
            remedy="Name the files in it." if is_folder else "Ask for permission, or copy it elsewhere.",
        ) from None
    except OSError as error:
        raise LoggerFileError(
            file=name, found=str(error.strerror), expected="a readable file", remedy="Copy it to this machine first."
        ) from None


def _one_file(content: bytes, name: str) -> SourceFile:
    if not content.startswith(GZIP_MAGIC):
        return SourceFile(name=name, content=content, digest=hashing(content))
    unpacked = _gunzip(content, name)
    return SourceFile(
        name=name,
        content=unpacked,
        digest=hashing(content),
        is_spreadsheet=unpacked.startswith(ZIP_MAGIC) and _is_workbook(unpacked),
    )


def _is_workbook(content: bytes) -> bool:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            _check_sizes(archive, "workbook")
            return SPREADSHEET_MEMBER in archive.namelist()
    except (zipfile.BadZipFile, LoggerFileError):
        return False


def _gunzip(content: bytes, name: str) -> bytes:
    limit = _most_unpacked(len(content))
    parts: list[bytes] = []
    total, rest = 0, content
    try:
        while rest.startswith(GZIP_MAGIC):  # several members may follow each other
            unpacker = zlib.decompressobj(wbits=31)
            block = unpacker.decompress(rest, BLOCK)
            while block:
                parts.append(block)
                total += len(block)
                if total > limit:
                    raise _unfolds(name, len(content), limit)
                block = unpacker.decompress(unpacker.unconsumed_tail, BLOCK)
            rest = unpacker.unused_data if unpacker.eof else _cut_short()
    except zlib.error as error:
        raise LoggerFileError(
            file=name, found=f"a damaged .gz ({error})", expected="a complete .gz", remedy="Copy the file again."
        ) from None
    return b"".join(parts)


def _cut_short() -> bytes:
    raise zlib.error("it ends too early")


def _opened(content: bytes, name: str) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(io.BytesIO(content))
    except (zipfile.BadZipFile, ValueError, NotImplementedError) as error:
        raise LoggerFileError(
            file=name, found=f"a damaged .zip ({error})", expected="a complete .zip", remedy="Copy the file again."
        ) from None


def _check_sizes(archive: zipfile.ZipFile, name: str) -> None:
    members = archive.infolist()
    if len(members) > MOST_MEMBERS:
        raise LoggerFileError(
            file=name,
            found=f"{len(members)} members",
            expected=f"no more than {MOST_MEMBERS} in one .zip",
            remedy="Split it into smaller archives.",
        )
    packed = sum(member.compress_size for member in members)
    if sum(member.file_size for member in members) > _most_unpacked(packed):
        raise _unfolds(name, packed, _most_unpacked(packed))


def _members(archive: zipfile.ZipFile, name: str) -> Iterator[SourceFile | LoggerFileError]:
    _check_sizes(archive, name)
    for member in archive.infolist():
        inside = PurePosixPath(member.filename)
        if member.is_dir() or inside.name.startswith(".") or "__MACOSX" in inside.parts:
            continue
        label = f"{name}/{member.filename}"
        try:
            # The size in the directory may lie: never read more than it promised.
            with archive.open(member) as stream:
                content = stream.read(member.file_size + 1)
        except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError) as error:
            yield LoggerFileError(
                file=label, found=str(error), expected="a readable member", remedy="Unpack the .zip and try the file."
            )
            continue
        if content.startswith(ZIP_MAGIC) and not _is_workbook(content):
            yield LoggerFileError(
                file=label, found="a .zip within a .zip", expected="logger files", remedy="Unpack the inner .zip."
            )
            continue
        try:
            yield from open_source(content, name=label)
        except LoggerFileError as error:
            yield error


def _most_unpacked(packed: int) -> int:
    return min(MOST_BYTES, max(HARMLESS_BYTES, LARGEST_RATIO * packed))


def _too_large(name: str, size: int) -> LoggerFileError:
    return LoggerFileError(
        file=name,
        found=f"{size / 1e6:.0f} MB",
        expected=f"no more than {MOST_BYTES / 1e6:.0f} MB in one file",
        remedy="Export a shorter period.",
    )


def _unfolds(name: str, packed: int, limit: int) -> LoggerFileError:
    return LoggerFileError(
        file=name,
        found=f"{packed} packed bytes that unfold to more than {limit}",
        expected=f"content no more than {LARGEST_RATIO} times its packed size",
        remedy="Unpack it yourself if you trust it, and read the files in it.",
    )
