"""An assessment as the archive keeps it between runs: plain JSON values that come back as the same findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pandas as pd

from isohume.analysis import before_after, estimated_inside, frame, results
from isohume.analysis.exchange import model
from isohume.analysis.results import Assessment

# A value that JSON has no kind for is written as {KIND: its name, VALUE: its content}.
KIND, VALUE = "#", "="
_FINDINGS = {
    name: kind
    for module in (results, before_after, estimated_inside, frame, model)
    for name, kind in vars(module).items()
    if isinstance(kind, type) and is_dataclass(kind)
}


class OutdatedFindingError(ValueError):
    """What was kept does not fit the findings of this version; it has to be computed again."""


def to_document(assessment: Assessment) -> dict[str, Any]:
    """Return an assessment as JSON holds it."""
    document: dict[str, Any] = _plain(assessment)
    return document


def from_document(document: Mapping[str, Any]) -> Assessment:
    """Return the assessment that was kept.

    Raises
    ------
    OutdatedFindingError
        It was kept by a version whose findings had another shape.
    """
    try:
        found = _restored(document)
    except (KeyError, TypeError, ValueError) as error:
        raise OutdatedFindingError(str(error)) from error
    if not isinstance(found, Assessment):
        raise OutdatedFindingError("not an assessment")
    return found


def _plain(value: Any) -> Any:  # noqa: PLR0911 - one line per kind of value
    if is_dataclass(value) and not isinstance(value, type):
        content = {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
        return {KIND: type(value).__name__, VALUE: content}
    if isinstance(value, pd.DataFrame):
        columns = {str(name): [_number(one) for one in column] for name, column in value.items()}
        index = [time.isoformat() if isinstance(time, pd.Timestamp) else float(time) for time in value.index]
        return {KIND: "DataFrame", VALUE: {"index": index, "columns": columns}}
    if isinstance(value, pd.Timestamp):
        return {KIND: "Timestamp", VALUE: value.isoformat()}
    if isinstance(value, Mapping):
        return {KIND: "mapping", VALUE: {str(key): _plain(one) for key, one in value.items()}}
    if isinstance(value, list | tuple):
        return {KIND: type(value).__name__, VALUE: [_plain(one) for one in value]}
    if isinstance(value, np.generic):
        return _plain(value.item())
    return value


def _restored(value: Any) -> Any:  # noqa: PLR0911 - as above
    if not isinstance(value, Mapping):
        return value
    kind, content = value[KIND], value[VALUE]
    if kind == "Timestamp":
        return pd.Timestamp(content)
    if kind == "mapping":
        return {key: _restored(one) for key, one in content.items()}
    if kind == "tuple":
        return tuple(_restored(one) for one in content)
    if kind == "list":
        return [_restored(one) for one in content]
    if kind == "DataFrame":
        is_dated = not content["index"] or isinstance(content["index"][0], str)
        index = (
            pd.DatetimeIndex(pd.to_datetime(content["index"], utc=True)) if is_dated else pd.Index(content["index"])
        )
        return pd.DataFrame(content["columns"], index=index, dtype=np.float64)
    return _FINDINGS[kind](**{name: _restored(one) for name, one in content.items()})


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
