"""How well the inside of simulated frames is estimated without a logger in them.

`python -m tests.accuracy estimate --frames 100 --seed 5001 --csv analysis/data/estimate_accuracy.csv`

Each frame has 395 days of its room's record, a half-time that is wrong by as much as its source usually is, and some
readings of a paper strip. The first 30 days, in which the estimate settles, are not counted.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.estimate import LOG_SD, HalfTimeSource, KnownHalfTime, estimate_inside
from isohume.analysis.frame import Event, FrameFacts
from tests.accuracy.frames import SimulatedFrame, simulated_frames
from tests.accuracy.intervals import kept_rows

STRIP_COUNTS = (0, 4, 12)
SETTLED_DAYS = 30
BATCH = 20  # frames simulated at once
SOURCES: tuple[HalfTimeSource, ...] = ("earlier fit", "construction")
BOOTSTRAPS = 2000


def strip_readings(frame: SimulatedFrame, n: int, rng: np.random.Generator) -> tuple[Event, ...]:
    """Read a strip n times, evenly over the record; one bias of its own, rounded to whole %RH as people read it."""
    index = pd.DatetimeIndex(frame.inside.readings.index)
    bias = rng.normal(0, 2.0)
    chosen = np.linspace(0, len(index) - 1, n + 2)[1:-1].astype(int)
    values = np.round(frame.true_inside[chosen] + bias + rng.normal(0, 1.5, n))
    return tuple(
        Event(time_utc=index[place], kind="strip read", rh_percent=float(value))
        for place, value in zip(chosen, values, strict=True)
    )


def one_estimate(
    frame: SimulatedFrame, source: HalfTimeSource, strips: int, *, rng: np.random.Generator, seed: int
) -> dict[str, object]:
    """Estimate a year of one frame and hold it against the truth, day by day."""
    days = frame.half_time_days * float(np.exp(rng.normal(0, LOG_SD[source])))
    facts = FrameFacts(events=strip_readings(frame, strips, rng))
    found = estimate_inside(
        frame.outside, half_time=KnownHalfTime(days=days, source=source), frame=facts, seed=seed
    ).series.iloc[SETTLED_DAYS:]
    hourly = pd.Series(frame.true_inside, index=frame.inside.readings.index)
    true = hourly.rolling(24).mean().reindex(found.index, method="nearest")
    return {
        "source": source,
        "strips": strips,
        "half_time": round(frame.half_time_days, 2),
        "room": frame.kind,
        "mean_square": round(float(((found["median"] - true) ** 2).mean()), 4),
        "held": round(float(((true >= found["low"]) & (true <= found["high"])).mean()), 4),
        "width": round(float((found["high"] - found["low"]).mean()), 3),
    }


def run(seed: int, n_frames: int) -> Iterator[dict[str, object]]:
    """Simulate and estimate; progress goes to stderr."""
    rng = np.random.default_rng(seed + 1)
    for first in range(0, n_frames, BATCH):
        size = min(BATCH, n_frames - first)
        for k, frame in enumerate(simulated_frames(seed * 1000 + first, size)):
            for source in SOURCES:
                for strips in STRIP_COUNTS:
                    row = one_estimate(frame, source, strips, rng=rng, seed=seed)
                    yield {"frame": seed * 1000 + first + k} | row
        print(f"{first + size} of {n_frames} frames", file=sys.stderr, flush=True)


def table(rows: pd.DataFrame) -> pd.DataFrame:
    """Summarise by source of the half-time and number of strip readings."""
    lines = []
    for (source, strips), part in rows.groupby(["source", "strips"], sort=False):
        low, high = _interval_of_mean(part["held"])
        lines.append(
            {
                "half_time_from": source,
                "strip_readings": strips,
                "frames": len(part),
                "rmse_percent_rh": np.sqrt(part["mean_square"].mean()),
                "in_interval_percent": 100 * part["held"].mean(),
                "in_interval_percent_low": 100 * low,
                "in_interval_percent_high": 100 * high,
                "interval_width_percent_rh": part["width"].mean(),
            }
        )
    return pd.DataFrame(lines).round(2)


def _interval_of_mean(shares: pd.Series[float]) -> tuple[float, float]:
    """Return the 95 % interval of a mean over frames: the days of one frame are not independent, the frames are."""
    values = shares.to_numpy()
    drawn = np.random.default_rng(0).integers(0, values.size, (BOOTSTRAPS, values.size))
    low, high = np.percentile(values[drawn].mean(axis=1), [2.5, 97.5])
    return float(low), float(high)


def main(arguments: list[str]) -> None:
    """Print the table, and write it where asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy estimate", description=__doc__)
    parser.add_argument("--frames", type=int, default=100)
    parser.add_argument("--seed", type=int, default=5001)
    parser.add_argument("--raw", type=Path, help="where every estimate is written as it comes")
    parser.add_argument("--csv", type=Path, help="where the table is written")
    options = parser.parse_args(arguments)
    summary = table(kept_rows(run(options.seed, options.frames), options.raw))
    print(summary.to_string(index=False))
    if options.csv:
        command = f"python -m tests.accuracy estimate --seed {options.seed} --frames {options.frames}"
        with options.csv.open("w", encoding="utf-8", newline="") as handle:
            handle.write(
                f"# isohume {version('isohume')}; seed {options.seed}; {command}; 395 days each; share of days whose "
                "true mean lies within the 95 % interval of the estimate, itself with a 95 % interval by bootstrap "
                "over the frames\n"
            )
            summary.to_csv(handle, index=False, lineterminator="\n")
