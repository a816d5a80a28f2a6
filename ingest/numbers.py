"""A column of written numbers at once: plain ones by one cast, the rest by what people and loggers put around them."""

from __future__ import annotations

import polars as pl

_NO_READING = """
- -- --- ---- – — * ** *** **** # . .. ... ? na n/a n.a. n.a #n/a #nv nan null none nil void missing error err
fault fehler erreur fout errore fejl feil fel virhe invalid ungültig open ofl ufl over under off nc n.c. nodata
no_data keine leer vide -999 -999.0 -999,0 -9999 -9999.0 9999 9999.0 -99.9 -99,9 -999.9 -999,9 #div/0! #value!
#wert! #ref! #null! #num! inf -inf +inf infinity -infinity -nan +nan 1.#inf 1.#qnan -1.#ind 7ff7 disconnected
probe lo hi lobat low high
"""
# Written where there is no reading. Compared in lower case, without blanks.
NO_READING = frozenset(_NO_READING.split())
# Numbers that no air has, written by loggers and spreadsheets in place of a reading.
STAND_INS = (
    -999.0,
    -9999.0,
    9999.0,
    99999.0,
    -99999.0,
    -999.9,
    999.9,
    -99.9,
    -99.99,
    -999.99,
    32767.0,
    -32768.0,
    65535.0,
)
_UNIT_AFTER = r"(?i)\s*(?:%\s?r\.?[hf]\.?|%|r\.?h\.?|[°º˚]?\s?[cf]|[°º˚]|k|deg\s?[cf]?)\s*$"
_NUMBER = r"^[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,2})?$"


def parse_numbers(texts: pl.Series, *, decimal_comma: bool) -> pl.Series:
    """Parse a column of numbers; null where the text is none.

    Units behind the number, a true minus sign, quotation marks and blanks around it are understood. A group of
    thousands is not: neither humidity nor temperature has thousands, and "1.234" must not become 1234.

    Examples
    --------
    >>> parse_numbers(pl.Series(["45,2", "−3,5 °C", "n/a"]), decimal_comma=True).to_list()
    [45.2, -3.5, None]
    """
    plain = texts.str.replace(",", ".", literal=True) if decimal_comma else texts
    numbers = _finite(plain.cast(pl.Float64, strict=False))
    if numbers.null_count() == texts.null_count():
        return numbers
    is_open = numbers.is_null() & texts.is_not_null()
    left = texts.filter(is_open)
    tidy = (
        left.str.replace_all("[\\s\u00a0\u202f\u2009\"']", "")
        .str.replace("^[−–](\\d)", "-$1")
        .str.replace(_UNIT_AFTER, "")
    )
    tidy = tidy.set(~tidy.str.contains(_NUMBER), None).str.replace(",", ".", literal=True)
    return numbers.scatter(is_open.arg_true(), _finite(tidy.cast(pl.Float64, strict=False)))


def is_no_reading(texts: pl.Series) -> pl.Series:
    """Say for each text whether it stands for "no reading": empty, blank, or a word such as `n/a` or `---`."""
    if texts.null_count() == len(texts):
        return texts.is_null()
    tidy = texts.str.replace_all("[\\s\u00a0\"']", "").str.to_lowercase()
    return tidy.is_null() | (tidy == "") | tidy.is_in(list(NO_READING))


def _finite(numbers: pl.Series) -> pl.Series:
    """Return the numbers without those that stand for "no reading": nan, inf, -999 and the like."""
    total = numbers.sum()
    if not (isinstance(total, float) and total - total == 0):
        numbers = numbers.set(~numbers.is_finite(), None)
    lowest, highest = numbers.min(), numbers.max()
    if isinstance(lowest, float) and isinstance(highest, float) and (lowest <= -99 or highest >= 999):
        numbers = numbers.set(numbers.is_in(STAND_INS), None)
    return numbers
