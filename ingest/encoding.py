"""From bytes to text: byte order marks, then UTF-16 without one, then strict UTF-8, then the Western code pages."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

from isohume.ingest.errors import LoggerFileError

# Longer marks first: UTF-32 LE begins like UTF-16 LE.
MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
ENCODINGS = ("utf-8", "cp1252", "latin-1", "utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be")
HEAD = 4096
UNDEFINED_IN_CP1252 = b"\x81\x8d\x8f\x90\x9d"
# Where a file is neither plain ASCII nor sound UTF-8, its two ends decide which it was meant to be.
WINDOW = 1 << 19
UTF8_SEQUENCE = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
# In UTF-16 text of digits every second byte is zero; a few stray zeros are not UTF-16.
UTF16_ZEROS = 0.7
# Text holds next to no control characters beside tab and line ends; a program or a picture is full of them.
MOST_CONTROL = 0.05
TEXT_CONTROLS = frozenset(b"\t\n\r\f\v\x1a\x1b")


@dataclass(frozen=True, slots=True, kw_only=True)
class DecodedText:
    """The text of a file as UTF-8 with plain line ends, and the encoding it was found in.

    `n_damaged` counts characters that the encoding could not read.
    """

    utf8: bytes
    encoding: str
    n_damaged: int = 0


def decode(content: bytes, *, file: str, encoding: str | None = None) -> DecodedText:
    """Decode a file, in the encoding given or in the one its bytes show.

    Raises
    ------
    LoggerFileError
        The file is empty or holds no text.
    """
    blank = b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"
    if not content[:HEAD].strip(blank) and not content.strip(blank):
        raise LoggerFileError(
            file=file, found="an empty file", expected="readings", remedy="Export the readings again, or leave it out."
        )
    found = encoding or find_encoding(content)
    for mark, name in MARKS:
        if name == found and content.startswith(mark):
            content = content[len(mark) :]
            break
    utf8, n_damaged = _to_utf8(content, found)
    _refuse_binary(utf8[:HEAD], file=file)
    return DecodedText(utf8=_with_plain_line_ends(utf8), encoding=found, n_damaged=n_damaged)


def find_encoding(content: bytes) -> str:
    """Return the encoding that the bytes show, one of `ENCODINGS`."""
    for mark, name in MARKS:
        if content.startswith(mark):
            return name
    head = content[:HEAD]
    even, odd = head[0::2], head[1::2]
    if odd and odd.count(0) >= UTF16_ZEROS * len(odd) and even.count(0) < len(even) / 10:
        return "utf-16-le"
    if even and even.count(0) >= UTF16_ZEROS * len(even) and odd.count(0) < len(odd) / 10:
        return "utf-16-be"
    return "utf-8" if _is_meant_as_utf8(content) else _code_page(content)


def _is_meant_as_utf8(content: bytes) -> bool:
    """Whether the text is sound UTF-8, or was before a few bytes were damaged."""
    first, last = _beyond_ascii(content)
    try:
        content[first:last].decode("utf-8")
    except UnicodeDecodeError:
        ends = content[:WINDOW] + content[-WINDOW:]
        n_whole = sum(len(found) for found in UTF8_SEQUENCE.findall(ends))
        n_high = len(ends.translate(None, bytes(range(128))))
        return n_whole > n_high / 2
    return True


def _beyond_ascii(content: bytes) -> tuple[int, int]:
    """Return where the text begins and ends that is not plain ASCII: in nearly all logger files a few lines."""
    starts = [start for start in range(0, len(content), WINDOW) if not content[start : start + WINDOW].isascii()]
    return (starts[0], starts[-1] + WINDOW) if starts else (0, 0)


def _code_page(content: bytes) -> str:
    # These five have no meaning in cp1252.
    return "latin-1" if any(bytes([byte]) in content for byte in UNDEFINED_IN_CP1252) else "cp1252"


def _to_utf8(content: bytes, encoding: str) -> tuple[bytes, int]:
    """Return the text as UTF-8, and how many characters could not be read."""
    if encoding.startswith(("utf-16", "utf-32")):
        text = content.decode(encoding, errors="replace")
        # A lone surrogate, possible in damaged UTF-16, has no UTF-8 form.
        return text.encode("utf-8", errors="replace"), text.count("\ufffd")
    first, last = _beyond_ascii(content)
    text = content[first:last].decode(encoding, errors="replace")
    n_damaged = text.count("\ufffd")
    if first == last or (encoding == "utf-8" and not n_damaged):
        return content, 0
    view = memoryview(content)  # its slices are no copies
    return b"".join((view[:first], text.encode("utf-8"), view[last:])), n_damaged


def _refuse_binary(head: bytes, *, file: str) -> None:
    controls = sum(byte < 32 and byte not in TEXT_CONTROLS for byte in head)
    if controls > MOST_CONTROL * len(head):
        raise LoggerFileError(
            file=file,
            found=f"binary data ({controls} control characters in the first {len(head)} bytes)",
            expected="text or an .xlsx workbook",
            remedy="Export the readings as CSV from the logger's own software.",
        )


def _with_plain_line_ends(utf8: bytes) -> bytes:
    if b"\r" not in utf8:
        return utf8
    utf8 = utf8.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n")
    if b"\n" not in utf8:
        return utf8.replace(b"\r", b"\n")
    # A lone carriage return within a line is noise; polars would keep it in the cell.
    return utf8.replace(b"\r", b" ")
