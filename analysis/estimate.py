"""What is happening inside a frame without a logger: from its room, a half-time and strip readings.

An ensemble of frames, each with its own half-time, start, leak offset and strip bias, runs through the recorded room;
the strip readings then pull every member towards what was read, by the covariances of the ensemble itself (an
ensemble Kalman smoother: exact for a linear model, and it keeps the moisture scale's curvature). The result is an
estimate, marked so wherever it is shown, and never evidence.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from isohume.analysis.estimated_inside import EstimatedInside, HalfTimeSource, KnownHalfTime
from isohume.analysis.exchange.filter import simulate_inside
from isohume.analysis.exchange.fit import CannotTell, FittedExchange, between
from isohume.analysis.exchange.model import ExchangeParameters, half_time_days, scaled
from isohume.analysis.forecast.room import DailyRoom, daily_room
from isohume.analysis.frame import Event, EventKind, FrameFacts
from isohume.analysis.known_half_time import half_time_from_construction
from isohume.analysis.readings import AirRecord

# How far such a half-time may be off, as SD of its logarithm: an earlier fit is good to a fifth; two frames of one
# workshop, and a reckoning from materials, agree within a factor of about two (common practice).
LOG_SD: dict[HalfTimeSource, float] = {"earlier fit": 0.2, "sister frame": 0.35, "construction": 0.5}
STRIP_BIAS_SD_PERCENT, STRIP_READING_SD_PERCENT = 2.0, 1.5  # design, section 4.10
START_SD_PERCENT, CONDITIONED_SD_PERCENT = 8.0, 2.0
# What one reservoir and daily means leave out: found on simulated layered frames (tests/accuracy/estimate.py).
MODEL_SD_PERCENT = 1.5
# After these the frame holds other water than before; a short opening changes the air, not the panel.
ANEW: frozenset[EventKind] = frozenset({"sealed", "reconditioned", "new buffer"})
N_MEMBERS = 600
LONGEST_GAP_DAYS = 14
SHORTEST_DAYS = 14
LAST_DAYS = pd.Timedelta(days=7)
INTERVAL_PERCENTILES = (2.5, 50.0, 97.5)


NO_HALF_TIME = "Name in the register a frame built alike, or give air volume, air exchange and board."


class CannotEstimateError(ValueError):
    """The room's record does not carry an estimate; the message says why."""


def estimate_finding(
    inside: AirRecord | None,
    outside: AirRecord | None,
    *,
    frame: FrameFacts,
    as_of: pd.Timestamp,
    fitted: FittedExchange | CannotTell | None = None,
    half_time: KnownHalfTime | str | None = None,
    seed: int = 0,
) -> tuple[EstimatedInside | None, str]:
    """Estimate the inside of a frame that has no logger now, or say why it cannot be.

    Parameters
    ----------
    inside, outside : AirRecord or None
        A frame whose inside was never logged is estimated over all of the room's record; one whose logger came out
        from its last reading on, with its own earlier fit.
    frame : FrameFacts
        How old the newest inside reading may be before there is no logger: `limits.stale_days`.
    as_of : Timestamp
    fitted : FittedExchange or CannotTell, optional
        Of the inside record, if any.
    half_time : KnownHalfTime or str, optional
        Of a frame built alike, or why it has none; by default from the construction.
    seed : int

    Returns
    -------
    estimate : EstimatedInside or None
    why : str
        Empty for a frame that has a logger: there is nothing to estimate.
    """
    if outside is None:
        return None, "" if inside is not None else "There is no record of the room either."
    end, start = min(as_of, pd.Timestamp(outside.readings.index[-1])), None
    if inside is not None:
        usable = inside.rh_percent.dropna()
        last = usable.index[-1] if len(usable) else end
        if not isinstance(fitted, FittedExchange) or end - last < pd.Timedelta(days=frame.limits.stale_days):
            return None, ""
        outside = between(outside, last, end)
        start = (float(usable.loc[last - LAST_DAYS :].mean()), inside.uncertainty_percent / 2)
        half_time = KnownHalfTime(days=fitted.half_time_days, source="earlier fit", parameters=fitted.parameters)
    else:
        half_time = half_time or half_time_from_construction(frame)
    if isinstance(half_time, str):
        return None, f"{half_time} {NO_HALF_TIME}"
    try:
        return estimate_inside(outside, half_time=half_time, frame=frame, as_of=end, start=start, seed=seed), ""
    except CannotEstimateError as error:
        return None, str(error)


