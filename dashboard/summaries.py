"""A frame in one row: made from its records and findings, and kept in the archive as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from isohume.analysis.estimated_inside import EstimatedInside
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord, seconds_utc
from isohume.analysis.results import Assessment, DataQuality, Reason, Standing
from isohume.dashboard.thinning import FloatArray
from isohume.dashboard.urgency import needs_decision
from isohume.dashboard.views import FrameSummary, SmallPicture

N_WEEKS = 52
DAY, WEEK = 86_400.0, 7 * 86_400.0


def summary(
    facts: FrameFacts,
    assessment: Assessment,
    *,
    room: str,
    inside: AirRecord | None,
    outside: AirRecord | None,
) -> FrameSummary:
    """Put one frame into a row, as it stands at the moment of its assessment."""
    return FrameSummary(
        frame_id=facts.frame_id,
        painting=facts.painting,
        room=room,
        lifecycle=facts.lifecycle,
        band=facts.band,
        standing=assessment.standing,
        data=assessment.data,
        newest_utc=newest_reading(inside) or newest_strip(facts, assessment.as_of),
        estimated=inside is None,
        needs_decision=needs_decision(assessment.standing, assessment.data),
        changed=None,
        picture=small_picture(facts, inside, outside, end_utc=assessment.as_of, estimate=assessment.estimate),
    )


def newest_reading(air: AirRecord | None) -> pd.Timestamp | None:
    """Return the time of the newest usable humidity, None if there is none."""
    usable = None if air is None else air.rh_percent.dropna()
    return None if usable is None or usable.empty else pd.DatetimeIndex(usable.index)[-1]


def newest_strip(facts: FrameFacts, now: pd.Timestamp) -> pd.Timestamp | None:
    """Return when the strip of a frame was last read, None if never."""
    read = [event.time_utc for event in facts.events if event.kind == "strip read" and event.time_utc <= now]
    return max(read, default=None)


def small_picture(
    facts: FrameFacts,
    inside: AirRecord | None,
    outside: AirRecord | None,
    *,
    end_utc: pd.Timestamp,
    estimate: EstimatedInside | None = None,
) -> SmallPicture:
    """Reduce the last 52 weeks to a few numbers.

    A frame without a logger shows its estimate, or what its strip was read at where there is none.
    """
    end = end_utc.timestamp()
    start = end - N_WEEKS * WEEK

    def weekly(seconds: FloatArray, values: FloatArray) -> FloatArray:
        return _bucket_means(seconds, values, start=start, width=WEEK, n=N_WEEKS)

    ends: tuple[FloatArray | None, FloatArray | None] = (None, None)
    if inside is not None:
        line = weekly(*_usable(inside.rh_percent))
    elif estimate is not None:
        line = weekly(*_usable(estimate.series["median"]))
        ends = weekly(*_usable(estimate.series["low"])), weekly(*_usable(estimate.series["high"]))
    else:
        strips = [event for event in facts.events if event.kind == "strip read" and event.rh_percent is not None]
        seconds = np.array([event.time_utc.timestamp() for event in strips])
        line = weekly(seconds, np.array([event.rh_percent for event in strips], dtype=np.float64))
    daily = np.full(7 * N_WEEKS, np.nan)
    if outside is not None:
        daily = _bucket_means(*_usable(outside.rh_percent), start=start, width=DAY, n=7 * N_WEEKS)
    low, high = _extremes(daily.reshape(N_WEEKS, 7))
    return SmallPicture(
        end_utc=end_utc, inside=line, room_low=low, room_high=high, inside_low=ends[0], inside_high=ends[1]
    )


def _usable(series: pd.Series[float]) -> tuple[FloatArray, FloatArray]:
    known = series.dropna()
    return seconds_utc(pd.DatetimeIndex(known.index)), np.asarray(known, dtype=np.float64)


def _bucket_means(seconds: FloatArray, values: FloatArray, *, start: float, width: float, n: int) -> FloatArray:
    bucket = np.floor((seconds - start) / width).astype(np.int64)
    within = (bucket >= 0) & (bucket < n)
    counts = np.bincount(bucket[within], minlength=n)
    sums = np.bincount(bucket[within], weights=values[within], minlength=n)
    means: FloatArray = np.divide(sums, counts, out=np.full(n, np.nan), where=counts > 0)
    return means


def _extremes(daily: FloatArray) -> tuple[FloatArray, FloatArray]:
    low = np.where(np.isnan(daily), np.inf, daily).min(axis=1)
    high = np.where(np.isnan(daily), -np.inf, daily).max(axis=1)
    return np.where(np.isinf(low), np.nan, low), np.where(np.isinf(high), np.nan, high)


# Keeping: everything as JSON holds it. Numbers of the picture need one decimal, it is 60 pixels high.


def to_document(found: FrameSummary) -> dict[str, Any]:
    """Return a summary as plain values, ready to be kept."""
    return {
        "frame_id": found.frame_id,
        "painting": found.painting,
        "room": found.room,
        "lifecycle": found.lifecycle,
        "band": found.band,
        "standing": {**asdict(found.standing), "by": _text(found.standing.by)},
        "data": asdict(found.data),
        "newest_utc": _text(found.newest_utc),
        "estimated": found.estimated,
        "picture": {
            "end_utc": _text(found.picture.end_utc),
            **{
                name: _numbers(getattr(found.picture, name))
                for name in ("inside", "room_low", "room_high", "inside_low", "inside_high")
                if getattr(found.picture, name) is not None
            },
        },
    }


def from_document(document: Mapping[str, Any]) -> FrameSummary:
    """Return the summary that was kept."""
    standing = Standing(
        **{
            **document["standing"],
            "reasons": tuple(Reason(**reason) for reason in document["standing"]["reasons"]),
            "by": _moment(document["standing"]["by"]),
        }
    )
    data = DataQuality(
        name=document["data"]["name"], reasons=tuple(Reason(**reason) for reason in document["data"]["reasons"])
    )
    picture = document["picture"]
    band = document["band"]
    return FrameSummary(
        frame_id=document["frame_id"],
        painting=document["painting"],
        room=document["room"],
        lifecycle=document["lifecycle"],
        band=None if band is None else (band[0], band[1]),
        standing=standing,
        data=data,
        newest_utc=_moment(document["newest_utc"]),
        estimated=document["estimated"],
        needs_decision=needs_decision(standing, data),
        changed=None,
        picture=SmallPicture(
            end_utc=pd.Timestamp(picture["end_utc"]),
            inside=_array(picture["inside"]),
            room_low=_array(picture["room_low"]),
            room_high=_array(picture["room_high"]),
            inside_low=_array(picture["inside_low"]) if "inside_low" in picture else None,
            inside_high=_array(picture["inside_high"]) if "inside_high" in picture else None,
        ),
    )


def _text(time: pd.Timestamp | None) -> str | None:
    return None if time is None else time.isoformat()


def _moment(text: str | None) -> pd.Timestamp | None:
    return None if text is None else pd.Timestamp(text)


def _numbers(values: FloatArray) -> list[float | None]:
    return [None if np.isnan(value) else round(float(value), 1) for value in values]


def _array(values: list[float | None]) -> FloatArray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)
