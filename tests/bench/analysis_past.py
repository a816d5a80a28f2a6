"""Time what tells the past: hours outside, buffering and drift on ten years of 5-min data.

Run it with `python -m tests.bench.analysis_past`. Each figure is the median of five, with its ratio to one bare pass
of numpy over the same readings (a comparison with both limits and a sum).
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from isohume.analysis.buffering import buffering
from isohume.analysis.drift import seasonal_drift
from isohume.analysis.excursions import hours_outside
from isohume.analysis.readings import AirRecord

N_READINGS = 10 * 105_120
N_RUNS = 5
BAR_SECONDS = 0.5


def ten_years(swing: float, lag_days: float, rng: np.random.Generator) -> AirRecord:
    """Invent ten years of air: season, day, noise, and one reading in two hundred missing."""
    hours = np.arange(N_READINGS) / 12
    day = np.sin(2 * np.pi * (hours - lag_days) / 24)
    rh = 48 + swing * np.sin(2 * np.pi * (hours / 24 - lag_days) / 365.25) + swing / 5 * day
    rh += rng.normal(0, 0.25, N_READINGS)
    rh[rng.random(N_READINGS) < 0.005] = np.nan
    index = pd.date_range("2015-01-01", periods=N_READINGS, freq="5min", tz="UTC", name="time_utc")
    return AirRecord(readings=pd.DataFrame({"rh_percent": rh, "temperature_celsius": 20 + day}, index=index))


def median_seconds(work: Callable[[], object]) -> float:
    times = []
    for _ in range(N_RUNS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    rng = np.random.default_rng(1)
    inside, outside = ten_years(4, 40, rng), ten_years(10, 0, rng)
    values = inside.rh_percent.to_numpy()

    def bare() -> tuple[object, object]:
        return (values < 45).sum() + (values > 55).sum(), np.nansum(values)

    work = {
        "hours outside": lambda: hours_outside(inside.rh_percent, low=45, high=55, uncertainty_percent=3),
        "buffering": lambda: buffering(inside, outside),
        "drift": lambda: seasonal_drift(inside, outside, conditioned_percent=50),
    }
    reference = median_seconds(bare)
    print(f"{N_READINGS:,} readings; one bare numpy pass {reference * 1000:.1f} ms")
    total = 0.0
    for name, run in work.items():
        seconds = median_seconds(run)
        total += seconds
        print(f"{name:<14} {seconds:6.3f} s   {seconds / reference:6.0f} × the bare pass")
    print(f"{'together':<14} {total:6.3f} s   {total / reference:6.0f} × the bare pass   (bar {BAR_SECONDS} s)")


if __name__ == "__main__":
    main()
