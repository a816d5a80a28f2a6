"""Photographs of frames: told by their content, kept as received, given back with the type they really have."""

from __future__ import annotations

import hashlib
import io
import warnings

from isohume.ingest.archive.archive import Archive

MOST_BYTES = 20_000_000
# More pixels than this are no photograph for a page, but a way to fill a server's memory.
MOST_PIXELS = 120_000_000
TYPES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
# The first bytes of each format; WebP carries its name after a length.
_STARTS = {"JPEG": b"\xff\xd8\xff", "PNG": b"\x89PNG\r\n\x1a\n", "WEBP": b"RIFF"}


class NotAPhotographError(ValueError):
    """The bytes are no photograph that a page can show; the message says what is taken."""


def image_type(data: bytes) -> str:
    """Return the media type of a photograph, told by its content and never by its name.

    Raises
    ------
    NotAPhotographError
        It is no JPEG, PNG or WebP, is damaged, or holds more pixels than a page can show.
    """
    from PIL import Image, UnidentifiedImageError

    formats = [name for name, start in _STARTS.items() if data.startswith(start)]
    if not formats:
        raise NotAPhotographError("This is no JPEG, PNG or WebP picture. Save it as one of these and send it again.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=formats) as picture:
                n_pixels = picture.width * picture.height
                picture.verify()
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise NotAPhotographError("This picture is damaged. Open it elsewhere, save it anew and send it.") from error
    except Image.DecompressionBombWarning:
        n_pixels = MOST_PIXELS + 1
    if n_pixels > MOST_PIXELS:
        raise NotAPhotographError(
            f"This picture has over {MOST_PIXELS // 1_000_000} million pixels. Send a smaller one."
        )
    return TYPES[formats[0]]


def keep_photograph(archive: Archive, frame_id: str, data: bytes, *, name: str, time: str, note: str, by: str) -> None:
    """Keep a photograph, and the event that tells when it was taken.

    Parameters
    ----------
    archive : Archive
        Acting for whoever adds it.
    time : str
        ISO, when it was taken.

    Raises
    ------
    NotAPhotographError
        It is none.
    RegisterError
        There is no such frame, or the time is none.
    """
    image_type(data)
    archive.frame_facts(frame_id)
    sha256 = hashlib.sha256(data).hexdigest()
    if archive.record("documents", {"sha256": sha256}) is None:
        archive.keep_document(data, name=name, kind="photograph", frame=frame_id, note=note)
    event = {"frame": frame_id, "time": time, "kind": "photograph", "document": sha256, "by": by, "note": note}
    archive.put("events", event)


def photograph(archive: Archive, sha256: str) -> tuple[bytes, str] | None:
    """Return a kept picture and its media type; None for anything that is none."""
    if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
        return None
    if archive.record("documents", {"sha256": sha256}) is None:
        return None
    data = archive.documents.bytes_of(sha256)
    try:
        return data, image_type(data)
    except NotAPhotographError:
        return None
