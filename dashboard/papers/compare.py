"""Two sets of figures, or two tables of readings, laid side by side: every difference is named."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd
import polars as pl

# The same software on another processor rounds sums differently, in the last digits.
EXACT = 1e-6
# A fit by steps ends a little elsewhere when its sums are rounded differently, and more with another library.
FITTED_SAME_SOFTWARE, FITTED_OTHER_SOFTWARE = 1e-4, 5e-3
FITTED = ("assessment.exchange", "assessment.forecast", "assessment.seal", "assessment.standing", "assessment.panel")
A_DAY = pd.Timedelta(days=1)
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
NOT_COMPARED = {"isohume_version", "assessment.isohume_version"}
NOTHING = "nothing"


def flat(document: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Yield every leaf of a document with its path: `terms[0].clauses[2].worst`; empty lists and tables are leaves."""
    if isinstance(document, Mapping) and document:
        for key in sorted(document):
            yield from flat(document[key], f"{path}.{key}" if path else str(key))
    elif isinstance(document, list) and document:
        for place, inner in enumerate(document):
            yield from flat(inner, f"{path}[{place}]")
    else:
        yield path, document


def figures_that_differ(
    found: Mapping[str, Any], computed: Mapping[str, Any], *, same_software: bool
) -> tuple[list[str], int]:
    """Compare the figures of a pack with those computed now.

    Returns
    -------
    list of str
        One sentence for each figure that differs.
    int
        How many figures were compared.
    """
    theirs, ours = dict(flat(found)), dict(flat(computed))
    fitted = FITTED_SAME_SOFTWARE if same_software else FITTED_OTHER_SOFTWARE
    paths = sorted((set(theirs) | set(ours)) - NOT_COMPARED)
    sentences = []
    for path in paths:
        here, now = (side.get(path, NOTHING) for side in (theirs, ours))
        is_fitted = path.startswith(FITTED)
        if not _agree(here, now, fitted if is_fitted else EXACT, is_fitted=is_fitted):
            sentences.append(f"{path} is {_shown(here)} in the pack; computed again it is {_shown(now)}.")
    return sentences, len(paths)


def _agree(one: Any, other: Any, tolerance: float, *, is_fitted: bool) -> bool:
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=tolerance, abs_tol=tolerance)
    if isinstance(one, str) and isinstance(other, str):
        return one == other or _texts_agree(one, other, tolerance, is_fitted=is_fitted)
    return bool(one == other)


def _texts_agree(one: str, other: str, tolerance: float, *, is_fitted: bool) -> bool:
    """Compare two texts: words alike, rounded numbers at most one unit of their last place apart."""
    if _MOMENT.fullmatch(one) and _MOMENT.fullmatch(other):
        apart = abs(pd.Timestamp(one) - pd.Timestamp(other))
        return bool(apart <= A_DAY) if is_fitted else bool(apart <= pd.Timedelta(seconds=1))
    if not is_fitted or _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    pairs = zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True)
    return all(_rounded_alike(a, b, tolerance) for a, b in pairs)


def _rounded_alike(one: str, other: str, tolerance: float) -> bool:
    places = len(one.partition(".")[2])
    first, second = float(one.replace(",", "")), float(other.replace(",", ""))
    return abs(first - second) <= 1.001 * 10.0**-places if places else math.isclose(first, second, rel_tol=tolerance)


def _shown(value: Any) -> str:
    if value == NOTHING and isinstance(value, str):
        return "missing"
    return (
        f"“{value}”"
        if isinstance(value, str)
        else str(value).lower()
        if value is None or value is True
        else str(value)
    )


def readings_that_differ(one: pl.DataFrame, other: pl.DataFrame, names: tuple[str, str]) -> list[str]:
    """Compare two tables of readings by side and time.

    Parameters
    ----------
    one, other : DataFrame
        `evidence.READINGS_SCHEMA`.
    names : pair of str
        What the tables are called in the sentences.

    Returns
    -------
    list of str
        One sentence for each reading that differs, is missing or stands elsewhere.
    """
    if one.equals(other):
        return []
    repeated = [
        f"{name}: the {side} reading of {_when(moment)} stands there {count} times."
        for name, table in zip(names, (one, other), strict=True)
        for side, moment, count in table.group_by("side", "time_utc").len().filter(pl.col("len") > 1).sort(
            "side", "time_utc"
        ).iter_rows()
    ]  # fmt: skip
    if repeated:
        return repeated
    values = ["logger", "rh_percent", "temperature_celsius", "flags"]
    joined = one.with_columns(in_one=True).join(
        other.with_columns(in_other=True), on=["side", "time_utc"], how="full", coalesce=True, suffix="_other"
    )
    sentences = []
    differ = pl.any_horizontal([pl.col(name).ne_missing(pl.col(f"{name}_other")) for name in values])
    for row in joined.filter(differ | pl.col("in_one").is_null() | pl.col("in_other").is_null()).sort(
        "side", "time_utc"
    ).iter_rows(named=True):  # fmt: skip
        which = f"The {row['side']} reading of {_when(row['time_utc'])}"
        if row["in_one"] is None or row["in_other"] is None:
            there, missing = names if row["in_other"] is None else names[::-1]
            sentences.append(f"{which} stands in {there} and not in {missing}.")
            continue
        changed = [
            f"{name} {_cell(row[name])} in {names[0]}, {_cell(row[f'{name}_other'])} in {names[1]}"
            for name in values
            if row[name] != row[f"{name}_other"]
        ]
        sentences.append(f"{which}: {'; '.join(changed)}.")
    return sentences or _moved(one, other, names)


def _moved(one: pl.DataFrame, other: pl.DataFrame, names: tuple[str, str]) -> list[str]:
    """Name the rows whose place differs while all readings are the same."""
    rows = zip(one.select("side", "time_utc").iter_rows(), other.select("side", "time_utc").iter_rows(), strict=True)
    places = [place for place, (first, second) in enumerate(rows) if first != second]
    return [
        f"Row {place + 1} of {names[0]} holds the {one['side'][place]} reading of {_when(one['time_utc'][place])}; "
        f"{names[1]} holds that reading in another row."
        for place in places
    ]


def _when(moment: Any) -> str:
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


def _cell(value: Any) -> str:
    return "empty" if value in {None, ""} else str(value)