def estimate_inside(
    outside: AirRecord,
    *,
    half_time: KnownHalfTime,
    frame: FrameFacts,
    as_of: pd.Timestamp | None = None,
    start: tuple[float, float] | None = None,
    seed: int = 0,
) -> EstimatedInside:
    """Estimate the inside of a frame that has no logger.

    Parameters
    ----------
    outside : AirRecord
        Of the room it hangs in, 14 days or more.
    half_time : KnownHalfTime
    frame : FrameFacts
        Its strip readings pull the estimate; sealing, reconditioning and a new buffer begin it anew.
    as_of : Timestamp, optional
        Default: the room's newest reading.
    start : (float, float), optional [%RH]
        Inside where the record begins, and its standard deviation, where a logger read it last.
    seed : int

    Raises
    ------
    CannotEstimateError
        The room's record is too short or has a gap of more than 14 days.
    """
    if outside.readings.empty:
        raise CannotEstimateError("Nothing was logged in the room.")
    end = pd.Timestamp(outside.readings.index[-1]) if as_of is None else as_of
    room = _bridged(daily_room(None, outside, end=end))
    times = pd.date_range(end=end, periods=len(room.drive_percent), freq="24h", name="time_utc")
    rng = np.random.default_rng(seed)
    members = _ensemble(
        room, times, half_time, frame, room_uncertainty_percent=outside.uncertainty_percent, start=start, rng=rng
    )
    strips = [
        event
        for event in frame.events
        if event.kind == "strip read" and event.rh_percent is not None and times[0] <= event.time_utc <= end
    ]
    members = _pulled(members, times, strips, rng)
    low, median, high = np.percentile(members, INTERVAL_PERCENTILES, axis=1)
    at_strips = np.interp([_days(event.time_utc, times) for event in strips], np.arange(len(times)), median)
    differences = tuple(
        (event.time_utc, float(event.rh_percent or 0) - float(value))
        for event, value in zip(strips, at_strips, strict=True)
    )
    basis = f"the room's record, a half-time of {half_time.days:.3g} days ({half_time.source})"
    notes = [f"Estimated from {basis} and {len(strips)} strip readings; nothing was logged inside."]
    if not strips:
        notes.append("No strip was read in this time: the estimate rests on the half-time and the start alone.")
    return EstimatedInside(
        series=pd.DataFrame({"median": median, "low": low, "high": high}, index=times),
        half_time=half_time,
        strip_differences=differences,
        notes=tuple(notes),
    )


def _bridged(room: DailyRoom) -> DailyRoom:
    """Bridge short gaps by straight lines."""
    columns = []
    for daily in (room.drive_percent, room.temperature_celsius):
        known = np.flatnonzero(~np.isnan(daily))
        if known.size < SHORTEST_DAYS:
            raise CannotEstimateError(f"The room was logged on {known.size} days; {SHORTEST_DAYS} are needed.")
        gap = int(np.diff(known, prepend=-1, append=daily.size).max()) - 1
        if gap > LONGEST_GAP_DAYS:
            raise CannotEstimateError(
                f"The room's record has a gap of {gap} days; at most {LONGEST_GAP_DAYS} are bridged. Estimate from "
                "after the gap, or give the missing file."
            )
        columns.append(np.interp(np.arange(daily.size), known, daily[known]))
    return DailyRoom(drive_percent=columns[0], temperature_celsius=columns[1], end=room.end)


