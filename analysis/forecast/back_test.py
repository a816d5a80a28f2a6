"""Tried on its own past: how often the fan would have held what came."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.exchange.fit import CannotTell, fit_exchange
from isohume.analysis.forecast.fan import Fan, inside_fan
from isohume.analysis.forecast.present_room import present_room
from isohume.analysis.forecast.room import daily_room, own_room
from isohume.analysis.frame import OPENING_KINDS, FrameFacts
from isohume.analysis.readings import AirRecord, hourly

SHORTEST_PAST_DAYS = 60
LEAD_DAYS = 60
# Origins closer together than this see much the same weather.
INDEPENDENT_DAYS = 90
MOST_ORIGINS = 2
# The fit is only a means here: daily means carry it within its error, at a quarter of the cost.
GRID_HOURS = 24
FEWEST_ORIGINS = 2
N_MEMBERS = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class BackTest:
    """How the fan did on the frame's own record.

    Attributes
    ----------
    share_in_80 : float or None
        Share of the days ahead whose reading lay within the fan of readings; None under two origins.
    n_origins, n_days : int
    """

    share_in_80: float | None
    n_origins: int
    n_days: int


def back_test(
    inside: AirRecord,
    outside: AirRecord,
    *,
    frame: FrameFacts,
    reading_sd_percent: float,
    seed: int,
) -> BackTest:
    """Refit before each of two origins, forecast without the room that followed, and count.

    Parameters
    ----------
    inside, outside : AirRecord
    frame : FrameFacts
        Origins whose 60 days ahead hold an opening are left out: no forecast foresees hands.
    reading_sd_percent : float [%RH]
    seed : int
    """
    rng = np.random.default_rng(seed)
    readings = hourly(inside.rh_percent)
    held = days = origins = 0
    for origin in _origins(pd.DatetimeIndex(readings.index), frame):
        fitted = fit_exchange(inside, outside, frame=frame, as_of=origin, every_hours=GRID_HOURS)
        if isinstance(fitted, CannotTell):
            continue
        known = daily_room(*present_room(inside, outside, frame=frame, at=origin), end=fitted.end_utc)
        try:
            room = own_room(known, n_days=LEAD_DAYS, n_members=N_MEMBERS, rng=rng)
        except ValueError:
            continue
        in_fan, n = _held(inside_fan(fitted, room, reading_sd_percent=reading_sd_percent, rng=rng), readings)
        if n:
            held, days, origins = held + in_fan, days + n, origins + 1
    return BackTest(share_in_80=held / days if origins >= FEWEST_ORIGINS else None, n_origins=origins, n_days=days)


def _held(fan: Fan, readings: pd.Series[float]) -> tuple[int, int]:
    """Return how many of the days ahead had their reading within the fan of readings, and how many had one."""
    low, high = fan.reading_fan()
    nearest = readings.reindex(fan.dates[1:].round("h"))
    read = nearest.notna().to_numpy()
    values = nearest.to_numpy()
    within = (values >= low[1:]) & (values <= high[1:]) & read
    return int(within.sum()), int(read.sum())


def _origins(index: pd.DatetimeIndex, frame: FrameFacts) -> list[pd.Timestamp]:
    """Return the origins, newest first."""
    if index.empty:
        return []
    ahead = pd.Timedelta(days=LEAD_DAYS)
    openings = [event.time_utc for event in frame.events if event.kind in OPENING_KINDS]
    origins: list[pd.Timestamp] = []
    origin = index[-1] - ahead
    while origin - index[0] >= pd.Timedelta(days=SHORTEST_PAST_DAYS) and len(origins) < MOST_ORIGINS:
        if not any(origin < opened <= origin + ahead for opened in openings):
            origins.append(origin)
        origin -= pd.Timedelta(days=INDEPENDENT_DAYS)
    return origins
