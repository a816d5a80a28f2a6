"""Simulated frames to which something happens: a seal that fails, or one of the things that only look like it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from isohume.analysis.exchange.model import FloatArray
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.psychrometrics import saturation_vapour_pressure_pa
from isohume.analysis.readings import AirRecord
from isohume.sample_logs.physics import Reset, simulate_frames
from isohume.sample_logs.rooms import RoomCourse, logger
from tests.accuracy.frames import NOISE_PERCENT, OFFSET_SD_PERCENT, SimulatedFrame, air_record

HOURS = 24
# The day on which it happens: late enough for a frame to be known before, early enough to show after.
FIRST_DAY, LAST_DAY = 90, 330
OFFSET_STEP_PERCENT = (1.5, 4.0)  # either sign, either logger
DRIFT_SD_PERCENT_PER_YEAR = 2.0  # of each logger
WANDER_SD_PERCENT, WANDER_DAYS = 2.0, 3.0  # the frame's place against the room logger's, from day to day
SEASON_SD_PERCENT = 1.5  # and with the season
OPEN_HOURS = (1, 24)
RECONDITIONED_SD_PERCENT = 5.0  # from what the panel had come to
HEATING_KELVIN, HEATING_DAYS = 4.0, 2.0  # warmer by so much within so many days, at the same vapour
SMALLEST_DIFFERENCE_PERCENT = 5.0  # |u − y|, mean over the days in which a change is to be found


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbed:
    """One frame's year, and what happened in it."""

    frame: SimulatedFrame
    inside: AirRecord
    outside: AirRecord
    facts: FrameFacts
    day: float  # when it happened, from the start of the record
    factor: float = 1.0  # all moisture that leaks and permeates, after over before


@dataclass(slots=True, kw_only=True)
class Batch:
    """What is simulated for several frames at once; each case alters some of it."""

    frames: list[SimulatedFrame]
    rng: np.random.Generator
    room: FloatArray  # (n, frames) [%RH]
    celsius: FloatArray  # (n, frames)
    leakage: FloatArray  # (n, frames)
    resets: list[Reset]
    read_inside: FloatArray  # added to the readings [%RH]
    read_outside: FloatArray
    days: FloatArray  # (frames,)
    events: list[tuple[Event, ...]]
    logger_changed: bool = False

    def hour(self, k: int) -> int:
        """Return the hour at which it happens to frame k."""
        return round(self.days[k] * HOURS)

    def time(self, k: int) -> pd.Timestamp:
        """Return the same as a moment."""
        return pd.Timestamp(self.frames[k].inside.readings.index[self.hour(k)])


def offset_step(batch: Batch) -> None:
    """One of the two loggers reads higher or lower from a day on."""
    for k in range(len(batch.frames)):
        step = batch.rng.choice([-1, 1]) * batch.rng.uniform(*OFFSET_STEP_PERCENT)
        target = batch.read_inside if batch.rng.random() < 0.5 else batch.read_outside
        target[batch.hour(k) :, k] += step


def drift(batch: Batch) -> None:
    """Both sensors drift steadily."""
    n, m = batch.room.shape
    years = np.arange(n)[:, None] / (365.25 * HOURS)
    batch.read_inside += years * batch.rng.normal(0, DRIFT_SD_PERCENT_PER_YEAR, m)
    batch.read_outside += years * batch.rng.normal(0, DRIFT_SD_PERCENT_PER_YEAR, m)


def microclimate(batch: Batch) -> None:
    """The frame hangs in other air than the room logger's: from day to day, and with the season."""
    from scipy.signal import lfilter

    n, m = batch.room.shape
    keep = np.exp(-1 / (WANDER_DAYS * HOURS))
    kicks = batch.rng.normal(0, WANDER_SD_PERCENT * np.sqrt(1 - keep**2), (n, m))
    kicks[0] = batch.rng.normal(0, WANDER_SD_PERCENT, m)
    season = np.cos(2 * np.pi * (np.arange(n)[:, None] / (365.25 * HOURS) + batch.rng.random(m)))
    batch.read_outside += lfilter([1.0], [1.0, -keep], kicks, axis=0)
    batch.read_outside += np.sqrt(2) * SEASON_SD_PERCENT * season


def _opened(batch: Batch, *, on_record: bool) -> None:
    for k in range(len(batch.frames)):
        hours = round(float(np.exp(batch.rng.uniform(*np.log(OPEN_HOURS)))))
        batch.resets += [Reset(index=batch.hour(k) + h, kind="opened", frame=k) for h in range(hours)]
        if on_record:
            batch.events[k] = (Event(time_utc=batch.time(k), kind="opened"),)


def opening_on_record(batch: Batch) -> None:
    """The frame is opened for some hours, and the register says so."""
    _opened(batch, on_record=True)


def opening_not_on_record(batch: Batch) -> None:
    """The frame is opened for some hours, and nobody wrote it down."""
    _opened(batch, on_record=False)


def reconditioned(batch: Batch) -> None:
    """Board and panel are brought to another humidity, on record."""
    for k, frame in enumerate(batch.frames):
        to = float(np.clip(frame.true_inside[batch.hour(k)] + batch.rng.normal(0, RECONDITIONED_SD_PERCENT), 25, 80))
        batch.resets.append(Reset(index=batch.hour(k), kind="reconditioned", rh_percent=to, frame=k))
        batch.events[k] = (Event(time_utc=batch.time(k), kind="reconditioned", rh_percent=to),)


