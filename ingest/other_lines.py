"""Lines that hold no reading: what stands above the table, and what interrupts and follows it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from isohume.ingest.cells import LINE, lines_of
from isohume.ingest.dialect import COMMENT_MARKS
from isohume.ingest.errors import LONGEST_QUOTE, LoggerFileError, shorten
from isohume.ingest.header_words import STATISTICS
from isohume.ingest.headings import understand
from isohume.ingest.ledger import REJECTED_SCHEMA
from isohume.ingest.lines import TextLines, split_line, whole_lines
from isohume.ingest.moments import plain
from isohume.ingest.reasons import TIMELESS
from isohume.ingest.recipe import NAME_OF_DELIMITER, Recipe
from isohume.ingest.region import TIME_LIKE, is_units_row
from isohume.ingest.written_time import cell_name

RAW = "raw"
# A heading stands within this many lines of the start, or of where it stood when the recipe was made.
HEADER_SEARCH = 400
VALUES = {"relative humidity", "temperature", "dew point"}
# Statistics below a table take a screen at most; anything longer is rows gone wrong.
LONGEST_FOOTER = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """Where the rows of a file begin.

    Attributes
    ----------
    first_row : int
        Line of the first row, from 1.
    offset : int
        Its first byte.
    other_lines : dict of str to int
        The lines above it, by kind.
    headings : frozenset of str
        Lines that are no rows where they come again: the heading and its units.
    file : str
        Name of the file, for messages.
    """

    first_row: int
    offset: int
    other_lines: dict[str, int]
    headings: frozenset[str]
    file: str = ""


def locate(lines: TextLines, recipe: Recipe, *, file: str) -> Region:
    """Find where the rows begin: below the heading where the recipe names one, else at the line it names.

    Raises
    ------
    LoggerFileError
        The heading of the recipe is not in the file: the recipe is for another kind of file.
    """
    first_row, header_starts, header_line = recipe.first_row, 0, 0
    head = lines.head(max(HEADER_SEARCH, recipe.first_row))
    if recipe.header:
        wanted = _heading_key(recipe.header)
        whole = whole_lines(head)
        matching = (found for found in whole if _heading_key_of(found[2], recipe, wanted) == wanted)
        header_starts, header_line, _ = next(matching, (0, 0, ""))
        if not header_line:
            raise LoggerFileError(
                file=file,
                line=1,
                found=head[0] if head else "",
                expected=f"the heading {NAME_OF_DELIMITER[recipe.delimiter]}-separated: {_shown(recipe.header)}",
                remedy="This recipe is for another kind of file: read it without the recipe, or save a new one.",
            )
        first_row = header_line + 1
        while first_row <= len(head) and _is_between(head[first_row - 1], recipe):
            first_row += 1
    other: Counter[str] = Counter()
    units: set[str] = set()
    for number, text in enumerate(head[: first_row - 1], start=1):
        kind = "heading" if header_starts <= number <= header_line else _kind_above(text, number, header_line)
        other[kind] += 1
        if kind == "units":
            units.add(text.strip())
    beyond = first_row - 1 - sum(other.values())
    if beyond > 0:
        other["preamble"] += beyond
    headings = {head[header_line - 1].strip(), *units} if header_line else units
    return Region(
        first_row=first_row,
        offset=lines.offset_of_line(first_row),
        other_lines=dict(other),
        headings=frozenset(headings),
        file=file,
    )


def _shown(header: Sequence[str]) -> str:
    return shorten(" | ".join(header))


def _heading_key(cells: Sequence[str]) -> tuple[str, ...]:
    kept = [plain(cell).strip() for cell in cells]
    while kept and not kept[-1]:
        kept.pop()
    return tuple(kept)


def _heading_key_of(text: str, recipe: Recipe, wanted: tuple[str, ...]) -> tuple[str, ...]:
    """Return the cells of a line as headings are compared: without accents, capitals and comment marks."""
    text = text.strip()
    key = _heading_key(split_line(text, recipe.delimiter))
    mark = next((mark for mark in COMMENT_MARKS if text.startswith(mark)), None)
    if mark and key != wanted:
        key = _heading_key(split_line(text[len(mark) :].strip(), recipe.delimiter))
    # Headings beyond the last column of the rows were left out of the recipe.
    return key[: len(wanted)] if len(key) > recipe.width else key


def _is_between(text: str, recipe: Recipe) -> bool:
    """Whether a line below the heading is blank, a comment, or the units row."""
    if not text.strip() or text.lstrip().startswith(COMMENT_MARKS):
        return True
    return is_units_row(split_line(text, recipe.delimiter))


def _kind_above(text: str, number: int, header_line: int) -> str:
    if not text.strip():
        return "blank"
    if text.lstrip().startswith(COMMENT_MARKS):
        return "comment"
    return "units" if header_line and number > header_line else "preamble"


def raw_lines(block: bytes, first_line: int, wanted: pl.Series) -> pl.DataFrame:
    """Return some lines of a block whole, by number: `line` and `raw`."""
    return (
        lines_of(block, first_line=first_line).rename({cell_name(1): RAW}).filter(pl.col(LINE).is_in(wanted.implode()))
    )


def sort_out(
    left: pl.DataFrame, recipe: Recipe, region: Region, *, last_good: int
) -> tuple[pl.DataFrame, Counter[str]]:
    """Tell the lines that gave no reading apart: rejected rows, and lines that were never rows.

    Parameters
    ----------
    left : DataFrame
        `line`, `column`, `found`, `reason`, `time_text`, `raw`.
    recipe, region : Recipe, Region
        As the file was read.
    last_good : int
        Line of the last row that gave a reading.

    Returns
    -------
    DataFrame, Counter
        The rejected rows, and the number of other lines by kind.
    """
    raw = left[RAW].fill_null("").str.strip_chars()
    delimiter = recipe.delimiter if len(recipe.delimiter) == 1 else " "
    is_blank = raw.str.strip_chars(f'{delimiter} \t"') == ""
    is_comment = raw.str.starts_with(COMMENT_MARKS[0]) | raw.str.starts_with(COMMENT_MARKS[1])
    timeless = left["reason"].is_in(list(TIMELESS))
    is_heading = raw.is_in(_headings_among(raw.filter(timeless), recipe, region)) & ~is_blank
    is_footer = timeless & _starts_like_statistics(raw) & ~is_blank & ~is_comment
    is_footer |= _after_table(
        left[LINE], raw, is_blank=is_blank, is_footer=is_footer, timeless=timeless, last_good=last_good
    )
    counts = Counter({"blank": int(is_blank.sum())})
    kinds = {"comment": is_comment, "repeated heading": is_heading, "statistics or footer": is_footer}
    taken = is_blank
    for kind, mask in kinds.items():
        fresh = mask & ~taken
        counts[kind] += int(fresh.sum())
        taken = taken | fresh
    _refuse_other_heading(left.filter(timeless & ~taken), recipe, region)
    rejected = left.filter(~taken).select(
        pl.col("line"), pl.col("column"), pl.col("found").str.slice(0, LONGEST_QUOTE), pl.col("reason")
    )
    return rejected.cast(REJECTED_SCHEMA), counts


def _headings_among(raw: pl.Series, recipe: Recipe, region: Region) -> list[str]:
    """Return the lines that are the heading or the units again, whatever their quotes, blanks and trailing cells."""
    wanted = _heading_key(recipe.header)
    others = raw.unique().head(LONGEST_FOOTER).drop_nulls() if wanted else raw.clear()
    return [*region.headings, *(text for text in others if _heading_key_of(text, recipe, wanted) == wanted)]


def _refuse_other_heading(left: pl.DataFrame, recipe: Recipe, region: Region) -> None:
    """Refuse a file in which a second table begins: its columns may stand in another order.

    Raises
    ------
    LoggerFileError
        A line is a heading, and not the one of the recipe.
    """
    for line, raw in left.head(LONGEST_FOOTER).select(LINE, RAW).iter_rows():
        cells = split_line(raw or "", recipe.delimiter)
        if len(cells) < 2 or len(cells) > 2 * recipe.width:
            continue
        meanings = [heading.meanings[0] for heading in map(understand, cells) if heading.meanings]
        if TIME_LIKE & set(meanings) and VALUES & set(meanings) and len(meanings) >= len(cells) / 2:
            raise LoggerFileError(
                file=region.file,
                line=line,
                found=raw,
                expected=f"rows as under the first heading, {_shown(recipe.header) or 'which is missing'}",
                remedy="A second table begins here: save each table as a file of its own.",
            )


def _starts_like_statistics(raw: pl.Series) -> pl.Series:
    """Whether a line begins with a word such as "Mean", "Total", "End of data"."""
    word = raw.str.extract(r"""^["'\s*=\-–]*([^\W\d_]+)""", 1)
    known = [text for text in word.unique().drop_nulls() if len(text) < 30 and plain(text) in STATISTICS]
    return word.is_in(known).fill_null(value=False)


