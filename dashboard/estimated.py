"""The inside of a frame without a logger, out of the archive, for commands and pages."""

from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.estimate import CannotEstimateError, estimate_inside
from isohume.analysis.estimated_inside import EstimatedInside, KnownHalfTime
from isohume.analysis.exchange.fit import CannotTell
from isohume.analysis.frame import FrameFacts
from isohume.dashboard.ahead import fitted_frame
from isohume.ingest.archive.archive import Archive


def estimate_frame(
    archive: Archive, frame_id: str, *, half_time_days: float | None = None, sister: str | None = None
) -> EstimatedInside:
    """Estimate a frame of the archive from its room.

    Parameters
    ----------
    archive : Archive
    frame_id : str
    half_time_days : float [days]
        From the construction; or
    sister : str
        a frame built alike, whose fit is taken.

    Raises
    ------
    CannotEstimateError
        The room does not carry an estimate, or the sister's half-time is not determined.
    NoForecastError
        The sister or its room were never logged.
    """
    outside = archive.outside_record(frame_id)
    if outside is None:
        raise CannotEstimateError(f"{frame_id}: nothing was logged in its room. Place a logger there.")
    if sister is not None:
        fitted, _ = fitted_frame(archive, archive.frame_facts(sister))
        if isinstance(fitted, CannotTell):
            raise CannotEstimateError(f"{sister}: its half-time is not determined. {fitted.why}")
        known = KnownHalfTime(days=fitted.half_time_days, source="sister frame", parameters=fitted.parameters)
    else:
        known = KnownHalfTime(days=half_time_days or 0.0, source="construction")
    as_of = min(pd.Timestamp(archive.today()), pd.Timestamp(outside.readings.index[-1]))
    return estimate_inside(outside, half_time=known, frame=archive.frame_facts(frame_id), as_of=as_of)


def document(frame: FrameFacts, found: EstimatedInside) -> dict[str, Any]:
    """Return an estimate as a JSON document, times in UTC."""
    return {
        "schema": "isohume.estimate.1",
        "frame": frame.frame_id,
        "estimated": True,
        "half_time_days": found.half_time.days,
        "half_time_source": found.half_time.source,
        "strip_differences": [
            {"time_utc": _utc(time), "difference_percent": round(value, 2)} for time, value in found.strip_differences
        ],
        "notes": list(found.notes),
        "series": [
            {"time_utc": _utc(pd.Timestamp(time)), "median": round(m, 3), "low": round(low, 3), "high": round(high, 3)}
            for time, m, low, high in zip(
                found.series.index,
                found.series["median"].tolist(),
                found.series["low"].tolist(),
                found.series["high"].tolist(),
                strict=True,
            )
        ],
    }


def in_words(frame: FrameFacts, found: EstimatedInside) -> list[str]:
    """Return an estimate as sentences."""
    newest = found.series.iloc[-1]
    day = phrases.day(pd.Timestamp(found.series.index[-1]), time_zone=frame.time_zone)
    lowest, highest = found.series["median"].min(), found.series["median"].max()
    interval = f"with 95 % confidence between {newest['low']:.1f} and {newest['high']:.1f}"
    now = f"{newest['median']:.1f} %RH on {day}, {interval}"
    span = f"{len(found.series)} days of the room's record the estimate runs from {lowest:.1f} to {highest:.1f} %RH"
    said = [f"{frame.frame_id}, estimated: {now}.", f"Over the {span}."]
    said += [
        f"The strip read on {phrases.day(time, time_zone=frame.time_zone)} lies {phrases.points(value)} from it."
        for time, value in found.strip_differences
    ]
    return [*said, *found.notes]


def _utc(time: pd.Timestamp) -> str:
    return time.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
