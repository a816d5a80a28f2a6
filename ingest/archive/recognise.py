"""Which logger wrote a file: told by words in its preamble, its name, or its layout; else asked."""

from __future__ import annotations

import codecs
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import PurePosixPath

from isohume.ingest.archive.models import Logger
from isohume.ingest.questions import Choice, Question

QUESTION = "logger"
# The preamble of a logger file is shorter than this; serial numbers further down are readings.
HEAD_BYTES = 8192
HEAD_LINES = 60
SHORTEST_SERIAL = 3  # a shorter one stands in many files by chance


@dataclass(frozen=True, slots=True)
class Recognised:
    """The logger of a file, and how it was told."""

    logger: Logger
    by: str


def head_text(content: bytes) -> str:
    """Return the first lines of a text file; serial numbers are plain letters and digits in every encoding."""
    head = content[:HEAD_BYTES]
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        text = head.decode("utf-16", errors="replace")
    else:
        text = head.decode("utf-8", errors="replace")
    return "\n".join(text.splitlines()[:HEAD_LINES])


def by_name_or_preamble(loggers: Sequence[Logger], *, name: str, head: str) -> Recognised | Question | None:
    """Tell the logger from the file's name and first lines.

    Parameters
    ----------
    loggers : sequence of Logger
        All that are registered.
    name : str
        The file's name; a member of a pack is `pack.zip/member.csv`.
    head : str
        Its first lines, "" for a workbook.

    Returns
    -------
    Recognised, Question or None
        A question where the signs point at several loggers; None where there is no sign.
    """
    base = PurePosixPath(name.replace("\\", "/")).name
    by_serial = [row for row in loggers if _holds_word(f"{base}\n{head}", row.serial)]
    by_pattern = [row for row in loggers if any(fnmatchcase(base.casefold(), one.casefold()) for one in row.files)]
    both = [row for row in by_serial if row in by_pattern]
    if len(both) == 1:
        return Recognised(both[0], "serial and name of the file")
    if len(by_serial) == 1 and (not by_pattern):
        return Recognised(by_serial[0], f'"{by_serial[0].serial}" in the file')
    if len(by_pattern) == 1 and (not by_serial):
        return Recognised(by_pattern[0], "name of the file")
    named = list(dict.fromkeys(row.id for row in (*by_serial, *by_pattern)))
    return ask(named, loggers, name=name) if named else None


def by_layout(loggers: Sequence[Logger], with_this_layout: Sequence[str]) -> Recognised | None:
    """Tell the logger from the layout of its earlier files.

    Only a logger that has neither serial nor name pattern is told so: a layout is shared by every instrument of its
    make, and a stranger's file must not slip in.
    """
    nameless = [row for row in loggers if row.id in with_this_layout and not row.serial and not row.files]
    return (
        Recognised(nameless[0], "layout of its earlier files") if len(with_this_layout) == len(nameless) == 1 else None
    )


def ask(likely: Sequence[str], loggers: Sequence[Logger], *, name: str) -> Question:
    """Return the question which logger wrote the file, the likely ones first."""
    order = [*likely, *(row.id for row in loggers if row.id not in likely)]
    notes = {row.id: row.serial or row.note for row in loggers}
    return Question(
        id=QUESTION,
        text=f"Which logger wrote {name}? Neither its name nor its first lines say so"
        + (f" for certain ({', '.join(likely)} are possible)." if likely else "."),
        choices=tuple(Choice(value=one, label=notes[one] or one) for one in order),
    )


def _holds_word(text: str, word: str) -> bool:
    if len(word) < SHORTEST_SERIAL:
        return False
    return re.search(rf"(?<![0-9A-Za-z]){re.escape(word)}(?![0-9A-Za-z])", text, re.IGNORECASE) is not None
