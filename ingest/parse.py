"""A file read by its recipe: each line becomes a row with time and values, a rejected row, or another kind of line."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import polars as pl

from isohume.ingest.cells import BLOCK_BYTES, LINE, blocks_of, cells_of
from isohume.ingest.errors import RowAccountingError
from isohume.ingest.ledger import REJECTED_SCHEMA, CellCounts
from isohume.ingest.lines import TextLines, split_line
from isohume.ingest.numbers import is_no_reading, parse_numbers
from isohume.ingest.other_lines import Region, raw_lines, sort_out
from isohume.ingest.reasons import CUT_SHORT, reasons_of
from isohume.ingest.recipe import Recipe, ValueColumn
from isohume.ingest.units import to_standard
from isohume.ingest.written_time import cell_name, written_times

LOCAL = "local"
SENSOR = "sensor"
SERIES = "series"

# A hundred channels and their remarks take a tenth of it.
LONGEST_LINE = 1 << 16
# No quantity of air in any unit we read comes near it.
LARGEST_NUMBER = 1e5
# Blocks in memory at once.
MOST_THREADS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ParsedFile:
    """The lines of a file, told apart.

    Attributes
    ----------
    rows : DataFrame
        Rows with a time and at least one value, in file order: `line`, `local` (Datetime, UTC where `is_utc`),
        `sensor` and `series` in a long layout, and one Float64 column per value column of the recipe, in % and °C.
    is_utc : bool
        The times carry their offset, which has been applied.
    rejected : DataFrame
        Rows without, as in the ledger.
    n_data_rows : int
        Rows and rejected rows.
    other_lines : mapping of str to int
        Lines that hold no reading, by kind.
    cells : tuple of CellCounts
        One per value column.
    """

    rows: pl.DataFrame
    is_utc: bool
    rejected: pl.DataFrame
    n_data_rows: int
    other_lines: Mapping[str, int]
    cells: tuple[CellCounts, ...]


def value_name(position: int) -> str:
    """Return the name of the column of parsed values of one value column of the recipe."""
    return f"value_{position}"


@dataclass(slots=True)
class _Block:
    """One block of the body, parsed."""

    rows: pl.DataFrame
    is_utc: bool
    left: pl.DataFrame
    n_lines: int
    cells: list[Counter[str]] = field(default_factory=list)

    def move_to(self, first_line: int) -> None:
        """Count the lines from the true number of the first one instead of 0."""
        moved = (pl.col(LINE) + first_line).cast(pl.UInt32)
        self.rows = self.rows.with_columns(moved)
        if self.left.height:
            self.left = self.left.with_columns(moved)


def parse(lines: TextLines, recipe: Recipe, region: Region) -> ParsedFile:
    """Read a file by its recipe.

    Parameters
    ----------
    lines : TextLines
        The text of the file.
    recipe : Recipe
        The whole interpretation.
    region : Region
        Where the rows begin, from `locate`.
    """
    blocks: list[_Block] = []
    first_line, last_good = region.first_row, 0
    for block in _in_order(lines, recipe, region):
        block.move_to(first_line)
        first_line += block.n_lines
        if block.rows.height:
            last_good = int(block.rows[LINE][-1])
        blocks.append(block)
    if blocks and first_line - 1 != lines.n_lines:
        raise RowAccountingError(f"{lines.n_lines} lines in the file, but {first_line - 1} were looked at")
    other = Counter(region.other_lines)
    rejected = pl.DataFrame(schema=REJECTED_SCHEMA)
    if any(block.left.height for block in blocks):
        rejected, found = sort_out(
            pl.concat([block.left for block in blocks if block.left.height]), recipe, region, last_good=last_good
        )
        other.update(found)
    rows = _in_one_piece(blocks) if blocks else pl.DataFrame(schema=_row_schema(recipe))
    counts = [sum((block.cells[p] for block in blocks), Counter()) for p in range(len(recipe.values))]
    return ParsedFile(
        rows=rows,
        is_utc=blocks[0].is_utc if blocks else False,
        rejected=rejected,
        n_data_rows=rows.height + rejected.height,
        other_lines={kind: number for kind, number in other.items() if number},
        cells=tuple(
            CellCounts(usable=count["usable"], empty=count["empty"], unreadable=count["unreadable"])
            for count in counts
        ),
    )


def _in_order(lines: TextLines, recipe: Recipe, region: Region) -> Iterator[_Block]:
    """Parse the blocks of the body side by side, and yield them in file order."""
    bounds = list(blocks_of(lines.utf8, region.offset))
    if recipe.time.date_once and bounds:  # a day that begins in one block goes on in the next
        bounds = [(bounds[0][0], bounds[-1][1])]

    def parsed(bound: tuple[int, int]) -> _Block:
        start, end = bound
        text = lines.utf8[start:end] if start or end < len(lines.utf8) else lines.utf8
        if end - start > 2 * BLOCK_BYTES:
            text = _with_long_lines_cut(text)
        return _parse_block(text, recipe, may_be_cut=end == len(lines.utf8) and not text.endswith(b"\n"))

    if len(bounds) < 2:
        yield from map(parsed, bounds)
        return
    # polars lets go of the interpreter while it works, so that threads use all cores.
    with ThreadPoolExecutor(min(MOST_THREADS, os.cpu_count() or 1)) as pool:
        yield from pool.map(parsed, bounds)


def _in_one_piece(blocks: Sequence[_Block]) -> pl.DataFrame:
    """Join the rows, emptying the blocks: every later step would copy scattered pieces together again."""
    names = blocks[0].rows.columns
    return pl.DataFrame(
        [pl.concat([block.rows.drop_in_place(name) for block in blocks], rechunk=True) for name in names]
    )


def _with_long_lines_cut(text: bytes) -> bytes:
    """Cut lines that no logger writes: a row is none of them, and a message shows its beginning only."""
    return b"\n".join(line if len(line) <= LONGEST_LINE else line[:LONGEST_LINE] for line in text.split(b"\n"))


def _row_schema(recipe: Recipe) -> dict[str, pl.DataType]:
    schema: dict[str, pl.DataType] = {LINE: pl.UInt32(), LOCAL: pl.Datetime("us")}
    if recipe.long.sensor:
        schema[SENSOR] = pl.String()
    if recipe.long.quantity:
        schema[SERIES] = pl.String()
    return schema | {value_name(position): pl.Float64() for position in range(len(recipe.values))}


def _parse_block(text: bytes, recipe: Recipe, *, may_be_cut: bool) -> _Block:
    long = recipe.long
    wanted = [*recipe.time.columns, *(value.column for value in recipe.values), long.sensor, long.quantity]
    cells = cells_of(
        text,
        delimiter=recipe.delimiter,
        columns=[column for column in wanted if column],
        width=recipe.width,
        first_line=0,
    )
    times = written_times(cells, recipe.time, decimal_comma=recipe.decimal == ",")
    parsed = _parsed_values(cells, recipe)
    columns = [cells[LINE], times.local.alias(LOCAL)]
    if long.sensor:
        columns.append(cells[cell_name(long.sensor)].str.strip_chars().fill_null("").alias(SENSOR))
    if long.quantity:
        columns.append(cells[cell_name(long.quantity)].str.strip_chars().fill_null("").alias(SERIES))
    rows = pl.DataFrame([*columns, *parsed])
    is_good = rows[LOCAL].is_not_null() & ~_has_too_many(cells, recipe)
    is_cut = may_be_cut and bool(is_good[-1]) and _is_cut_short(text, recipe)
    if is_cut:
        is_good[-1] = False
    has_value = _any_value(parsed)
    block = _Block(rows=rows, is_utc=times.is_utc, left=pl.DataFrame(), n_lines=cells.height)
    if not bool(is_good.all()) or not bool(has_value.all()):
        keep = is_good & has_value
        left = reasons_of(
            cells.filter(~keep),
            is_timed=rows[LOCAL].is_not_null().filter(~keep),
            is_good=is_good.filter(~keep),
            recipe=recipe,
        )
        if is_cut:
            left = left.with_columns(
                pl.when(pl.col(LINE) == cells.height - 1).then(pl.lit(CUT_SHORT)).otherwise("reason").alias("reason")
            )
        block.left = left.join(raw_lines(text, 0, left[LINE]), on=LINE, how="left", maintain_order="left")
        block.rows = rows.filter(keep)
        cells = cells.filter(is_good)
        parsed = [series.filter(is_good) for series in parsed]
    block.cells = [_count(cells, values, column, recipe) for column, values in zip(recipe.values, parsed, strict=True)]
    return block


def _parsed_values(cells: pl.DataFrame, recipe: Recipe) -> list[pl.Series]:
    parsed: dict[int, pl.Series] = {}
    result: list[pl.Series] = []
    for position, value in enumerate(recipe.values):
        if value.column not in parsed:
            numbers = parse_numbers(cells[cell_name(value.column)], decimal_comma=recipe.decimal == ",")
            parsed[value.column] = _of_air(numbers)
        numbers = parsed[value.column]
        if value.series:
            is_mine = _is_series(cells, value, recipe)
            numbers = numbers.set(~is_mine, None)
        result.append(to_standard(numbers, value.unit).alias(value_name(position)))
    return result


def _of_air(numbers: pl.Series) -> pl.Series:
    """Leave out numbers that are garbled beyond any range: they would swamp every mean."""
    lowest, highest = numbers.min(), numbers.max()
    if isinstance(lowest, float) and isinstance(highest, float) and max(-lowest, highest) > LARGEST_NUMBER:
        return numbers.set(numbers.abs() > LARGEST_NUMBER, None)
    return numbers


def _is_series(cells: pl.DataFrame, value: ValueColumn, recipe: Recipe) -> pl.Series:
    names = cells[cell_name(recipe.long.quantity)].str.strip_chars()
    return (names == value.series).fill_null(value=False)


def _has_too_many(cells: pl.DataFrame, recipe: Recipe) -> pl.Series:
    """Say which rows have a number beyond the last column: what stands where is then uncertain."""
    beyond = cells[cell_name(recipe.width + 1)]
    if beyond.null_count() == len(beyond):
        return pl.Series([False]).new_from_index(0, len(beyond))
    return beyond.str.contains(r"^\s*[+-]?[\d.,]*\d[\d.,]*\s*\S{0,3}\s*$").fill_null(value=False)


def _is_cut_short(text: bytes, recipe: Recipe) -> bool:
    """Whether the last line ends before its last value: the download broke off, perhaps within a number."""
    last = text[text.rfind(b"\n") + 1 :].decode("utf-8", errors="replace")
    needed = max(value.column for value in recipe.values)
    return 0 < len(split_line(last, recipe.delimiter)) < needed


def _any_value(parsed: Sequence[pl.Series]) -> pl.Series:
    has_value = parsed[0].is_not_null()
    for series in parsed[1:]:
        has_value |= series.is_not_null()
    return has_value


def _count(cells: pl.DataFrame, values: pl.Series, column: ValueColumn, recipe: Recipe) -> Counter[str]:
    """Count the cells of one value column, over the rows whose time could be read."""
    texts = cells[cell_name(column.column)]
    if column.series:
        is_mine = _is_series(cells, column, recipe)
        texts, values = texts.filter(is_mine), values.filter(is_mine)
    usable = len(values) - values.null_count()
    if usable == len(values):
        return Counter(usable=usable)
    empty = int(is_no_reading(texts.filter(values.is_null())).sum())
    return Counter(usable=usable, empty=empty, unreadable=len(values) - usable - empty)