def logger_change(batch: Batch) -> None:
    """Another logger measures inside from a day on, with its own offset, on record."""
    batch.logger_changed = True
    for k in range(len(batch.frames)):
        batch.read_inside[batch.hour(k) :, k] += batch.rng.normal(0, np.sqrt(2) * OFFSET_SD_PERCENT)


def heating_start(batch: Batch) -> None:
    """The heating is turned up: the room is drier within days, and stays so."""
    for k in range(len(batch.frames)):
        since = np.arange(len(batch.room)) / HOURS - batch.days[k]
        warmer = batch.celsius[:, k] + HEATING_KELVIN * np.clip(since / HEATING_DAYS, 0, 1)
        ratio = saturation_vapour_pressure_pa(batch.celsius[:, k]) / saturation_vapour_pressure_pa(warmer)
        batch.room[:, k] = np.clip(batch.room[:, k] * ratio, 12, 95)
        batch.celsius[:, k] = warmer


def sound(batch: Batch) -> None:
    """Nothing happens."""


NUISANCES: dict[str, Callable[[Batch], None]] = {
    "sound": sound,
    "offset step": offset_step,
    "sensor drift": drift,
    "room microclimate": microclimate,
    "opening on record": opening_on_record,
    "opening not on record": opening_not_on_record,
    "reconditioned": reconditioned,
    "logger change": logger_change,
    "heating start": heating_start,
}


def disturbed(frames: list[SimulatedFrame], case: Callable[[Batch], None], *, seed: int) -> list[Disturbed]:
    """Let one case happen to every frame on a random day."""
    batch = _batch(frames, seed)
    case(batch)
    return _recorded(batch, np.ones(len(frames)))


def leaking(
    frames: list[SimulatedFrame],
    leakage_factor: float,
    *,
    seed: int,
    within_days: int,
    smallest_difference: float = 0.0,
) -> list[Disturbed]:
    """Let the leakage grow, not the permeation, on a random day.

    Only days are chosen after which room and inside would have differed by so much, on average over `within_days`;
    frames that have none are left out.
    """
    batch = _batch(frames, seed)
    kept = []
    for k, frame in enumerate(frames):
        away = np.abs(frame.room.rh_percent - frame.true_inside)
        sums = np.concatenate([[0.0], np.cumsum(away)])
        mean = (sums[within_days * HOURS :] - sums[: -within_days * HOURS]) / (within_days * HOURS)
        days = np.flatnonzero(mean[::HOURS] >= smallest_difference)
        days = days[(days >= FIRST_DAY) & (days <= LAST_DAY)]
        if days.size:
            kept.append(k)
            batch.days[k] = batch.rng.choice(days)
            batch.leakage[batch.hour(k) :, k] = leakage_factor
    total = [frame.physics.exchange_g_per_day_percent() for frame in frames]
    diffusing = [replace(frame.physics, leakage_per_day=0.0).exchange_g_per_day_percent() for frame in frames]
    share = 1 - np.array(diffusing) / np.array(total)
    everything = _recorded(batch, 1 + (leakage_factor - 1) * share)
    return [everything[k] for k in kept]


def _batch(frames: list[SimulatedFrame], seed: int) -> Batch:
    rng = np.random.default_rng(seed)
    room = np.stack([frame.room.rh_percent for frame in frames], axis=1)
    celsius = np.stack([frame.room.temperature_celsius for frame in frames], axis=1)
    return Batch(
        frames=frames,
        rng=rng,
        room=room,
        celsius=celsius,
        leakage=np.ones(room.shape),
        resets=[],
        read_inside=np.zeros(room.shape),
        read_outside=np.zeros(room.shape),
        days=rng.uniform(FIRST_DAY, LAST_DAY, len(frames)),
        events=[() for _ in frames],
    )


def _recorded(batch: Batch, factor: FloatArray) -> list[Disturbed]:
    """Simulate the frames and let two loggers record each."""
    course = simulate_frames(
        [frame.physics for frame in batch.frames],
        batch.room,
        batch.celsius,
        start_rh=np.array([frame.true_inside[0] for frame in batch.frames]),
        leakage_factor=batch.leakage,
        resets=batch.resets,
    )
    results = []
    for k, frame in enumerate(batch.frames):
        records = []
        for humidity, celsius, added in (
            (course.rh_percent[:, k], course.temperature_celsius[:, k], batch.read_inside[:, k]),
            (batch.room[:, k], batch.celsius[:, k], batch.read_outside[:, k]),
        ):
            seen = RoomCourse(rh_percent=humidity + added, temperature_celsius=celsius)
            logged = logger(batch.rng, seen, noise=NOISE_PERCENT, offset_sd=OFFSET_SD_PERCENT)
            table = {"rh_percent": logged.rh_percent, "temperature_celsius": logged.temperature_celsius}
            records.append(air_record(pd.DataFrame(table, index=frame.inside.readings.index)))
        if batch.logger_changed:
            records[0] = replace(records[0], logger_changes=(batch.time(k),))
        results.append(
            Disturbed(
                frame=frame,
                inside=records[0],
                outside=records[1],
                facts=FrameFacts(events=batch.events[k]),
                day=float(batch.days[k]),
                factor=float(factor[k]),
            )
        )
    return results
