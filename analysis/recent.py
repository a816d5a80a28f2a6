"""The last weeks of a record as a handful of figures: what the rules of standing and data look at."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from isohume.analysis.frame import OPENING_KINDS, Event, FrameFacts
from isohume.analysis.integrals import covered_hours, hours_above, hours_below, time_mean
from isohume.analysis.readings import AirRecord

MONTH = pd.Timedelta(days=30)  # design, section 4: "in 30 days"
WEEK = pd.Timedelta(days=7)
DAY = pd.Timedelta(hours=24)
YEAR = pd.Timedelta(days=365)
# Design, section 4.4: after hands were inside, 12 h of readings tell of the hands and not of the frame.
AFTER_OPENING = pd.Timedelta(hours=12)
# A 7-day mean that rests on less than a day of readings is not one; our choice.
LEAST_HOURS_OF_MEAN = 24.0
# A room record that holds (nearly) every season; design, section 4.3.
SEASONS_DAYS = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RecentAir:
    """Figures of the last 30 days up to the newest reading; None where the readings do not carry them.

    Attributes
    ----------
    newest_utc : Timestamp or None
        Newest usable inside humidity reading.
    since_utc : Timestamp or None
        Start of the window: 30 days before `newest_utc`, or 12 h after the frame was last open, if later.
    hours_covered : float [h]
        Inside hours covered in the window.
    mean_7d_percent : float or None [%RH]
        Time-weighted mean of the last 7 days of the window.
    hours_below, hours_above : float or None [h]
        Hours outside the band as read; None without a band.
    hours_below_beyond_doubt, hours_above_beyond_doubt : float or None [h]
        Hours farther outside the band than the expanded uncertainty; None without a band.
    hours_outside_7d : float or None [h]
        Hours outside the band as read in the last 7 days; 0 when the inside is back already.
    hours_damp : float [h]
        Hours at or above the damp limit.
    largest_change_24h_percent, largest_change_end_utc : float [%RH] and Timestamp, or None
        Largest minus smallest reading in any closed 24 h, and the end of that day.
    flagged_share : float or None [0-1]
        Share of the readings of the last 30 days that their flags exclude; None without readings.
    room_lowest_7d_percent, room_highest_7d_percent : float or None [%RH]
        Extremes of the 7-day means of the room over the last year, if its record covers 300 days of it.
    """

    newest_utc: pd.Timestamp | None = None
    since_utc: pd.Timestamp | None = None
    hours_covered: float = 0.0
    mean_7d_percent: float | None = None
    hours_below: float | None = None
    hours_above: float | None = None
    hours_below_beyond_doubt: float | None = None
    hours_above_beyond_doubt: float | None = None
    hours_outside_7d: float | None = None
    hours_damp: float = 0.0
    largest_change_24h_percent: float | None = None
    largest_change_end_utc: pd.Timestamp | None = None
    flagged_share: float | None = None
    room_lowest_7d_percent: float | None = None
    room_highest_7d_percent: float | None = None


def recent_air(
    inside: AirRecord | None, outside: AirRecord | None, *, frame: FrameFacts, as_of: pd.Timestamp
) -> RecentAir:
    """Summarise the newest 30 days of a frame for the rules of standing.

    Parameters
    ----------
    inside, outside : AirRecord or None
        Records already cut at `as_of`.
    frame : FrameFacts
        Band, limits and events.
    as_of : Timestamp
        The moment for which the figures hold; later events are ignored.
    """
    lowest, highest = _room_extremes(outside)
    usable = None if inside is None else inside.rh_percent.dropna()
    if inside is None or usable is None or usable.empty:
        return RecentAir(
            flagged_share=None if inside is None else flagged_share(inside.rh_percent),
            room_lowest_7d_percent=lowest,
            room_highest_7d_percent=highest,
        )
    newest = usable.index[-1]
    since = newest - MONTH
    opened = last_opening(frame.events, as_of=as_of)
    if opened is not None:
        since = max(since, opened.time_utc + AFTER_OPENING)
    window = inside.rh_percent.loc[since:newest]
    week = window.loc[newest - WEEK :]
    change, change_end = largest_change_within_a_day(window)
    # "At or above" is "strictly above the next smaller number".
    just_under_damp = float(np.nextafter(frame.limits.damp_rh_percent, 0.0))
    without_band = RecentAir(
        newest_utc=newest,
        since_utc=since,
        hours_covered=covered_hours(window),
        mean_7d_percent=time_mean(week) if covered_hours(week) >= LEAST_HOURS_OF_MEAN else None,
        hours_damp=hours_above(window, just_under_damp),
        largest_change_24h_percent=change,
        largest_change_end_utc=change_end,
        flagged_share=flagged_share(inside.rh_percent),
        room_lowest_7d_percent=lowest,
        room_highest_7d_percent=highest,
    )
    if frame.band is None:
        return without_band
    low, high = frame.band
    margin = inside.uncertainty_percent
    return replace(
        without_band,
        hours_below=hours_below(window, low),
        hours_above=hours_above(window, high),
        hours_below_beyond_doubt=hours_below(window, low - margin),
        hours_above_beyond_doubt=hours_above(window, high + margin),
        hours_outside_7d=hours_below(week, low) + hours_above(week, high),
    )


def last_opening(events: tuple[Event, ...], *, as_of: pd.Timestamp) -> Event | None:
    """Return the newest event up to `as_of` at which hands were inside the frame."""
    openings = [event for event in events if event.kind in OPENING_KINDS and event.time_utc <= as_of]
    return max(openings, key=lambda event: event.time_utc, default=None)


def largest_change_within_a_day(rh_percent: pd.Series[float]) -> tuple[float | None, pd.Timestamp | None]:
    """Return the largest minus the smallest reading within any closed 24 h, and the end of that day.

    Returns
    -------
    change, end : float [%RH] and Timestamp, or None, None
        None with fewer than two readings.
    """
    usable = rh_percent.dropna()
    if len(usable) < 2:
        return None, None
    day = usable.rolling(DAY, closed="both")
    change = day.max() - day.min()
    at = int(change.to_numpy().argmax())
    return float(change.iloc[at]), pd.Timestamp(usable.index[at])


def flagged_share(rh_percent: pd.Series[float]) -> float | None:
    """Return the share of readings in the last 30 days of a record that are unfit for analysis, 0-1."""
    if rh_percent.empty:
        return None
    month = rh_percent.loc[rh_percent.index[-1] - MONTH :]
    return float(month.isna().mean())


def _room_extremes(outside: AirRecord | None) -> tuple[float | None, float | None]:
    if outside is None:
        return None, None
    rh_percent = outside.rh_percent.dropna()
    if rh_percent.empty:
        return None, None
    year = rh_percent.loc[rh_percent.index[-1] - YEAR :]
    if covered_hours(year) < SEASONS_DAYS * 24:
        return None, None
    # The first windows hold less than a week and swing wider than a week's mean: the cautious side.
    means = year.rolling(WEEK).mean()
    return float(means.min()), float(means.max())
