"""What can be wrong with an archive; every message says what was found, what was expected and what to do."""

from __future__ import annotations


class ArchiveError(Exception):
    """The archive cannot do what was asked; nothing was half-done.

    Parameters
    ----------
    place : str
        Folder, file or record concerned.
    found, expected, remedy : str
        What was found there, what was expected, and what to do about it.
    """

    def __init__(self, place: str, *, found: str, expected: str, remedy: str) -> None:
        self.place, self.found, self.expected, self.remedy = place, found, expected, remedy
        super().__init__(f"{place}: expected {expected}, found {found}. {remedy}")


class ArchiveMissingError(ArchiveError):
    """There is no archive where one was to be opened."""


class NewerArchiveError(ArchiveError):
    """The archive was written by a newer version, whose records this one would misread."""


class RegisterError(ArchiveError):
    """A record of the register is not what its kind requires."""


class StorageError(ArchiveError):
    """The disk or the database refused a write: full, read-only or gone."""
