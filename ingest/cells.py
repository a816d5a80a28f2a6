"""The body of a file as a table of text cells, one row per line, nothing interpreted and no line lost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import polars as pl

from isohume.ingest.lines import flatten
from isohume.ingest.written_time import cell_name

LINE = "line"
# Blocks of this size keep the text of a large file from lying in memory as cells all at once.
BLOCK_BYTES = 1 << 21
# No character of a text file: a line read with it as separator stays whole.
NO_SEPARATOR = "\x1e"


def blocks_of(utf8: bytes, start: int) -> Iterator[tuple[int, int]]:
    """Yield where the blocks of whole lines from byte `start` on begin and end."""
    while start < len(utf8):
        end = len(utf8)
        if start + BLOCK_BYTES < end:
            end = utf8.find(b"\n", start + BLOCK_BYTES) + 1 or end
        yield start, end
        start = end


def cells_of(block: bytes, *, delimiter: str, columns: Sequence[int], width: int, first_line: int) -> pl.DataFrame:
    """Return the cells of the wanted columns, of one column beyond the last, and the line numbers.

    Parameters
    ----------
    block : bytes
        Whole lines of UTF-8.
    delimiter : str
        As in a recipe.
    columns : sequence of int
        Columns wanted, counted from 1.
    width : int
        Cells of a row; the cell after the last is returned as well, to tell rows that have too many.
    first_line : int
        Number of the first line.

    Returns
    -------
    DataFrame
        `line` (UInt32) and one String column per wanted column (`cell_name`); null where a cell is empty or missing.
    """
    text, separator = flatten(block, delimiter)
    names = [cell_name(column) for column in range(1, width + 2)]
    wanted = sorted({*columns, width + 1})
    return _read(text, separator, names, [cell_name(column) for column in wanted], first_line)


def lines_of(block: bytes, *, first_line: int) -> pl.DataFrame:
    """Return the lines of a block whole: `line` and `column_1`, null where blank."""
    return _read(block.replace(NO_SEPARATOR.encode(), b" "), NO_SEPARATOR, [cell_name(1)], [cell_name(1)], first_line)


def _read(text: bytes, separator: str, names: list[str], wanted: list[str], first_line: int) -> pl.DataFrame:
    return pl.read_csv(
        text,
        separator=separator,
        quote_char=None,
        has_header=False,
        schema=dict.fromkeys(names, pl.String),
        columns=wanted,
        truncate_ragged_lines=True,
        missing_columns="insert",
        extra_columns="ignore",
        row_index_name=LINE,
        row_index_offset=first_line,
        raise_if_empty=False,
    )
