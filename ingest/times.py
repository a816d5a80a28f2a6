"""A column of written times at once: one strict format where the rows share it, the rest by their distinct texts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

import polars as pl

from isohume.ingest.moments import (
    DAY_US,
    FIRST_YEAR,
    LAST_YEAR,
    DateOrder,
    Moment,
    parse_date,
    parse_moment,
    parse_time,
)

LOCAL = pl.Datetime("us")
EPOCH = date(1970, 1, 1).toordinal()
# The years that count, as microseconds since 1970.
_FIRST_US, _BEYOND_US = ((date(year, 1, 1).toordinal() - EPOCH) * DAY_US for year in (FIRST_YEAR, LAST_YEAR + 1))
# With more distinct texts than this, dates and clock times are looked up apart: far fewer of each exist.
MANY_TEXTS = 4000
MOST_FORMATS = 3

_FORMAT = re.compile(
    r"(?P<a>\d{4}|\d{1,2})(?P<s>[-/.])(?P<b>\d{1,2})(?P=s)(?P<c>\d{4}|\d{1,2})"
    r"(?P<t>[T ])(?P<h>\d{1,2}):\d{2}(?P<sec>:\d{2})?(?P<f>\.\d{1,9})?(?P<ap> [AP]M)?(?P<z>Z|[+-]\d{2}:?\d{2})?"
)
_APART = r"^(.*?\d[.,]?)(?:T|,?\s+)(\d{1,2}(?:[:.hH]\d{2}|\s*[aApP]\.?\s?[mM]).*)$"


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTimes:
    """The times of a column as written.

    Attributes
    ----------
    local : Series of Datetime("us")
        Wall time, or UTC where `is_utc`; null where the text is no complete time.
    is_utc : bool
        Every time carried its own offset, which has been applied.
    """

    local: pl.Series
    is_utc: bool


def parse_times(texts: pl.Series, order: DateOrder, *, with_offset: bool, date_alone: bool = False) -> WrittenTimes:
    """Parse a column of dates with times.

    Parameters
    ----------
    texts : Series of String
        One written time per row.
    order : {"day-first", "month-first", "year-first"}
        Order of day, month and year where all are numbers.
    with_offset : bool
        Each time carries its offset to UTC (`Z`, `+01:00`); rows without one are null, and the result is UTC.
        Otherwise a written offset is an inconsistency and the row is null.
    date_alone : bool
        A date without a clock time is its midnight (spreadsheets drop 00:00); otherwise it is no time.
    """
    local = pl.Series(texts.name, [None], dtype=LOCAL).new_from_index(0, len(texts))
    is_open = texts.is_not_null()
    for _ in range(MOST_FORMATS):
        if not is_open.any():
            return WrittenTimes(local=local, is_utc=with_offset)
        position = is_open.arg_max() or 0
        written = chrono_format(texts[position], order, with_offset=with_offset)
        if written is None:
            break
        parsed = _by_format(texts, written)
        local = parsed if local.null_count() == len(local) else local.fill_null(parsed)
        if local.null_count() == texts.null_count():
            return WrittenTimes(local=local, is_utc=with_offset)
        is_open = texts.is_not_null() & local.is_null()
        if is_open[position]:
            break  # the format did not even fit the text it was made from
    left = texts.filter(is_open)
    slowly = _by_distinct_text(left, order, with_offset=with_offset, date_alone=date_alone)
    rows = is_open.arg_true()
    return WrittenTimes(local=local.scatter(rows, slowly), is_utc=with_offset)


def chrono_format(text: str, order: DateOrder, *, with_offset: bool) -> str | None:
    """Return the strict format of a common numeric form, None where only `parse_moment` can read it.

    Examples
    --------
    >>> chrono_format("31.12.2024 23:50", "day-first", with_offset=False)
    '%d.%m.%Y %H:%M'
    """
    found = _FORMAT.fullmatch(text)
    if found is None:
        return None
    year_first = len(found["a"]) == 4
    if year_first == (len(found["c"]) == 4) and (year_first or order == "year-first"):
        if year_first or len(found["a"]) != 2:
            return None
        fields = ("%y", "%m", "%d")
    elif year_first:
        fields = ("%Y", "%m", "%d")
    else:
        year = "%Y" if len(found["c"]) == 4 else "%y"
        if order == "year-first":
            return None
        fields = ("%d", "%m", year) if order == "day-first" else ("%m", "%d", year)
    clock = ("%I" if found["ap"] else "%H") + ":%M" + (":%S" if found["sec"] else "") + ("%.f" if found["f"] else "")
    if bool(found["z"]) != with_offset or (found["f"] and not found["sec"]):
        return None
    zone = "" if not found["z"] else ("Z" if found["z"] == "Z" else "%z")
    return found["s"].join(fields) + found["t"] + clock + (" %p" if found["ap"] else "") + zone


def _by_format(texts: pl.Series, written: str) -> pl.Series:
    parsed = texts.str.to_datetime(written, time_unit="us", strict=False, exact=True, cache=False)
    if "%z" in written:
        parsed = parsed.dt.convert_time_zone("UTC").dt.replace_time_zone(None)
    # Chrono takes "24" for the year 24 under %Y: such a row goes to the reference parser.
    # As numbers: Python knows no year below 1, and Chrono reads some.
    microseconds = parsed.to_physical()
    lowest, highest = microseconds.min(), microseconds.max()
    if isinstance(lowest, int) and isinstance(highest, int) and (lowest < _FIRST_US or highest >= _BEYOND_US):
        plausible = microseconds.is_between(_FIRST_US, _BEYOND_US - 1)
        parsed = parsed.zip_with(plausible.fill_null(value=False), pl.Series([None], dtype=LOCAL))
    return parsed


def _by_distinct_text(texts: pl.Series, order: DateOrder, *, with_offset: bool, date_alone: bool) -> pl.Series:
    def microseconds(text: str) -> int | None:
        return _microseconds(parse_moment(text, order), with_offset=with_offset, date_alone=date_alone)

    distinct = texts.unique()
    if len(distinct) <= MANY_TEXTS:
        known = {text: microseconds(text) for text in distinct}
        return _looked_up(texts, known).cast(LOCAL)
    frame = texts.alias("text").to_frame()
    apart = frame.select(day=pl.col("text").str.extract(_APART, 1), clock=pl.col("text").str.extract(_APART, 2))
    days = {text: _day_us(parse_date(text, order)) for text in apart["day"].unique().drop_nulls()}
    clocks: dict[str, int | None] = {}
    for text in apart["clock"].unique().drop_nulls():
        found = parse_time(text)
        if found and (found[1] is not None) == with_offset:
            clocks[text] = found[0] - (found[1] or 0) * 60_000_000
    moments = _looked_up(apart["day"], days) + _looked_up(apart["clock"], clocks)
    left = moments.is_null()
    if left.any():
        rest = texts.filter(left)
        known = {text: microseconds(text) for text in rest.unique()}
        moments = moments.scatter(left.arg_true(), _looked_up(rest, known))
    return moments.cast(LOCAL)


def _looked_up(texts: pl.Series, known: dict[str, int | None]) -> pl.Series:
    usable = {text: value for text, value in known.items() if value is not None}
    if not usable:
        return pl.Series(texts.name, [None], dtype=pl.Int64).new_from_index(0, len(texts))
    return texts.replace_strict(
        pl.Series(list(usable), dtype=pl.String),
        pl.Series(list(usable.values()), dtype=pl.Int64),
        default=None,
        return_dtype=pl.Int64,
    )


def _day_us(day: date | None) -> int | None:
    return None if day is None else (day.toordinal() - EPOCH) * DAY_US


def _microseconds(moment: Moment | None, *, with_offset: bool, date_alone: bool) -> int | None:
    """Return a moment as µs since 1970; a date alone is its midnight at most, a time alone is no moment."""
    if moment is None or moment.day is None:
        return None
    if moment.time_us is None:
        return _day_us(moment.day) if date_alone and not with_offset else None
    if (moment.offset_minutes is not None) != with_offset:
        return None
    return (_day_us(moment.day) or 0) + moment.time_us - (moment.offset_minutes or 0) * 60_000_000
