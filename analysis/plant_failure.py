"""What if the plant fails: hours until a frame leaves its band when its room takes another climate and keeps it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.exchange.filter import simulate_inside
from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.frame import FrameFacts
from isohume.analysis.psychrometrics import rh_at_temperature
from isohume.analysis.readings import AirRecord, hourly

HORIZON_DAYS = 60
N_MEMBERS = 100
# Common practice: a small frame takes the room's temperature within some hours.
WARMING_HOURS = 3.0
NOT_MODELLED = (
    "Liquid water (leaks, floods, sprinklers, condensation on cold glass) is not modelled: it reaches a frame by "
    "other ways and at once."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantFailure:
    """How long one frame holds.

    Attributes
    ----------
    hours_earliest, hours_likely : float or None [h]
        By when 10 % and 50 % of the members have left the band; None if they do not within the horizon.
    side : "below", "above" or ""
        Which limit is reached first.
    horizon_hours : float [h]
    why : str
        Why there is no figure.
    """

    frame_id: str
    hours_earliest: float | None
    hours_likely: float | None
    side: str
    horizon_hours: float
    why: str = ""


def plant_failure(
    fitted: FittedExchange | CannotTell,
    *,
    frame: FrameFacts,
    room_rh_percent: float,
    room_celsius: float,
    seed: int = 0,
) -> PlantFailure:
    """Hold the room at one climate from the newest reading on, and find when the inside leaves its band.

    Parameters
    ----------
    fitted : FittedExchange or CannotTell
    frame : FrameFacts
    room_rh_percent, room_celsius : float [%RH], [°C]
        What the room goes to.
    seed : int

    Returns
    -------
    PlantFailure
        Single hours count, not 7-day means: this is an emergency.
    """
    hours = np.arange(HORIZON_DAYS * 24 + 1)
    room = np.full(hours.size, room_rh_percent)
    return _hold(fitted, frame, room, np.full(hours.size, room_celsius), seed)


def plant_failure_recorded(
    fitted: FittedExchange | CannotTell, *, frame: FrameFacts, room: AirRecord, seed: int = 0
) -> PlantFailure:
    """Send the frame through a recorded failure, from its first reading to its last, at most 60 days.

    Raises
    ------
    ValueError
        The record holds less than a day, or has a gap of more than a day.
    """
    both = pd.concat([hourly(room.rh_percent), hourly(room.temperature_celsius)], axis=1, join="inner")
    both = both.iloc[: HORIZON_DAYS * 24 + 1].interpolate(limit=24, limit_direction="both")
    if len(both) < 24 or both.isna().any().any():
        raise ValueError("The record of the failure needs humidity and temperature for a day or more, without a gap.")
    return _hold(fitted, frame, both.iloc[:, 0].to_numpy(), both.iloc[:, 1].to_numpy(), seed)


def _hold(
    fitted: FittedExchange | CannotTell,
    frame: FrameFacts,
    room_rh: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    room_celsius: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    seed: int,
) -> PlantFailure:
    horizon = float(room_rh.size - 1)
    if frame.band is None:
        return _unknown(frame, horizon, "No band is agreed for this frame.")
    if isinstance(fitted, CannotTell):
        return _unknown(frame, horizon, fitted.why)
    rng = np.random.default_rng(seed)
    n_states = fitted.parameters.n_states
    start = rng.multivariate_normal(fitted.end_state, fitted.end_covariance, size=N_MEMBERS, method="eigh")
    now = fitted.reference_celsius + float(fitted.data.warming[-1])
    reached = 1 - np.exp(-np.arange(room_rh.size) / WARMING_HOURS)
    celsius = now + reached * (room_celsius - now)
    drive = np.clip(rh_at_temperature(room_rh, room_celsius, celsius), 0, 100)
    members, _ = simulate_inside(
        fitted.sample_parameters(rng, N_MEMBERS),
        start[:, :n_states],
        drive,
        celsius,
        step_days=1 / 24,
        reference_celsius=fitted.reference_celsius,
        offset_percent=start[:, n_states],
        temperature_response=start[:, n_states + 1],
    )
    low, high = frame.band
    outside = (members < low) | (members > high)
    share = np.logical_or.accumulate(outside, axis=0).mean(axis=1)
    likely = _first(share >= 0.5)
    earliest = _first(share >= 0.1)
    side = ""
    if earliest is not None:
        row = members[int(earliest)]
        side = "below" if (row < low).sum() >= (row > high).sum() else "above"
    return PlantFailure(
        frame_id=frame.frame_id,
        hours_earliest=earliest,
        hours_likely=likely,
        side=side,
        horizon_hours=horizon,
    )


def _first(holds: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> float | None:
    return float(holds.argmax()) if holds.any() else None


def _unknown(frame: FrameFacts, horizon: float, why: str) -> PlantFailure:
    return PlantFailure(
        frame_id=frame.frame_id, hours_earliest=None, hours_likely=None, side="", horizon_hours=horizon, why=why
    )
