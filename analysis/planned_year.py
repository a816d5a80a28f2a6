"""The year of a real room through a frame that is not yet built, and the questions asked backwards."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import brentq

from isohume.analysis.construction import Buffer, FrameDesign, design_half_time
from isohume.analysis.psychrometrics import saturation_concentration_g_per_m3
from isohume.analysis.readings import AirRecord, hourly

_SHORTEST_ROOM_DAYS = 300
_LONGEST_FILLED_HOURS = 24 * 14
_MEAN_HOURS = 24 * 7
_LARGEST_BOARD_KG = 100.0
_LARGEST_EXCHANGE_PER_DAY = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedYear:
    """The inside climate a design would have had in the room's recorded year.

    Attributes
    ----------
    rh_percent : Series [%RH]
        Hourly, over the room's record.
    lowest7d_percent, highest7d_percent : float [%RH]
        Lowest and highest trailing 7-day mean.
    lowest7d_until, highest7d_until : Timestamp, UTC
        The last hour of those 7 days.
    room_coverage : float
        Share of the room's hours that were measured; shorter gaps are bridged by straight lines.
    """

    rh_percent: pd.Series[float]
    half_time_days: float
    lowest7d_percent: float
    highest7d_percent: float
    lowest7d_until: pd.Timestamp
    highest7d_until: pd.Timestamp
    room_coverage: float


@dataclass(frozen=True, slots=True)
class _Room:
    rh: NDArray[np.float64]
    temperature: NDArray[np.float64]
    index: pd.DatetimeIndex
    coverage: float

    @property
    def mean_temperature(self) -> float:
        return float(np.mean(self.temperature))


def planned_year(design: FrameDesign, room: AirRecord, *, conditioned_percent: float | None = None) -> PlannedYear:
    """Send the room's recorded year through a frame that is not yet built.

    Parameters
    ----------
    design : FrameDesign
        The frame on paper; one reservoir stands for it, its leakage following the room's temperature.
    room : AirRecord
        At least 300 days, gaps of at most 14 days. The frame is taken to have the room's temperature.
    conditioned_percent : float [%RH] or None
        Where the first year starts; None for the year the frame settles into when the room's year repeats, however
        slow it is.

    Raises
    ------
    ValueError
        The room's record is too short or has too long a gap, or the design has no half-time (the message says why).
    """
    return _planned_year(design, _room_hours(room), conditioned_percent)


def _planned_year(design: FrameDesign, year: _Room, conditioned_percent: float | None) -> PlannedYear:
    found = design_half_time(design, temperature_celsius=year.mean_temperature)
    if found.tau_days is None or found.half_time_days is None:
        raise ValueError(found.why)
    inside = _through(year, found.tau_days, conditioned_percent)
    means = pd.Series(inside, index=year.index).rolling(_MEAN_HOURS).mean().dropna()
    return PlannedYear(
        rh_percent=pd.Series(inside, index=year.index, name="rh_percent"),
        half_time_days=found.half_time_days,
        lowest7d_percent=float(means.min()),
        highest7d_percent=float(means.max()),
        lowest7d_until=pd.DatetimeIndex(means.index)[int(means.argmin())],
        highest7d_until=pd.DatetimeIndex(means.index)[int(means.argmax())],
        room_coverage=year.coverage,
    )


def board_for_winter_minimum(
    design: FrameDesign,
    room: AirRecord,
    *,
    wanted_percent: float,
    capacity_g_per_kg_per_percent: float,
    conditioned_percent: float | None = None,
) -> float | None:
    """Return the extra buffering board that keeps the lowest 7-day mean at `wanted_percent` [kg].

    Returns
    -------
    float or None
        0 where the design holds it as it is; None where 100 kg would not do, because the room's yearly mean itself
        lies too low: then tightness and buffer cannot help, the frame settles at the mean of its room.
    """
    year = _room_hours(room)

    def reserve(board_kg: float) -> float:
        board = Buffer(mass_kg=board_kg, capacity_g_per_kg_per_percent=capacity_g_per_kg_per_percent)
        heavier = replace(design, buffers=(*design.buffers, board))
        return _planned_year(heavier, year, conditioned_percent).lowest7d_percent - wanted_percent

    if reserve(0.0) >= 0:
        return 0.0
    if reserve(_LARGEST_BOARD_KG) < 0:
        return None
    return float(brentq(reserve, 0.0, _LARGEST_BOARD_KG, xtol=1e-3))


def loosest_air_exchange(
    design: FrameDesign, room: AirRecord, *, wanted_percent: float, conditioned_percent: float | None = None
) -> float | None:
    """Return the largest air exchange that keeps the lowest 7-day mean at `wanted_percent` [per day].

    Returns
    -------
    float or None
        None where no tightness reaches it: what permeates through the sheets, or the room's mean, is already too much.
    """
    year = _room_hours(room)

    def reserve(log_exchange: float) -> float:
        leaky = replace(design, air_exchange_per_day=math.exp(log_exchange), panel_response_days=None)
        return _planned_year(leaky, year, conditioned_percent).lowest7d_percent - wanted_percent

    tightest, loosest = math.log(1e-4), math.log(_LARGEST_EXCHANGE_PER_DAY)
    if reserve(loosest) >= 0:
        return _LARGEST_EXCHANGE_PER_DAY
    if reserve(tightest) < 0:
        return None
    return math.exp(float(brentq(reserve, tightest, loosest, xtol=1e-4)))


def _room_hours(room: AirRecord) -> _Room:
    humidity, temperature = hourly(room.rh_percent), hourly(room.temperature_celsius)
    both = pd.concat([humidity, temperature], axis=1, join="inner")
    measured = both.notna().all(axis=1)
    if len(both) < _SHORTEST_ROOM_DAYS * 24:
        raise ValueError(
            f"The room's record covers {len(both) / 24:.0f} days; a year needs at least {_SHORTEST_ROOM_DAYS}. "
            "Give a longer record of the room."
        )
    gap = measured.groupby(measured.cumsum()).size().max() - 1
    if gap > _LONGEST_FILLED_HOURS:
        raise ValueError(
            f"The room's record has a gap of {gap / 24:.0f} days; at most {_LONGEST_FILLED_HOURS // 24} are bridged. "
            "Give a record without it."
        )
    filled = both.interpolate(limit_direction="both")
    return _Room(
        rh=filled.iloc[:, 0].to_numpy(),
        temperature=filled.iloc[:, 1].to_numpy(),
        index=pd.DatetimeIndex(both.index),
        coverage=float(measured.mean()),
    )


def _through(year: _Room, tau_days: float, start_percent: float | None) -> NDArray[np.float64]:
    carried = saturation_concentration_g_per_m3(year.temperature)
    carried /= saturation_concentration_g_per_m3(year.mean_temperature)
    kept = np.exp(-carried / (24 * tau_days))
    course = _relax(kept, year.rh, 0.0)
    if start_percent is None:
        # The recursion is linear: what is left of the start after one year is the product of all that was kept.
        start_percent = float(course[-1] / (1 - kept.prod()))
    return course + np.cumprod(kept) * start_percent


def _relax(kept: NDArray[np.float64], drive: NDArray[np.float64], start: float) -> NDArray[np.float64]:
    """Step x ← kept·x + (1 − kept)·drive through all hours."""
    course = np.empty_like(drive)
    state = start
    for hour, (share, room) in enumerate(zip(kept.tolist(), drive.tolist(), strict=True)):
        state = share * state + (1 - share) * room
        course[hour] = state
    return course
