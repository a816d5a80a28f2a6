"""How well the inside of simulated frames is estimated without a logger in them."""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from isohume.analysis.estimate import LOG_SD, HalfTimeSource, KnownHalfTime, estimate_inside
from isohume.analysis.frame import Event, FrameFacts
from tests.accuracy.frames import SimulatedFrame, simulated_frames

STRIP_COUNTS = (0, 4, 12)
SETTLED_DAYS = 30


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


def table(seed: int, n_frames: int) -> str:
    """Return the accuracy table as text."""
    frames = simulated_frames(seed, n_frames)
    lines = [f"estimate without an inside logger, {n_frames} frames of 395 days, seed {seed}"]
    lines.append("half-time from    strips  RMSE [%RH]  95 % interval holds  mean width [%RH]")
    rng = np.random.default_rng(seed + 1)
    sources: tuple[HalfTimeSource, ...] = ("earlier fit", "construction")
    for source in sources:
        for n in STRIP_COUNTS:
            squares, held, widths = [], [], []
            for frame in frames:
                days = frame.half_time_days * float(np.exp(rng.normal(0, LOG_SD[source])))
                facts = FrameFacts(events=strip_readings(frame, n, rng))
                found = estimate_inside(
                    frame.outside, half_time=KnownHalfTime(days=days, source=source), frame=facts, seed=seed
                ).series.iloc[SETTLED_DAYS:]
                hourly = pd.Series(frame.true_inside, index=frame.inside.readings.index)
                true = hourly.rolling(24).mean().reindex(found.index, method="nearest")
                squares.append(float(((found["median"] - true) ** 2).mean()))
                held.append(float(((true >= found["low"]) & (true <= found["high"])).mean()))
                widths.append(float((found["high"] - found["low"]).mean()))
            figures = f"{np.sqrt(np.mean(squares)):10.2f}  {np.mean(held):19.2f}  {np.mean(widths):16.1f}"
            lines.append(f"{source:16s}  {n:6d}  {figures}")
    return "\n".join(lines)


def main(arguments: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy estimate")
    parser.add_argument("--frames", type=int, default=100)
    parser.add_argument("--seed", type=int, default=4001)
    chosen = parser.parse_args(arguments)
    print(table(chosen.seed, chosen.frames))
