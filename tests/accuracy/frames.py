"""The simulated frames that the accuracy tables are made from: layered panels, invented rooms, noisy loggers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.exchange.model import FloatArray
from isohume.analysis.readings import AirRecord
from isohume.sample_logs.physics import FramePhysics, Reset, simulate_frames, true_half_times
from isohume.sample_logs.random_frames import random_frames
from isohume.sample_logs.rooms import RoomCourse, logger, room_course

# The suite: half-times spread evenly in their logarithm, rooms in these shares, starts anywhere in the year.
HALF_TIME_DAYS = (3.0, 300.0)
ROOM_KINDS = ("heated", "museum", "church", "store")
ROOM_SHARES = (0.55, 0.15, 0.15, 0.15)
OFFSET_SD_PERCENT, NOISE_PERCENT = 1.0, 0.25
UNCERTAINTY_PERCENT = 2.0  # expanded (k = 2), as an offset of 1 % standard deviation implies
SETTLING_DAYS = 30  # before the record: panel and board are not in balance when it starts
LONGEST_DAYS = 395
TRUTH_CELSIUS = np.array([6.0, 10.0, 14.0, 18.0, 20.0, 22.0, 26.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedFrame:
    """One frame with its truth, and what two loggers made of it."""

    physics: FramePhysics
    kind: str
    half_time_days: float  # true, at 20 °C
    half_times_days: FloatArray  # true, at `TRUTH_CELSIUS`
    inside: AirRecord
    outside: AirRecord
    true_inside: FloatArray
    room: RoomCourse

    def first_days(self, days: float) -> tuple[AirRecord, AirRecord]:
        """Return the records of the first days."""
        n = round(days * 24) + 1
        return (
            air_record(self.inside.readings.iloc[:n]),
            air_record(self.outside.readings.iloc[:n]),
        )

    def half_time_at(self, celsius: float) -> float:
        """Return the true half-time at another temperature [days]; its logarithm is all but linear in between."""
        return float(np.exp(np.interp(celsius, TRUTH_CELSIUS, np.log(self.half_times_days))))


def air_record(readings: pd.DataFrame) -> AirRecord:
    """Wrap a table as a record of a logger with the suite's uncertainty."""
    return AirRecord(readings=readings, n_readings=len(readings), uncertainty_percent=UNCERTAINTY_PERCENT)


def simulated_frames(
    seed: int, n_frames: int, *, stressed: bool = False, days: int = LONGEST_DAYS
) -> list[SimulatedFrame]:
    """Simulate frames; the same seed gives the same frames.

    Parameters
    ----------
    seed : int
    n_frames : int
    stressed : bool
        Loggers with a gain error (3 % SD), a microclimate of 2 %RH SD at the room logger that wanders over days, one
        unrecorded opening of 1 to 6 h, and sensors that drift (1 %RH a year SD each).
    days : int
    """
    rng = np.random.default_rng(seed)
    half_times = np.exp(rng.uniform(*np.log(HALF_TIME_DAYS), n_frames))
    physics = random_frames(rng, half_times)
    truth = np.stack(
        [true_half_times(physics, celsius, longest_days=8 * half_times.max()) for celsius in TRUTH_CELSIUS], axis=1
    )
    kinds = rng.choice(ROOM_KINDS, p=ROOM_SHARES, size=n_frames)
    before, n = SETTLING_DAYS * 24, days * 24 + 1
    starts = [np.datetime64("2023-01-01T00", "h") + int(rng.integers(0, 366 * 24)) for _ in physics]
    rooms = [room_course(rng, before + n, kind=kind, start=start) for kind, start in zip(kinds, starts, strict=True)]
    resets: list[Reset] = []
    if stressed:
        for k in range(n_frames):
            opened = before + int(rng.integers(5 * 24, 55 * 24))
            hours = int(rng.integers(1, 7))
            resets += [Reset(index=opened + h, kind="opened", frame=k) for h in range(hours)]
    humidity = np.stack([room.rh_percent for room in rooms], axis=1)
    course = simulate_frames(
        physics,
        humidity,
        np.stack([room.temperature_celsius for room in rooms], axis=1),
        start_rh=np.clip(humidity.mean(axis=0) + rng.normal(0, 4, n_frames), 20, 85),
        resets=resets,
    )
    frames = []
    for k, room in enumerate(rooms):
        inside = RoomCourse(
            rh_percent=course.rh_percent[before:, k], temperature_celsius=course.temperature_celsius[before:, k]
        )
        outside = RoomCourse(
            rh_percent=room.rh_percent[before:], temperature_celsius=room.temperature_celsius[before:]
        )
        seen_inside, seen_outside = (
            (_stress(rng, inside, room_logger=False), _stress(rng, outside, room_logger=True))
            if (stressed)
            else (inside, outside)
        )
        index = pd.date_range(str(starts[k]), periods=n, freq="h", tz="UTC")
        records = []
        for seen in (seen_inside, seen_outside):
            logged = logger(rng, seen, noise=NOISE_PERCENT, offset_sd=OFFSET_SD_PERCENT)
            table = {"rh_percent": logged.rh_percent, "temperature_celsius": logged.temperature_celsius}
            records.append(air_record(pd.DataFrame(table, index=index)))
        frames.append(
            SimulatedFrame(
                physics=physics[k],
                kind=str(kinds[k]),
                half_time_days=float(half_times[k]),
                half_times_days=truth[k],
                inside=records[0],
                outside=records[1],
                true_inside=inside.rh_percent,
                room=outside,
            )
        )
    return frames


def _stress(rng: np.random.Generator, course: RoomCourse, *, room_logger: bool) -> RoomCourse:
    """Return a course as a worse logger sees it."""
    n = len(course.rh_percent)
    gain = rng.normal(1.0, 0.03)
    seen = 50 + gain * (course.rh_percent - 50) + rng.normal(0.0, 1.0) * np.arange(n) / (365 * 24)
    if room_logger:
        keep = np.exp(-1 / (3 * 24))
        wander = np.empty(n)
        wander[0] = rng.normal()
        kicks = rng.normal(0.0, np.sqrt(1 - keep**2), n)
        for k in range(1, n):
            wander[k] = keep * wander[k - 1] + kicks[k]
        seen = seen + 2.0 * wander
    return RoomCourse(rh_percent=seen, temperature_celsius=course.temperature_celsius)


def write_table(path: Path | None, rows: Sequence[Mapping[str, object]], command: str) -> None:
    """Write an accuracy table for the Methods page: first a line that says how it was made."""
    if path is None:
        return
    with path.open("w", encoding="utf-8", newline="") as handle:
        handle.write(f"# isohume {version('isohume')}; {command}\n")
        pd.DataFrame(rows).to_csv(handle, index=False, lineterminator="\n")
