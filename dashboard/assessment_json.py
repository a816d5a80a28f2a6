"""An assessment as the fixed JSON document that scripts and notebooks depend on (`isohume.assessment.1`)."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, fields, is_dataclass
from functools import singledispatch
from importlib.metadata import version
from typing import Any

import numpy as np
import pandas as pd

from isohume.analysis.before_after import Intervention
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment, ForecastFinding, Ratio

SCHEMA = "isohume.assessment.1"


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """One file that an assessment rests on."""

    side: str  # inside, outside
    file: str
    sha256: str
    channel: str = ""


def assessment_document(
    assessment: Assessment,
    *,
    inside: AirRecord | None,
    outside: AirRecord | None,
    frame: FrameFacts,
    files: Sequence[InputFile] = (),
    parameters: Mapping[str, Any] | None = None,
    with_series: bool = False,
) -> dict[str, Any]:
    """Return an assessment as plain values, ready for `dump`.

    Parameters
    ----------
    assessment : Assessment
        What to write.
    inside, outside : AirRecord or None
        The records it was made from: flag counts, uncertainty and notes come from here.
    frame : FrameFacts
        Band, conditioned RH and limits, written as parameters so that the figures can be computed again.
    files : sequence of InputFile
        Names and hashes of the files.
    parameters : mapping
        Further parameters of the run (time zone, seed, …).
    with_series : bool
        Write the daily course of the forecast too.
    """
    document = {
        "schema": SCHEMA,
        "isohume_version": version("isohume"),
        "as_of": assessment.as_of,
        "inputs": {
            "files": list(files),
            "parameters": {
                "band": frame.band,
                "conditioned_percent": frame.conditioned_percent,
                "conditioned_on": frame.conditioned_on,
                "limits": asdict(frame.limits),
                **(parameters or {}),
            },
        },
        "period": assessment.period,
        "quality": {"inside": _quality(inside), "outside": _quality(outside)},
        "band": assessment.band,
        "buffering": assessment.buffering,
        "drift": assessment.drift,
        "exchange": assessment.exchange,
        "forecast": _forecast(assessment.forecast, with_series=with_series),
        "seal": assessment.seal,
        "panel": assessment.panel,
        "dew_point": assessment.dew_point,
        "standing": assessment.standing,
        "data": assessment.data,
        "did_it_help": [_intervention(one) for one in assessment.interventions],
        "estimate": _estimate(assessment, with_series=with_series),
    }
    return {key: plain(value) for key, value in document.items()}


def dump(document: Mapping[str, Any]) -> str:
    """Write one JSON document; a value that JSON cannot hold is our error and raises ValueError."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)


@singledispatch
def plain(value: Any) -> Any:
    """Turn results into what JSON can hold: times as ISO 8601 with Z, unknown numbers as null.

    Raises
    ------
    TypeError
        A value of a kind that has no place in the document.
    """
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    raise TypeError(f"{type(value).__name__} has no place in the assessment document")


@plain.register(type(None))
@plain.register(str)
@plain.register(bool)
def _as_is(value: Any) -> Any:
    return value


@plain.register
def _ratio(value: Ratio) -> dict[str, Any]:
    if value.ratio is None:
        return {"why": value.why}
    return {name: plain(getattr(value, name)) for name in ("ratio", "low", "high", "at_floor")}


@plain.register(float)
@plain.register(np.floating)
def _number(value: Any) -> float | None:
    return float(value) if math.isfinite(value) else None


@plain.register(int)
@plain.register(np.integer)
def _count(value: Any) -> int:
    return int(value)


@plain.register(np.bool_)
def _flag(value: Any) -> bool:
    return bool(value)


@plain.register
def _moment(value: pd.Timestamp) -> str | None:
    return iso(value)


@plain.register
def _mapping(value: Mapping) -> dict[str, Any]:  # type: ignore[type-arg]  # dispatch needs the bare class
    return {str(key): plain(inner) for key, inner in value.items()}


@plain.register(tuple)
@plain.register(list)
def _sequence(value: Any) -> list[Any]:
    return [plain(inner) for inner in value]


def iso(moment: pd.Timestamp) -> str | None:
    """Write a moment as ISO 8601 in UTC with Z, to the second."""
    return None if pd.isna(moment) else f"{moment.tz_convert('UTC'):%Y-%m-%dT%H:%M:%SZ}"


def _quality(record: AirRecord | None) -> dict[str, Any]:
    if record is None:
        return {"why": "no record of this side"}
    return {
        "n_readings": record.n_readings,
        "n_excluded": record.n_excluded,
        "flags": dict(record.flag_counts),
        "uncertainty_percent": record.uncertainty_percent,
        "calibrated_on": record.calibrated_on,
        "logger_changes": record.logger_changes,
        "notes": record.notes,
    }


def _forecast(forecast: ForecastFinding, *, with_series: bool) -> dict[str, Any]:
    written = {field.name: getattr(forecast, field.name) for field in fields(forecast) if field.name != "series"}
    if with_series:
        written["series"] = None if forecast.series is None else _course(forecast.series)
    return written


def _course(series: pd.DataFrame) -> dict[str, Any]:
    return {"date": list(series.index), **{str(column): series[column].tolist() for column in series.columns}}


def _intervention(intervention: Intervention) -> dict[str, Any]:
    event = intervention.event
    told = {"time_utc": event.time_utc, "kind": event.kind, "rh_percent": event.rh_percent, "room": event.room}
    compared = {field.name: getattr(intervention, field.name) for field in fields(intervention)}
    return {**compared, "event": {**told, "note": event.note}}


def _estimate(assessment: Assessment, *, with_series: bool) -> dict[str, Any] | None:
    """Return the estimate of a frame without a logger inside; null for a frame that has one."""
    estimate = assessment.estimate
    if estimate is None:
        return {"why": assessment.no_estimate} if assessment.no_estimate else None
    newest = estimate.series.iloc[-1]
    written = {
        "estimated": True,
        "half_time_days": estimate.half_time.days,
        "half_time_source": estimate.half_time.source,
        "newest": {"date": estimate.series.index[-1], **{str(name): float(value) for name, value in newest.items()}},
        "strip_differences": [
            {"time_utc": time, "difference_percent": value} for time, value in estimate.strip_differences
        ],
        "notes": estimate.notes,
    }
    return {**written, "series": _course(estimate.series)} if with_series else written
