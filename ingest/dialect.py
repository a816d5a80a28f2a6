"""Delimiter and decimal mark, found together: the pair under which most lines are rows of readings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from isohume.ingest.kinds import Kind, kind_of
from isohume.ingest.lines import WHITESPACE, SampleLine, split_line

# The order settles ties: a tab or semicolon is never part of a number, a comma is, and blanks are part of everything.
DELIMITERS = ("\t", ";", "|", ",", WHITESPACE)
DELIMITER_NAMES = {"\t": "tab", ";": "semicolon", "|": "pipe", ",": "comma", WHITESPACE: "whitespace"}
COMMENT_MARKS = ("#", "//")
MOST_COLUMNS = 1000
# So many lines decide; more of the sample would only take longer.
DECIDING_LINES = 40
TIMED_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Dialect:
    """How a line falls into cells.

    Attributes
    ----------
    delimiter : str
        One character, or `WHITESPACE`.
    decimal : {".", ","}
        Decimal mark.
    width : int
        Cells that most rows have.
    rows : tuple of (SampleLine, cells)
        The sample lines that are rows of readings under this dialect.
    """

    delimiter: str
    decimal: str
    width: int
    rows: tuple[tuple[SampleLine, tuple[str, ...]], ...]


def find_dialect(sample: Sequence[SampleLine]) -> Dialect | None:
    """Return the dialect under which the most lines are rows of readings; None if there are none."""
    written = [line for line in sample if line.text.strip() and not line.text.lstrip().startswith(COMMENT_MARKS)]
    step = max(1, len(written) // DECIDING_LINES)
    deciding = written[::step]
    best: tuple[float, str, str] | None = None
    for delimiter in DELIMITERS:
        rows = [split_line(line.text, delimiter) for line in deciding if _has(line.text, delimiter)]
        rows = [cells for cells in rows if 2 <= len(cells) <= MOST_COLUMNS]
        if not rows:
            continue
        for decimal in ".,":
            score = _score(rows, decimal)
            # Whitespace also separates date and clock of a perfectly good cell: it must win clearly.
            if score > 0 and (best is None or score > best[0] * (1.5 if delimiter == WHITESPACE else 1.0001)):
                best = (score, delimiter, decimal)
    if best is None:
        return None
    _, delimiter, decimal = best
    cells = [(line, tuple(split_line(line.text, delimiter))) for line in written]
    rows_found = [(line, row) for line, row in cells if _typed_share(row, decimal) > 0]
    # Where rows have times written out, lines without one are rows gone wrong and show nothing about the columns.
    timed = [(line, row) for line, row in rows_found if _has_time(row, decimal)]
    rows_found = timed if len(timed) >= TIMED_SHARE * len(rows_found) else rows_found
    widths = Counter(len(row) for _, row in rows_found)
    if not widths:
        return None
    return Dialect(delimiter=delimiter, decimal=decimal, width=widths.most_common(1)[0][0], rows=tuple(rows_found))


def _has_time(cells: Sequence[str], decimal: str) -> bool:
    return any(kind_of(cell, decimal) in ("moment", "date", "clock") for cell in cells)


def _has(text: str, delimiter: str) -> bool:
    return delimiter == WHITESPACE or delimiter in text


def _score(rows: Sequence[Sequence[str]], decimal: str) -> float:
    shares = [(len(cells), _typed_share(cells, decimal)) for cells in rows]
    widths = Counter(width for width, share in shares if share > 0)
    if not widths:
        return 0.0
    usual = widths.most_common(1)[0][0]
    return sum(share * (1.0 if width == usual else 0.5) for width, share in shares)


def _typed_share(cells: Sequence[str], decimal: str) -> float:
    """Return the share of the filled cells that are numbers or times; 0 if the line cannot be a row of readings."""
    kinds = [kind_of(cell, decimal) for cell in cells]
    filled = [kind for kind in kinds if kind != "empty"]
    n_numbers = filled.count("number")
    n_times = sum(kind in ("moment", "date", "clock") for kind in filled)
    if not is_row(kinds):
        return 0.0
    return (n_numbers + n_times) / len(filled)


def is_row(kinds: Sequence[Kind]) -> bool:
    """Say whether a line of such cells can be a row of readings: a number beside a time, or several numbers."""
    n_numbers = kinds.count("number")
    n_times = sum(kind in ("moment", "date", "clock") for kind in kinds)
    return n_numbers >= 1 and n_numbers + n_times >= 2
