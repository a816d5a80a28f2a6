"""The half-time from the days after a step. `python -m tests.accuracy step --frames 60`.

Each frame hangs in an even room for two months, then is carried into another: 12 to 20 %RH drier or damper, with the
weather of a room about it. Shown are error and coverage by the days after the step, beside an ordinary fit to the same
days, and what a tracer gas would make of the same frame: it does not see the share of vapour that permeates sheets.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.exchange.fit import CannotTell, FittedExchange, between, fit_exchange
from isohume.analysis.exchange.model import FloatArray
from isohume.analysis.exchange.step import half_time_after_step
from isohume.analysis.readings import AirRecord
from isohume.sample_logs.physics import FramePhysics, simulate_frames, true_half_times
from isohume.sample_logs.random_frames import random_frames
from isohume.sample_logs.rooms import RoomCourse, logger
from tests.accuracy.frames import HALF_TIME_DAYS, air_record, write_table

AFTER_DAYS = (3, 7, 14, 28)
BEFORE_DAYS = 60
WEATHER_PERCENT, WEATHER_DAYS = 1.5, 3.0
STEP_PERCENT = (12.0, 20.0)
HALF_TIME_CLASSES = ((3, 10), (10, 30), (30, 100), (100, 300), (3, 300))
START = pd.Timestamp("2024-01-01T00:00Z")
LONGEST_DAYS = 3000.0


@dataclass(frozen=True)
class Stepped:
    """One frame carried from one climate into another, and its true half-time at the record's temperature."""

    physics: FramePhysics
    half_time_days: float
    inside: AirRecord
    outside: AirRecord


def main(arguments: list[str]) -> None:
    """Print one row per length and class of half-time."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy step", description=__doc__)
    parser.add_argument("--frames", type=int, default=60)
    parser.add_argument("--seed", type=int, default=6501)
    parser.add_argument("--csv", type=Path, help="where the table is written")
    options = parser.parse_args(arguments)
    rows: list[dict[str, object]] = []
    cases = stepped_frames(options.seed, options.frames)
    print(f"half-time from the days after a step of 12 to 20 %RH, {options.frames} frames, seed {options.seed}")
    print("days after  half-time      n   told   median error   90th percentile   held   | ordinary fit: told")
    for days in AFTER_DAYS:
        fits = [(case, *both_fits(case, days)) for case in cases]
        for low, high in HALF_TIME_CLASSES:
            here = [fit for fit in fits if low <= fit[0].half_time_days < high]
            told = [(case, fit) for case, fit, _ in here if isinstance(fit, FittedExchange)]
            if not here or not told:
                print(f"{days:6d}      {low:3d} to {high:3d}   {len(here):4d}     0 %")
                continue
            errors = np.array([abs(fit.half_time_days / case.half_time_days - 1) for case, fit in told])
            held = np.mean([fit.half_time_low <= case.half_time_days <= fit.half_time_high for case, fit in told])
            rows.append(
                {
                    "days_after": days,
                    "half_time": f"{low} to {high} days",
                    "frames": len(here),
                    "told_percent": round(100 * len(told) / len(here)),
                    "error_median_percent": round(100 * float(np.median(errors)), 1),
                    "error_p90_percent": round(100 * float(np.quantile(errors, 0.9)), 1),
                    "coverage_percent": round(100 * float(held), 1),
                }
            )
            ordinary = np.mean([isinstance(other, FittedExchange) for _, _, other in here])
            print(
                f"{days:6d}      {low:3d} to {high:3d}   {len(here):4d}   {len(told) / len(here):5.0%}   "
                f"{np.median(errors):9.1%}      {np.quantile(errors, 0.9):9.1%}       {held:6.1%}   | {ordinary:5.0%}"
            )
    write_table(options.csv, rows, "python -m tests.accuracy step " + " ".join(arguments))
    low, middle, high = np.quantile([permeated_share(case.physics) for case in cases], (0.1, 0.5, 0.9))
    print(
        f"a tracer gas sees the leak only: of these frames' vapour exchange {middle:.0%} (10-90 %: {low:.0%} to "
        f"{high:.0%}) permeates"
    )


def both_fits(case: Stepped, days: int) -> tuple[FittedExchange | CannotTell, FittedExchange | CannotTell]:
    """Fit the days after the step by the step's own method, and as any other record of as many days."""
    step = START + pd.Timedelta(days=BEFORE_DAYS)
    end = step + pd.Timedelta(days=days)
    ordinary = fit_exchange(*(between(one, step - pd.Timedelta(days=1), end) for one in (case.inside, case.outside)))
    return half_time_after_step(case.inside, case.outside, step_utc=step, until_utc=end), ordinary


def permeated_share(physics: FramePhysics) -> float:
    """Return the share of the vapour exchange that goes through sheets, at 20 °C."""
    leak = FramePhysics(air_litres=physics.air_litres, leakage_per_day=physics.leakage_per_day)
    return 1 - leak.exchange_g_per_day_percent() / physics.exchange_g_per_day_percent()


def stepped_frames(seed: int, n_frames: int) -> list[Stepped]:
    """Simulate the frames; the same seed gives the same."""
    rng = np.random.default_rng(seed)
    half_times = np.exp(rng.uniform(*np.log(HALF_TIME_DAYS), n_frames))
    frames = random_frames(rng, half_times)
    n, before = (BEFORE_DAYS + max(AFTER_DAYS)) * 24 + 1, BEFORE_DAYS * 24
    size = rng.uniform(*STEP_PERCENT, n_frames) * rng.choice((-1.0, 1.0), n_frames)
    level = rng.uniform(42.0, 58.0, n_frames) - size / 2
    humidity = level + np.where(np.arange(n)[:, None] < before, 0.0, size) + weather(rng, n, n_frames)
    warmth = np.broadcast_to(20.0 + 0.5 * np.sin(2 * np.pi * np.arange(n)[:, None] / 24), humidity.shape)
    course = simulate_frames(frames, humidity, warmth, start_rh=humidity[:before].mean(axis=0))
    truths = true_half_times(frames, 20.0, longest_days=LONGEST_DAYS)
    index = pd.date_range(START, periods=n, freq="h")
    cases = []
    for k, physics in enumerate(frames):
        records = []
        for rh, celsius in ((course.rh_percent, course.temperature_celsius), (humidity, warmth)):
            seen = logger(rng, RoomCourse(rh_percent=rh[:, k], temperature_celsius=celsius[:, k]))
            table = {"rh_percent": seen.rh_percent, "temperature_celsius": seen.temperature_celsius}
            records.append(air_record(pd.DataFrame(table, index=index)))
        cases.append(Stepped(physics, float(truths[k]), *records))
    return cases


def weather(rng: np.random.Generator, n: int, n_frames: int) -> FloatArray:
    """Return what a room with some control wanders by, hour by hour, (n, n_frames) [%RH]."""
    kept = np.exp(-1 / (24 * WEATHER_DAYS))
    course = np.empty((n, n_frames))
    course[0] = rng.normal(0, WEATHER_PERCENT, n_frames)
    kicks = rng.normal(0, WEATHER_PERCENT * np.sqrt(1 - kept**2), (n, n_frames))
    for hour in range(1, n):
        course[hour] = kept * course[hour - 1] + kicks[hour]
    return course