def _after_table(
    lines: pl.Series,
    raw: pl.Series,
    *,
    is_blank: pl.Series,
    is_footer: pl.Series,
    timeless: pl.Series,
    last_good: int,
) -> pl.Series:
    """Find what follows the table: all from the first line of statistics on, or from a text after a blank line."""
    found = [False] * len(lines)
    start = int(lines.search_sorted(last_good, side="right"))
    if len(lines) - start > LONGEST_FOOTER:
        return pl.Series(found, dtype=pl.Boolean)
    below, after_blank = False, False
    for row in range(start, len(lines)):
        text = raw[row]
        is_text = timeless[row] and not any(char.isdigit() for char in text[:4])
        is_pair = timeless[row] and ":" in text and text.split(":")[0].replace(" ", "").isalpha()
        below = below or bool(is_footer[row]) or is_pair or (after_blank and is_text and not is_blank[row])
        found[row] = below and bool(timeless[row]) and not is_blank[row]
        after_blank = after_blank or bool(is_blank[row])
    return pl.Series(found, dtype=pl.Boolean)


def body_lines(lines: TextLines, region: Region) -> tuple[pl.DataFrame, int]:
    """Return the written lines below the heading (`line`, `found`), and the number of blank ones."""
    body = lines_of(lines.utf8[region.offset :], first_line=region.first_row)
    if region.offset >= len(lines.utf8):
        body = body.clear()
    found = pl.col(cell_name(1)).str.strip_chars().str.slice(0, LONGEST_QUOTE)
    written = body.select(LINE, found.alias("found")).filter((pl.col("found") != "").fill_null(value=False))
    return written, body.height - written.height
