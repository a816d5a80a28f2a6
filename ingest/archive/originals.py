"""Files as received, by SHA-256: written once, never altered, never removed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.files import StepHook, sha256_of_bytes, sha256_of_file, write_whole


class Originals:
    """The folder `originals/` (and, with the same rules, `documents/`, and `papers/` for evidence as issued).

    Parameters
    ----------
    folder : Path
        Files stand in 256 folders by the first two digits of their hash.
    """

    def __init__(self, folder: Path, *, on_step: StepHook) -> None:
        self.folder, self.on_step = folder, on_step

    def path(self, sha256: str) -> Path:
        """Return where the bytes with this hash stand."""
        return self.folder / sha256[:2] / sha256

    def keep(self, data: bytes) -> str:
        """Store some bytes; the same bytes again change nothing.

        Returns
        -------
        str
            Their SHA-256.
        """
        sha256 = sha256_of_bytes(data)
        path = self.path(sha256)
        if not (path.exists() and sha256_of_file(path) == sha256):
            write_whole(path, data, on_step=self.on_step, what="original")
        return sha256

    def bytes_of(self, sha256: str) -> bytes:
        """Return the bytes with this hash.

        Raises
        ------
        ArchiveError
            They are missing, or no longer what was received.
        """
        path = self.path(sha256)
        try:
            data = path.read_bytes()
        except FileNotFoundError:
            raise self._lost(path, "no file") from None
        if sha256_of_bytes(data) != sha256:
            raise self._lost(path, "other bytes than were received")
        return data

    def is_sound(self, sha256: str) -> bool:
        """Whether the bytes are there and unaltered."""
        path = self.path(sha256)
        return path.is_file() and sha256_of_file(path) == sha256

    def all_hashes(self) -> Iterator[str]:
        """Name every file that stands here, whether the register knows it or not."""
        for path in sorted(self.folder.glob("[0-9a-f][0-9a-f]/*")):
            if len(path.name) == 64:
                yield path.name

    @staticmethod
    def _lost(path: Path, found: str) -> ArchiveError:
        return ArchiveError(
            str(path),
            found=found,
            expected="the file as it was received",
            remedy="Take it from a backup (`isohume restore`), or import the logger's own copy again.",
        )
