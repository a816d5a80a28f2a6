"""What every command shares: results on stdout, remarks on stderr, and the meaning of the exit codes."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from enum import IntEnum
from typing import Any, NoReturn

import typer


class ExitCode(IntEnum):
    """What a command's exit code says."""

    DONE = 0
    SOME_REFUSED = 1  # done, but some files were refused
    USAGE = 2
    NOTHING = 3  # nothing could be read or found


def result(text: str) -> None:
    """Write a result to stdout."""
    typer.echo(text)


def remark(text: str) -> None:
    """Write a remark or progress to stderr."""
    typer.echo(text, err=True)


def json_result(document: Mapping[str, Any] | Sequence[Any]) -> None:
    """Write one JSON document to stdout; NaN is our error and never written."""
    typer.echo(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))


def refuse(text: str, *, code: ExitCode = ExitCode.NOTHING) -> NoReturn:
    """Say on stderr why there is no result, and end."""
    remark(text)
    raise typer.Exit(code)


@contextmanager
def refusals(*errors: type[Exception], code: ExitCode = ExitCode.NOTHING) -> Iterator[None]:
    """End with the message of an error that the user can act on, without a traceback."""
    try:
        yield
    except errors as error:
        refuse(str(error), code=code)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay out rows under headings in columns, the last one ragged."""
    lines = [list(headings), *[list(row) for row in rows]]
    widths = [max(len(line[place]) for line in lines) for place in range(len(headings))]
    widths[-1] = 0
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in lines)
