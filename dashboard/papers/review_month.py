"""Months of a review: from when to when, which come before, and how they are named."""

from __future__ import annotations

import pandas as pd

MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
# Years that a clock or a typing error may bring, but no climate record: nobody reviews them.
FIRST_YEAR, LAST_YEAR = 1900, 2200


class ReviewError(Exception):
    """No review can be made of what is asked for; the message ends with what to do."""


def month_span(month: str, time_zone: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """Return begin and end of a month in the site's zone, as UTC.

    Raises
    ------
    ReviewError
        The text is no month.
    """
    year, dash, number = month.partition("-")
    is_written_so = dash and len(year) == 4 and len(number) == 2 and (year + number).isascii()
    if not (is_written_so and (year + number).isdigit() and 1 <= int(number) <= 12):
        raise ReviewError(f'Month "{month[:40]}": expected a month such as 2026-10.')
    if not FIRST_YEAR <= int(year) <= LAST_YEAR:
        raise ReviewError(f'Month "{month}": expected a year from {FIRST_YEAR} to {LAST_YEAR}.')
    first = pd.Timestamp(year=int(year), month=int(number), day=1)
    later = first + pd.offsets.MonthBegin(1)
    return first.tz_localize(time_zone).tz_convert("UTC"), later.tz_localize(time_zone).tz_convert("UTC")


def months_before(month: str, n: int) -> str:
    """Return the month that lies n months before; a negative n lies after.

    Examples
    --------
    >>> months_before("2026-01", 1), months_before("2026-10", 12), months_before("2026-12", -1)
    ('2025-12', '2025-10', '2027-01')
    """
    year, number = int(month[:4]), int(month[5:])
    whole = 12 * year + number - 1 - n
    return f"{whole // 12:04d}-{whole % 12 + 1:02d}"


def month_in_words(month: str) -> str:
    """Write "2026-10" as "October 2026"."""
    year, _, number = month.partition("-")
    return f"{MONTH_NAMES[int(number) - 1]} {year}"
