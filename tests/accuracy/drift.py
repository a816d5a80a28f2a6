"""Does the interval of the 60-day slope hold the seasonal slope? `python -m tests.accuracy drift --frames 60`.

Each simulated frame hangs in one house under many weathers. The seasonal slope is the mean over the weathers of the
true inside's slope in the same 60 days; the interval comes from one of them, as two noisy loggers read it. Shown
beside it: the interval from a bootstrap of the daily means alone, and the textbook's that takes them as independent.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.drift import SLOPE_DAYS, _daily_means, _days, seasonal_drift, theil_sen_slope
from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.exchange.model import FloatArray
from isohume.sample_logs.physics import simulate_frames
from isohume.sample_logs.random_frames import random_frames
from isohume.sample_logs.rooms import logger, room_course, weather_course
from tests.accuracy.frames import HALF_TIME_DAYS, ROOM_KINDS, ROOM_SHARES, air_record, write_table

RECORD_DAYS = (90, 200, 395)
SETTLING_DAYS = 120
N_WEATHERS = 16
MONTH = 30.0


def main(arguments: list[str]) -> None:
    """Print one row per length of record."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy drift", description=__doc__)
    parser.add_argument("--frames", type=int, default=60)
    parser.add_argument("--seed", type=int, default=3001)
    parser.add_argument("--csv", type=Path, help="where the table is written")
    options = parser.parse_args(arguments)
    rng = np.random.default_rng(options.seed)
    print(f"95 % interval of the 60-day slope, {options.frames} frames for each length, seed {options.seed}")
    print("days  fits   held by: exchange  bootstrap  textbook    median half width [%RH/30 d]   factor for 95 %")
    told: list[dict[str, object]] = []
    for days in RECORD_DAYS:
        rows = np.array([row for _ in range(options.frames) if (row := one_frame(rng, days)) is not None])
        held, width = np.mean(rows[:, :3] < 1, axis=0), np.median(rows[:, 3:], axis=0)
        print(
            f"{days:4d}  {len(rows):4d}           {held[0]:7.1%}    {held[1]:7.1%}   {held[2]:7.1%}"
            f"    {width[0]:.2f}  {width[1]:.2f}  {width[2]:.2f}      {np.quantile(rows[:, 0], 0.95):.2f}",
            flush=True,
        )
        told.append(
            {
                "record_days": days,
                "frames": len(rows),
                "held_percent": round(100 * held[0], 1),
                "half_width_percent_rh": round(width[0], 2),
                "held_by_bootstrap_percent": round(100 * held[1], 1),
                "bootstrap_half_width_percent_rh": round(width[1], 2),
                "held_by_textbook_percent": round(100 * held[2], 1),
                "textbook_half_width_percent_rh": round(width[2], 2),
            }
        )
    write_table(options.csv, told, "python -m tests.accuracy drift " + " ".join(arguments))


def one_frame(rng: np.random.Generator, days: int) -> list[float] | None:
    """Return how far off the slope is in half widths of each interval, and each half width; None without a fit."""
    half_time = np.exp(rng.uniform(*np.log(HALF_TIME_DAYS), 1))
    frame = random_frames(rng, half_time)[0]
    kind = str(rng.choice(ROOM_KINDS, p=ROOM_SHARES))
    start = np.datetime64("2023-01-01T00", "h") + int(rng.integers(0, 366 * 24))
    n, house = (SETTLING_DAYS + days) * 24, int(rng.integers(1 << 30))
    rooms = [
        room_course(
            np.random.default_rng(house), n, kind=kind, start=start, weather=weather_course(rng, n, start=start)
        )
        for _ in range(N_WEATHERS)
    ]
    humidity, warmth = (
        np.stack([getattr(room, name) for room in rooms], axis=1) for name in ("rh_percent", "temperature_celsius")
    )
    course = simulate_frames([frame] * N_WEATHERS, humidity, warmth, start_rh=float(humidity.mean()))
    index = pd.date_range(str(start), periods=n, freq="h", tz="UTC")[SETTLING_DAYS * 24 :]
    slopes = [slope(course.rh_percent[SETTLING_DAYS * 24 :, k], index) for k in range(1, N_WEATHERS)]
    records = []
    for air in (course, None):
        source = rooms[0] if air is None else air
        rh = source.rh_percent if air is None else source.rh_percent[:, 0]
        celsius = source.temperature_celsius if air is None else source.temperature_celsius[:, 0]
        seen = logger(rng, Air(rh[SETTLING_DAYS * 24 :], celsius[SETTLING_DAYS * 24 :]))
        table = {"rh_percent": seen.rh_percent, "temperature_celsius": seen.temperature_celsius}
        records.append(air_record(pd.DataFrame(table, index=index)))
    fitted = fit_exchange(*records)
    if not isinstance(fitted, FittedExchange):
        return None
    truth = float(np.mean(slopes))
    widths = []
    for given in (fitted, None):
        drift = seasonal_drift(*records, fitted=given)
        assert drift.slope_percent_per_30d is not None
        assert drift.slope_low is not None
        assert drift.slope_high is not None
        widths.append((drift.slope_high - drift.slope_low) / 2)
        missed = abs(drift.slope_percent_per_30d - truth)
    widths.append(textbook(records[0].rh_percent))
    return [*(missed / wide for wide in widths), *widths]


class Air:
    """What a logger reads."""

    def __init__(self, rh_percent: FloatArray, temperature_celsius: FloatArray) -> None:
        self.rh_percent, self.temperature_celsius = rh_percent, temperature_celsius


def slope(rh_percent: FloatArray, index: pd.DatetimeIndex) -> float:
    """Return the slope of the last 60 days [%RH per 30 days]."""
    daily = _daily_means(pd.Series(rh_percent, index=index)).iloc[-SLOPE_DAYS:].dropna()
    return MONTH * theil_sen_slope(_days(daily.index), daily.to_numpy())


def textbook(rh_percent: pd.Series[float]) -> float:
    """Return the half width of the least-squares slope's 95 % interval if daily means were independent."""
    daily = _daily_means(rh_percent).iloc[-SLOPE_DAYS:].dropna()
    days, values = _days(daily.index), daily.to_numpy()
    centred = days - days.mean()
    left = values - values.mean() - centred * (centred @ values) / (centred @ centred)
    return float(MONTH * 2.0 * np.sqrt(left @ left / (days.size - 2) / (centred @ centred)))
