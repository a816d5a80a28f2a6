"""What an import did, said to people, pages and scripts alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from isohume.ingest.archive.placing import Placed
from isohume.ingest.questions import Question

Status = Literal["kept", "waiting", "already kept", "asks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportedFile:
    """One table of readings in a received file.

    Attributes
    ----------
    name : str
        As received; a member of a pack is `pack.zip/member.csv`.
    logger : str
        Id of the logger that wrote it.
    recognised_by : str
        How that was told.
    rows : mapping
        The reader's account: in_file, kept, flagged, duplicate, conflicting, rejected.
    n_new, n_equal, n_conflicting : int
        Readings that are new; already held with the same values; held with other values (the earlier stays).
    placed : tuple of Placed
        Where they belong.
    notes : tuple of str
        Remarks of the reader and of the import.
    """

    name: str
    logger: str
    recognised_by: str
    rows: Mapping[str, int]
    n_new: int
    n_equal: int
    n_conflicting: int
    placed: tuple[Placed, ...]
    notes: tuple[str, ...] = ()

    @property
    def waits(self) -> bool:
        """Whether no reading belongs to any frame or room yet."""
        return bool(self.placed) and not any(one.place for one in self.placed)


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportResult:
    """What became of one received file.

    Attributes
    ----------
    name, sha256 : str
        The file, and the hash of its bytes.
    status : str
        `kept`; `waiting` (kept, its logger was nowhere at the time); `already kept` (the same bytes came before);
        `asks` (nothing kept until the questions are answered).
    import_id : int or None
        Of this import, or of the earlier one; None when nothing was kept.
    files : tuple of ImportedFile
        Its tables of readings.
    questions : tuple of (str, Question)
        File and question.
    refused : tuple of str
        Members of a pack that could not be read, each with its reason; the others were kept.
    """

    name: str
    sha256: str
    status: Status
    import_id: int | None = None
    files: tuple[ImportedFile, ...] = ()
    questions: tuple[tuple[str, Question], ...] = ()
    refused: tuple[str, ...] = ()

    def report(self) -> str:
        """Return the result as text for people."""
        if self.status == "already kept":
            return f"{self.name}: already kept as import {self.import_id}; nothing changed."
        if self.status == "asks":
            asked = "\n".join(f"  {question.sentence()}" for _, question in self.questions)
            return f"{self.name}: not kept yet.\n{asked}"
        lines = [f"{self.name}: import {self.import_id}"]
        for file in self.files:
            lines.append(f"  logger {file.logger} (told by {file.recognised_by}): {_counts(file)}")
            lines += [f"  {_where(one, waits=file.waits)}" for one in file.placed]
            lines += [f"  {note}" for note in file.notes]
        return "\n".join([*lines, *(f"  refused: {reason}" for reason in self.refused)])

    def document(self) -> dict[str, Any]:
        """Return the result as values that JSON can hold."""
        return {
            "file": self.name,
            "sha256": self.sha256,
            "status": self.status,
            "import_id": self.import_id,
            "files": [
                {
                    "name": file.name,
                    "logger": file.logger,
                    "recognised_by": file.recognised_by,
                    "rows": dict(file.rows),
                    "new": file.n_new,
                    "equal": file.n_equal,
                    "conflicting": file.n_conflicting,
                    "placed": [
                        {
                            "channel": one.channel,
                            "place": one.place or None,
                            "readings": one.n_readings,
                            "first_utc": f"{one.first:%Y-%m-%dT%H:%M:%SZ}",
                            "last_utc": f"{one.last:%Y-%m-%dT%H:%M:%SZ}",
                        }
                        for one in file.placed
                    ],
                    "notes": list(file.notes),
                }
                for file in self.files
            ],
            "questions": [
                {"file": name, "id": question.id, "question": question.sentence()} for name, question in self.questions
            ],
            "refused": list(self.refused),
        }


def _counts(file: ImportedFile) -> str:
    text = f"{file.n_new} new readings"
    if file.n_equal:
        text += f", {file.n_equal} held already"
    if file.n_conflicting:
        text += f", {file.n_conflicting} contradict an earlier import, whose readings stay"
    return text


def _where(one: Placed, *, waits: bool) -> str:
    span = f"{one.n_readings} readings, {one.first:%Y-%m-%d %H:%M} to {one.last:%Y-%m-%d %H:%M} UTC"
    channel = f" ({one.channel})" if one.channel else ""
    if one.place:
        return f"in {one.place}{channel}: {span}"
    then = "kept, and waiting for a placement" if waits else "kept, and left out of every record"
    return f"in no frame or room{channel}: {span}; {then}"
