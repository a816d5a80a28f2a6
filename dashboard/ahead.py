"""Where a frame of the archive is heading, for commands and pages: its own room, a venue, a named climate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.exchange.fit import CannotTell, FittedExchange, fit_exchange
from isohume.analysis.forecast.finding import venue_trial
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.wording import forecast_in_words
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

NOT_EVIDENCE = "A trial, not evidence: the loggers of the two places were never compared, and hands are not foreseen."


class NoForecastError(Exception):
    """Nothing can be said of the months ahead; the message says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """A course ahead.

    Attributes
    ----------
    room : str
        Which room it is.
    is_trial : bool
        Another climate than the frame's own room.
    series : DataFrame [%RH]
        Daily; median, low10, high90 of daily means, reading_low10 and reading_high90 of single readings.
    leave_by, earliest_plausible, expected_back_by : Timestamp or None
    chance_outside_at_end : float or None
        Share of the courses that have had a 7-day mean outside; None without a band.
    sentences : tuple of str
    """

    frame: FrameFacts
    room: str
    is_trial: bool
    series: pd.DataFrame
    leave_by: pd.Timestamp | None
    earliest_plausible: pd.Timestamp | None
    expected_back_by: pd.Timestamp | None
    chance_outside_at_end: float | None
    sentences: tuple[str, ...]


def own_forecast(archive: Archive, frame_id: str) -> Ahead:
    """Return the kept or new forecast of a frame in its own room.

    Raises
    ------
    NoForecastError
        There is none.
    """
    frame = archive.frame_facts(frame_id)
    found = Store(archive).assessment(frame_id).forecast
    if found.series is None:
        raise NoForecastError(f"{frame_id}: no forecast. {found.why}")
    return Ahead(
        frame=frame,
        room=found.room,
        is_trial=False,
        series=found.series,
        leave_by=found.leave_by,
        earliest_plausible=found.earliest_plausible,
        expected_back_by=found.expected_back_by,
        chance_outside_at_end=found.chance_outside_at_horizon,
        sentences=tuple(forecast_in_words(found, time_zone=frame.time_zone)),
    )


def trial(
    archive: Archive, frame_id: str, *, days: int, venue: AirRecord | None = None, climate: str | None = None
) -> Ahead:
    """Try a frame in a venue's recorded climate or in a named one.

    Raises
    ------
    NoForecastError
        The frame's exchange is not determined.
    ValueError, KeyError
        The venue's record is too short, or there is no climate of that name.
    """
    frame = archive.frame_facts(frame_id)
    fitted, inside = fitted_frame(archive, frame)
    if isinstance(fitted, CannotTell):
        raise NoForecastError(f"{frame_id}: no trial, since its exchange with a room is not determined. {fitted.why}")
    found = venue_trial(fitted, inside, frame=frame, days=days, venue=venue, climate=climate)
    left = found.passage
    series = found.fan.series()
    lowest, highest = series["median"].min(), series["median"].max()
    sentences = [f"{days} days in {found.room}: the median course runs from {lowest:.1f} to {highest:.1f} %RH."]
    if left is not None and frame.band is not None:
        band = f"its band of {frame.band[0]:g}–{frame.band[1]:g} %RH"
        sentences.append(f"Chance of a 7-day mean outside {band} by the end: {left.chance_at_horizon:.0%}.")
        if left.likely is not None:
            day = phrases.day(left.likely, time_zone=frame.time_zone)
            sentences.append(f"As likely as not outside by {day}.")
    return Ahead(
        frame=frame,
        room=found.room,
        is_trial=True,
        series=series,
        leave_by=None if left is None else left.likely,
        earliest_plausible=None if left is None else left.earliest,
        expected_back_by=None if left is None else left.back_by,
        chance_outside_at_end=None if left is None else left.chance_at_horizon,
        sentences=(*sentences, NOT_EVIDENCE),
    )


def fitted_frame(archive: Archive, frame: FrameFacts) -> tuple[FittedExchange | CannotTell, AirRecord]:
    """Fit the exchange of a frame of the archive, up to the archive's now.

    Raises
    ------
    NoForecastError
        Inside or room were never logged.
    """
    inside, outside = archive.inside_record(frame.frame_id), archive.outside_record(frame.frame_id)
    if inside is None or outside is None:
        missing = "the inside of the frame" if inside is None else "its room"
        raise NoForecastError(f"{frame.frame_id}: nothing was logged of {missing}.")
    return fit_exchange(inside, outside, frame=frame, as_of=pd.Timestamp(archive.today())), inside


def document(found: Ahead) -> dict[str, Any]:
    """Return a course ahead as a JSON document, times in UTC."""
    rows = [
        {"time_utc": _utc(pd.Timestamp(str(time))), **{name: round(float(value), 3) for name, value in row.items()}}
        for time, row in found.series.to_dict("index").items()
    ]
    return {
        "schema": "isohume.forecast.1",
        "frame": found.frame.frame_id,
        "band": None if found.frame.band is None else list(found.frame.band),
        "room": found.room,
        "is_trial": found.is_trial,
        "leave_by": _utc(found.leave_by),
        "earliest_plausible": _utc(found.earliest_plausible),
        "expected_back_by": _utc(found.expected_back_by),
        "chance_outside_at_end": found.chance_outside_at_end,
        "notes": list(found.sentences),
        "series": rows,
    }


def in_words(found: Ahead) -> list[str]:
    """Return a course ahead as sentences, with the fan at a few dates."""
    said = list(found.sentences)
    series = found.series
    for lead in (7, 30, 60, 120, 365):
        if lead < len(series):
            row = series.iloc[lead]
            day = phrases.day(pd.Timestamp(series.index[lead]), time_zone=found.frame.time_zone)
            said.append(
                f"{day}: {row['median']:.1f} %RH, four courses in five between {row['low10']:.1f} and "
                f"{row['high90']:.1f}."
            )
    return said


def _utc(time: pd.Timestamp | None) -> str | None:
    return None if time is None else time.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
