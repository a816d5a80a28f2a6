"""A simulated frame and its room, for tests that need physics rather than formulas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.readings import AirRecord
from isohume.sample_logs.physics import Reset, simulate
from isohume.sample_logs.random_frames import random_frame
from isohume.sample_logs.rooms import logger, room_course

START = np.datetime64("2025-03-01T00", "h")


@dataclass(frozen=True)
class Pair:
    inside: AirRecord
    outside: AirRecord
    half_time_days: float


def pair(
    *,
    days: int,
    half_time_days: float,
    seed: int,
    leakage_factor: np.ndarray | None = None,
    resets: Sequence[Reset] = (),
) -> Pair:
    """Log a simulated layered frame in a heated room for so many days."""
    rng = np.random.default_rng(seed)
    room = room_course(rng, days * 24, kind="heated", start=START)
    course = simulate(
        random_frame(rng, half_time_days),
        room.rh_percent,
        room.temperature_celsius,
        start_rh=50.0,
        leakage_factor=leakage_factor,
        resets=resets,
    )
    index = pd.date_range(str(START), periods=days * 24, freq="h", tz="UTC")
    records = []
    for air in (course, room):
        logged = logger(rng, air)
        table = {"rh_percent": logged.rh_percent, "temperature_celsius": logged.temperature_celsius}
        records.append(AirRecord(readings=pd.DataFrame(table, index=index), uncertainty_percent=2.0))
    return Pair(inside=records[0], outside=records[1], half_time_days=half_time_days)


@pytest.fixture(scope="session")
def year_pair() -> Pair:
    """400 days of a frame with a half-time of 40 days."""
    return pair(days=400, half_time_days=40.0, seed=21)


@pytest.fixture(scope="session")
def repaired_pair() -> Pair:
    """A year of a frame of 60 days half-time; for its first half it leaked five times as much."""
    days = 360
    factor = np.where(np.arange(days * 24) < days * 12, 5.0, 1.0)
    return pair(days=days, half_time_days=60.0, seed=22, leakage_factor=factor)


def until(record: AirRecord, days: float) -> AirRecord:
    """Return the first days of a record."""
    first = record.readings.index[0]
    return replace(record, readings=record.readings.loc[: first + pd.Timedelta(days=days)])
