"""A frame's half-time from days instead of months: a move between climates, a room changed on purpose, a door test."""

from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.exchange.step import half_time_after_step
from isohume.analysis.exchange.tracer import PERMEATION_WARNING
from isohume.analysis.frame import FrameFacts
from isohume.dashboard.ahead import NoForecastError
from isohume.ingest.archive.archive import Archive

UNDISTURBED = "The frame must have hung undisturbed for some weeks before: its panel is taken to have been in balance."


def step_test(
    archive: Archive, frame_id: str, *, step_utc: pd.Timestamp, until_utc: pd.Timestamp | None = None
) -> FittedExchange | CannotTell:
    """Fit a frame of the archive to the days around a step in the climate around it.

    Raises
    ------
    NoForecastError
        Inside or room were never logged.
    """
    inside, outside = archive.inside_record(frame_id), archive.outside_record(frame_id)
    if inside is None or outside is None:
        missing = "the inside of the frame" if inside is None else "its room"
        raise NoForecastError(f"{frame_id}: nothing was logged of {missing}.")
    frame = archive.frame_facts(frame_id)
    return half_time_after_step(inside, outside, step_utc=step_utc, until_utc=until_utc, frame=frame)


def document(frame: FrameFacts, found: FittedExchange | CannotTell, *, step_utc: pd.Timestamp) -> dict[str, Any]:
    """Return the test as a JSON document, times in UTC."""
    figures = ("half_time_days", "half_time_low", "half_time_high", "half_time_at_least", "half_time_at_most")
    return {
        "schema": "isohume.step.1",
        "frame": frame.frame_id,
        "step_utc": step_utc.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ"),
        "determined": isinstance(found, FittedExchange),
        "why": found.why if isinstance(found, CannotTell) else "",
        "reference_celsius": found.reference_celsius,
        **{name: getattr(found, name, None) for name in figures},
        "notes": [*found.notes, UNDISTURBED, PERMEATION_WARNING],
    }


def in_words(frame: FrameFacts, found: FittedExchange | CannotTell, *, step_utc: pd.Timestamp) -> list[str]:
    """Return the test as sentences."""
    when = phrases.moment(step_utc, time_zone=frame.time_zone)
    if isinstance(found, FittedExchange):
        low, high = phrases.days(found.half_time_low), phrases.days(found.half_time_high)
        celsius = f"{found.reference_celsius:.1f} °C"
        head = (
            f"{frame.frame_id}: after the step of {when} half of the change comes in after "
            f"{phrases.days(found.half_time_days)} (95 % interval {low} to {high}) at {celsius}."
        )
    else:
        bounds = [
            f" It is {word} {phrases.days(bound)}."
            for word, bound in (("at least", found.half_time_at_least), ("at most", found.half_time_at_most))
            if bound is not None
        ]
        head = f"{frame.frame_id}: no half-time from the step of {when}. {found.why}{''.join(bounds)}"
    return [head, *found.notes, UNDISTURBED, PERMEATION_WARNING]
