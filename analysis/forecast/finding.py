"""The forecast of one frame: fan, leave-by date, back-test; and the same for a venue or a named climate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.forecast.back_test import back_test
from isohume.analysis.forecast.fan import Fan, Passage, inside_fan, passage
from isohume.analysis.forecast.present_room import present_room
from isohume.analysis.forecast.room import (
    NAMED_CLIMATES,
    RoomEnsemble,
    daily_means,
    daily_room,
    named_room,
    own_room,
    venue_room,
)
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord, hourly
from isohume.analysis.results import ForecastFinding

HORIZON_DAYS = 365
N_MEMBERS = 400
_NO_FIT = "the exchange model is not determined"


@dataclass(frozen=True, slots=True, kw_only=True)
class VenueTrial:
    """What the inside would do in another climate: a trial, not evidence."""

    room: str
    days: int
    fan: Fan
    passage: Passage | None


def forecast_finding(
    fitted: FittedExchange | CannotTell,
    inside: AirRecord,
    outside: AirRecord,
    *,
    frame: FrameFacts,
    seed: int = 0,
    horizon_days: int = HORIZON_DAYS,
    room_now: AirRecord | None = None,
) -> ForecastFinding:
    """Forecast the inside in its own room.

    Parameters
    ----------
    fitted : FittedExchange or CannotTell
        Of the same records.
    inside, outside : AirRecord
    frame : FrameFacts
        Its band gives the leave-by date; its return window the "expected back".
    seed : int
    horizon_days : int
    room_now : AirRecord, optional
        Record of the present room over all time, for a frame that came to it within its own record.
    """
    if isinstance(fitted, CannotTell):
        return ForecastFinding(why=f"{_NO_FIT[0].upper()}{_NO_FIT[1:]}: {fitted.why}")
    rng = np.random.default_rng(seed)
    known = daily_room(
        *present_room(inside, outside, frame=frame, at=fitted.end_utc, room_now=room_now), end=fitted.end_utc
    )
    try:
        room = own_room(known, n_days=horizon_days, n_members=N_MEMBERS, rng=rng)
    except ValueError as error:
        return ForecastFinding(why=str(error))
    scatter = reading_scatter(inside, fitted)
    fan = inside_fan(fitted, room, reading_sd_percent=scatter, rng=rng)
    tried = back_test(inside, outside, frame=frame, reading_sd_percent=scatter, seed=seed)
    if frame.band is None:
        return ForecastFinding(
            why="No band is agreed for this frame, so there is no date by which it leaves it.",
            horizon_days=float(horizon_days),
            room=room.name,
            back_test_share_in_80=tried.share_in_80,
            series=fan.series(),
        )
    low, high = frame.band
    recent = daily_means(hourly(inside.rh_percent), end=fitted.end_utc)
    found = passage(fan, recent, low=low, high=high)
    return ForecastFinding(
        horizon_days=float(horizon_days),
        room=room.name,
        leave_by=found.likely,
        earliest_plausible=found.earliest,
        chance_outside_at_horizon=found.chance_at_horizon,
        expected_back_by=_soon_back(found, fan.start, frame.limits.returns_within_days),
        back_test_share_in_80=tried.share_in_80,
        series=fan.series(),
    )


def venue_trial(
    fitted: FittedExchange,
    inside: AirRecord,
    *,
    frame: FrameFacts,
    days: int,
    venue: AirRecord | None = None,
    climate: str | None = None,
    seed: int = 0,
) -> VenueTrial:
    """Try what the inside would do in a venue: its record, or a named climate.

    Raises
    ------
    ValueError
        The venue's record is too short, or neither or both of `venue` and `climate` are given.
    KeyError
        No climate of that name; the message lists them.
    """
    rng = np.random.default_rng(seed)
    room: RoomEnsemble
    if (venue is None) == (climate is None):
        raise ValueError("Give either the venue's record or the name of a climate.")
    if venue is not None:
        room = venue_room(venue, n_days=days, n_members=N_MEMBERS)
    else:
        known = {named.name: named for named in NAMED_CLIMATES}
        if climate not in known:
            raise KeyError(f"No climate named {climate!r}. Known: {'; '.join(known)}.")
        room = named_room(known[climate], start=fitted.end_utc, n_days=days, n_members=N_MEMBERS, rng=rng)
    fan = inside_fan(fitted, room, reading_sd_percent=reading_scatter(inside, fitted), rng=rng)
    left = None
    if frame.band is not None:
        recent = daily_means(hourly(inside.rh_percent), end=fitted.end_utc)
        left = passage(fan, recent, low=frame.band[0], high=frame.band[1])
    return VenueTrial(room=room.name, days=days, fan=fan, passage=left)


def reading_scatter(inside: AirRecord, fitted: FittedExchange) -> float:
    """Return the SD of the newest 60 days' readings about their day's mean [%RH]: noise and the day's course."""
    readings = hourly(inside.rh_percent)
    recent = readings[readings.index > fitted.end_utc - pd.Timedelta(days=60)]
    within = recent - recent.rolling(24, center=True, min_periods=12).mean()
    scatter = float(within.std())
    return scatter if np.isfinite(scatter) else fitted.parameters.noise_percent


def _soon_back(found: Passage, start: pd.Timestamp, within_days: float) -> pd.Timestamp | None:
    if found.back_by is None or found.back_by > start + pd.Timedelta(days=within_days):
        return None
    return found.back_by