def _ensemble(
    room: DailyRoom,
    times: pd.DatetimeIndex,
    half_time: KnownHalfTime,
    frame: FrameFacts,
    *,
    room_uncertainty_percent: float,
    start: tuple[float, float] | None,
    rng: np.random.Generator,
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Run the ensemble through the room, anew from every sealing; (n, members) [%RH]."""
    shape = half_time.parameters or ExchangeParameters(tau_leak=half_time.days / np.log(2))
    factor = half_time.days / half_time_days(shape)
    spread = np.exp(rng.normal(0, LOG_SD[half_time.source], N_MEMBERS))
    parameters = [scaled(shape, float(factor * one)) for one in spread]
    offset = rng.normal(0, room_uncertainty_percent / 2, N_MEMBERS)
    openings = [event for event in frame.events if event.kind in ANEW and times[0] < event.time_utc < times[-1]]
    firsts = [0, *(int(np.ceil(_days(event.time_utc, times))) for event in openings), len(times)]
    before = [event for event in frame.events if event.kind in ANEW and event.time_utc <= times[0]]
    started_by = [before[-1] if before else None, *openings]
    reference = float(np.mean(room.temperature_celsius))
    members = np.empty((len(times), N_MEMBERS))
    for event, first, after in zip(started_by, firsts[:-1], firsts[1:], strict=True):
        if after <= first:
            continue
        # A frame remembers its room's months, not its last day; nothing is known of the time before the record.
        months = room.drive_percent if first == 0 else room.drive_percent[max(first - 30, 0) : first + 1]
        centre, sd = _start(event, frame, float(np.mean(months)), times[0])
        if start is not None and first == 0:
            centre, sd = start
        begun = np.clip(rng.normal(centre, sd, N_MEMBERS), 5, 95)
        states = np.repeat(begun[:, None], shape.n_states, axis=1)
        rh_percent, _ = simulate_inside(
            parameters,
            states,
            room.drive_percent[first:after],
            room.temperature_celsius[first:after],
            step_days=1.0,
            reference_celsius=reference,
            offset_percent=offset,
        )
        members[first:after] = rh_percent + rng.normal(0, MODEL_SD_PERCENT, N_MEMBERS)
    return members


def _start(event: Event | None, frame: FrameFacts, room_percent: float, first: pd.Timestamp) -> tuple[float, float]:
    """Return centre and SD of the inside where a stretch begins [%RH]."""
    if event is not None and event.kind == "reconditioned" and event.rh_percent is not None:
        return event.rh_percent, CONDITIONED_SD_PERCENT
    fresh = frame.conditioned_on is not None and abs(frame.conditioned_on - first) <= pd.Timedelta(days=60)
    if event is None and fresh and frame.conditioned_percent is not None:
        return frame.conditioned_percent, CONDITIONED_SD_PERCENT
    return room_percent, START_SD_PERCENT


def _pulled(
    members: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    times: pd.DatetimeIndex,
    strips: list[Event],
    rng: np.random.Generator,
) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Pull the members towards the strip readings, all at once."""
    if not strips:
        return members
    at = np.array([_days(event.time_utc, times) for event in strips])
    lower = np.clip(at.astype(int), 0, len(times) - 2)
    share = (at - lower)[:, None]
    expected = (1 - share) * members[lower] + share * members[lower + 1]
    # One strip hangs in the frame all along: its bias is common to all its readings.
    bias = rng.normal(0, STRIP_BIAS_SD_PERCENT, members.shape[1])
    predicted = expected + bias + rng.normal(0, STRIP_READING_SD_PERCENT, expected.shape)
    read = np.array([float(event.rh_percent or 0) for event in strips])
    around = members - members.mean(axis=1, keepdims=True)
    exact = expected + bias
    exact = exact - exact.mean(axis=1, keepdims=True)
    covariance = exact @ exact.T / (members.shape[1] - 1) + STRIP_READING_SD_PERCENT**2 * np.eye(len(strips))
    gain = around @ (exact - bias + bias.mean()).T / (members.shape[1] - 1)
    pulled = members + gain @ np.linalg.solve(covariance, read[:, None] - predicted)
    return np.asarray(np.clip(pulled, 0, 100))


def _days(time: pd.Timestamp, times: pd.DatetimeIndex) -> float:
    return (time - times[0]) / pd.Timedelta(days=1)
