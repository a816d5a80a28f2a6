"""What goes wrong with a logger file, said so that the reader can act on it."""

from __future__ import annotations

LONGEST_QUOTE = 60


def shorten(text: str, *, longest: int = LONGEST_QUOTE) -> str:
    """Return the text fit for one line of a message: no control characters, no more than `longest` characters."""
    visible = "".join(char if char.isprintable() else " " for char in text[: longest + 1]).strip()
    return visible if len(text) <= longest else f"{visible[:longest]}…"


class LoggerFileError(Exception):
    """A logger file that cannot be read as it stands; the message ends with what to do.

    Attributes
    ----------
    file : str
        Name of the file.
    line : int or None
        Line in the original, counted from 1; None where the whole file is meant.
    column : str or None
        Heading or number of the column; None where the whole line is meant.
    found, expected, remedy : str
        What stands there, what should, and what to do about it.
    """

    def __init__(
        self, *, file: str, line: int | None = None, column: str | None = None, found: str, expected: str, remedy: str
    ) -> None:
        self.file, self.line, self.column = file, line, column
        self.found, self.expected, self.remedy = shorten(found), expected, remedy
        where = file
        if line is not None:
            where += f", line {line}"
        if column is not None:
            where += f', column "{column}"'
        super().__init__(f"{where}: expected {expected}, found {self.found}. {remedy}")

    def __reduce__(self) -> tuple[object, ...]:
        """Travel between processes whole."""
        return (_rebuild, (self.file, self.line, self.column, self.found, self.expected, self.remedy))


def _rebuild(  # noqa: PLR0917 - pickle hands arguments over by position
    file: str, line: int | None, column: str | None, found: str, expected: str, remedy: str
) -> LoggerFileError:
    return LoggerFileError(file=file, line=line, column=column, found=found, expected=expected, remedy=remedy)


class RowAccountingError(AssertionError):
    """The account of a file's rows does not add up: a fault of isohume, never of the file."""
