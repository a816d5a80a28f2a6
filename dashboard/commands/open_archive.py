"""The archive a command works on: option, environment variable or default place, opened with its remarks told."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, refuse, remark

if TYPE_CHECKING:
    from isohume.ingest.archive.archive import Archive

PROGRESS_SECONDS = 0.5

ArchiveOption = Annotated[
    Path | None,
    typer.Option(
        "--archive", envvar="ISOHUME_ARCHIVE", metavar="FOLDER",
        help="The archive's folder; by default the platform's folder for application data.",
    ),
]  # fmt: skip
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]


@contextmanager
def opened(folder: Path | None) -> Iterator[Archive]:
    """Open an archive for one command; what is wrong with it ends the command with one sentence."""
    from isohume.ingest.archive.archive import Archive
    from isohume.ingest.archive.errors import ArchiveError, ArchiveMissingError

    try:
        with Archive.open(folder) as archive:
            for text in archive.remarks:
                remark(text)
            yield archive
    except ArchiveMissingError as error:
        refuse(str(error), code=ExitCode.NOTHING)
    except ArchiveError as error:
        refuse(str(error), code=ExitCode.NOTHING)


def progress_on_stderr(what: str) -> Callable[[int, int], None]:
    """Return what tells on a terminal how far long work is."""
    last = time.monotonic()

    def tell(done: int, of: int) -> None:
        nonlocal last
        now = time.monotonic()
        if sys.stderr.isatty() and (now - last > PROGRESS_SECONDS or (done == of and of)):
            last = now
            sys.stderr.write(f"\r{what} {done} of {of}" + ("\n" if done == of else ""))
            sys.stderr.flush()

    return tell
