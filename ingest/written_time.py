"""The written time of each row, put together from the columns a recipe names."""

from __future__ import annotations

import polars as pl

from isohume.ingest.moments import DAY_US
from isohume.ingest.numbers import parse_numbers
from isohume.ingest.recipe import WRITTEN_ZONE, TimeRecipe
from isohume.ingest.times import LOCAL, WrittenTimes, parse_times

PER_SECOND = {"epoch s": 1, "epoch ms": 1_000, "epoch us": 1_000_000}
MICROSECONDS = 1_000_000
# Day 0 of the spreadsheet calendar in use since 1900-03-01 is 1899-12-30: 25 569 days before 1970-01-01.
SPREADSHEET_DAY_OF_1970 = 25_569
# Day numbers with four decimals or fewer are off by up to 4 s: loggers that write them log whole minutes.
COARSE_DECIMALS = 4
MIDNIGHT = r"[ T]0{1,2}:00(?::00(?:\.0+)?)?$"
PEEK = 100
SECOND_US, MINUTE_US = MICROSECONDS, 60 * MICROSECONDS


def cell_name(column: int) -> str:
    """Return the name under which a column, counted from 1, stands in a table of cells."""
    return f"column_{column}"


def written_times(cells: pl.DataFrame, time: TimeRecipe, *, decimal_comma: bool) -> WrittenTimes:
    """Return the time of each row; null where it cannot be read.

    Parameters
    ----------
    cells : DataFrame of String
        Columns named by `cell_name`.
    time : TimeRecipe
        Where the time stands.
    decimal_comma : bool
        Decimal mark of day numbers and seconds.
    """
    if time.date_once:
        dates = cell_name(time.columns[time.parts.index("date")])
        cells = cells.with_columns(_dates_below(cells[dates]).alias(dates))
    if time.form == "text":
        return parse_times(
            time_texts(cells, time),
            time.order,
            with_offset=time.zone == WRITTEN_ZONE,
            date_alone=time.parts in (("moment",), ("date",)),
        )
    numbers = [parse_numbers(_stripped(cells[cell_name(c)]), decimal_comma=decimal_comma) for c in time.columns]
    if time.form == "spreadsheet days":
        days = numbers[0] if len(numbers) == 1 else numbers[0] + numbers[1]
        texts = cells[cell_name(time.columns[-1])]
        return WrittenTimes(local=_of_days(days, texts), is_utc=False)
    since_1970 = (numbers[0] * (MICROSECONDS / PER_SECOND[time.form])).round()
    return WrittenTimes(local=_plausible(since_1970), is_utc=True)


def _dates_below(dates: pl.Series) -> pl.Series:
    """Write a date that stands once a day into the rows below it; a heading among the rows is no date."""
    return dates.set(~dates.str.contains(r"\d").fill_null(value=False), None).forward_fill()


def time_texts(cells: pl.DataFrame, time: TimeRecipe) -> pl.Series:
    """Return the written time of each row as one text; null where a part is missing."""
    columns = {
        part: _stripped(cells[cell_name(column)]) for part, column in zip(time.parts, time.columns, strict=True)
    }
    if len(columns) == 1:
        return next(iter(columns.values()))
    frame = pl.DataFrame([texts.alias(part) for part, texts in columns.items()])
    if "date" in columns:
        # Spreadsheets write a date as its midnight.
        day: pl.Expr = pl.col("date").str.replace(MIDNIGHT, "")
    elif "day of year" in columns:
        day = pl.concat_str(_whole("year"), pl.lit("-"), _whole("day of year").str.zfill(3))
    else:
        day = pl.concat_str(_whole("year"), pl.lit("-"), _whole("month"), pl.lit("-"), _whole("day"))
    return frame.select(_with_clock(day, columns).alias("text"))["text"]


def _with_clock(day: pl.Expr, columns: dict[str, pl.Series]) -> pl.Expr:
    if "clock" in columns:
        return pl.concat_str(day, pl.lit(" "), pl.col("clock"))
    if "hhmm" in columns:
        digits = _whole("hhmm").str.zfill(4)
        return pl.concat_str(day, pl.lit(" "), digits.str.head(2), pl.lit(":"), digits.str.slice(2))
    if "hhmmss" in columns:
        digits = _whole("hhmmss").str.zfill(6)
        return pl.concat_str(
            day, pl.lit(" "), digits.str.head(2), pl.lit(":"), digits.str.slice(2, 2), pl.lit(":"), digits.str.slice(4)
        )
    if "hour" not in columns:
        return day
    parts: list[pl.Expr] = [day, pl.lit(" "), _whole("hour")]
    for name in ("minute", "second"):
        if name in columns:
            parts += [pl.lit(":"), _whole(name).str.zfill(2)]
    if "minute" not in columns:
        parts.append(pl.lit(":00"))
    return pl.concat_str(*parts)


def _whole(part: str) -> pl.Expr:
    """Return a whole number as text, without the ".0" that a spreadsheet may have added."""
    return pl.col(part).str.replace(r"[.,]0*$", "")


def _stripped(texts: pl.Series) -> pl.Series:
    # Blanks around cells are a habit of a whole file; where only some rows have them, `parse_times` copes.
    is_padded = texts.head(PEEK).str.contains(r"^\s|\s$").any()
    return texts.str.strip_chars() if is_padded else texts


def _of_days(days: pl.Series, texts: pl.Series) -> pl.Series:
    decimals = texts.str.extract(r"[.,](\d+)\s*$").str.len_chars().max()
    unit = MINUTE_US if isinstance(decimals, int) and decimals <= COARSE_DECIMALS else SECOND_US
    since_1970 = (days - SPREADSHEET_DAY_OF_1970) * (DAY_US / unit)
    return _plausible(since_1970.round() * float(unit))


def _plausible(since_1970_us: pl.Series) -> pl.Series:
    """Return times, null beyond what any clock can show (garbled numbers overflow)."""
    longest = 230 * 366 * DAY_US
    return since_1970_us.set(since_1970_us.abs() > longest, None).cast(pl.Int64).cast(LOCAL)
