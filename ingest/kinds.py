"""What kind of thing a cell holds: a number, a moment, a date, a clock time, text, or nothing."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

from isohume.ingest.moments import ORDERS, parse_moment
from isohume.ingest.numbers import NO_READING

Kind = Literal["number", "moment", "date", "clock", "text", "empty"]

_NUMBER = {
    decimal: re.compile(
        rf"[+\-−]?(?:\d+(?:{re.escape(decimal)}\d*)?|{re.escape(decimal)}\d+)(?:[eE][+-]?\d{{1,2}})?"
        r"\s*(?:%\s?(?:r\.?[hf]\.?)?|[°º˚�]?\s?[cf]\.?|[°º˚�]|k|deg\s?[cf])?",
        re.IGNORECASE,
    )
    for decimal in ".,"
}
_DIGITS_TO_ONE = str.maketrans("023456789", "111111111")
LONGEST_CELL = 80


def kind_of(cell: str, decimal: str) -> Kind:
    """Return the kind of one cell under one decimal mark ("." or ",").

    Examples
    --------
    >>> [kind_of(cell, ",") for cell in ("45,2", "12.30", "31.12.2024", "ok")]
    ['number', 'clock', 'date', 'text']
    """
    if not cell or cell.lower() in NO_READING:
        return "empty"
    if len(cell) > LONGEST_CELL:
        return "text"
    # Cells of one column share their shape: "9999-99-99" is looked at once.
    return _kind_of_shape(cell.translate(_DIGITS_TO_ONE), decimal)


@lru_cache(maxsize=20_000)
def _kind_of_shape(shape: str, decimal: str) -> Kind:
    if _NUMBER[decimal].fullmatch(shape):
        return "number"
    for order in ORDERS:
        # 1111 is a plausible year to the eye of a shape only.
        if moment := parse_moment(_as_plausible(shape), order):
            if moment.day is None:
                return "clock"
            return "date" if moment.time_us is None else "moment"
    return "text"


_OFFSET = re.compile(r"(:11(?:[.,]1+)?\s?[+\-−])1111$")
_YEAR = re.compile(r"1111(?!1)")


def _as_plausible(shape: str) -> str:
    """Make a valid example of a shape: years of our century, everything else 01."""
    text = _YEAR.sub("2011", _OFFSET.sub(r"\g<1>0100", shape))
    return re.sub(r"(?<!\d)11111111(?=(1111)?(11)?(?!\d))", "20111111", text)


def commonest(kinds: Sequence[Kind]) -> Kind:
    """Return the kind most cells have, empty ones apart; "empty" if all are."""
    counts = Counter(kind for kind in kinds if kind != "empty")
    return counts.most_common(1)[0][0] if counts else "empty"
