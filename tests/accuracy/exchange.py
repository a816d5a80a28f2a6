"""Accuracy of the exchange fit: error and coverage of the half-time by length of record, suite and half-time.

`python -m tests.accuracy exchange --frames 240 --seed 2001 --stressed --csv table.csv`

With `--raw file.csv` every single fit is written, for `python -m tests.accuracy calibration`, which derives the
published calibration from other seeds than those of the table.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.exchange import CannotTell, ExchangeParameters, fit_exchange
from isohume.analysis.exchange.estimation import estimate
from isohume.analysis.exchange.finding import one_step_autocorrelation
from isohume.analysis.exchange.interval import NORMAL_95
from tests.accuracy.frames import SimulatedFrame, simulated_frames

LENGTHS_DAYS = (60, 180, 395)
HALF_TIME_CLASSES = ((3, 10), (10, 30), (30, 100), (100, 300), (3, 300))
BATCH = 40  # frames simulated at once


def one_fit(frame: SimulatedFrame, days: int, suite: str) -> dict[str, object]:
    """Fit the first days of one frame and hold the result against the truth."""
    inside, outside = frame.first_days(days)
    began = time.process_time()
    answer = fit_exchange(inside, outside)
    seconds = time.process_time() - began
    fitted = answer.fitted if isinstance(answer, CannotTell) else answer
    row: dict[str, object] = {"suite": suite, "room": frame.kind, "days": days, "seconds": round(seconds, 3)}
    row["determined"] = int(not isinstance(answer, CannotTell))
    if isinstance(answer, CannotTell):
        row["why"] = answer.why.split(":")[0].split(" would")[0][:40]
    if fitted is None:
        return row
    truth = frame.half_time_at(fitted.reference_celsius)
    one: ExchangeParameters = estimate(fitted.data, reservoirs=1).parameters
    if isinstance(answer, CannotTell):
        low, high = answer.half_time_at_least or 0.0, answer.half_time_at_most or np.inf
    else:
        low, high = answer.half_time_low, answer.half_time_high
    return row | {
        "half_time": round(frame.half_time_days, 2),
        "log_error": round(float(np.log(fitted.half_time_days / truth)), 5),
        "log_se": round(fitted.log_standard_error, 5),
        "held": int(low <= truth <= high),
        "one_log_error": round(float(np.log(one.tau_leak * np.log(2) / truth)), 5),
        "reservoirs": fitted.parameters.reservoirs,
        "rmse": round(fitted.rmse_percent, 4),
        "lag1": round(one_step_autocorrelation(fitted), 4),
    }


def run(
    seed: int, n_frames: int, *, stressed: bool, lengths: tuple[int, ...] = LENGTHS_DAYS
) -> list[dict[str, object]]:
    """Simulate and fit; progress goes to stderr."""
    rows: list[dict[str, object]] = []
    for first in range(0, n_frames, BATCH):
        size = min(BATCH, n_frames - first)
        for frame in simulated_frames(seed * 1000 + first, size, stressed=stressed):
            rows += [one_fit(frame, days, "stressed" if stressed else "sound") for days in lengths]
        print(f"{first + size} of {n_frames} frames", file=sys.stderr)
    return rows


def table(rows: pd.DataFrame) -> pd.DataFrame:
    """Summarise the fits by suite, length and half-time."""
    lines = []
    for (suite, days), part in rows.groupby(["suite", "days"], sort=True):
        for low, high in HALF_TIME_CLASSES:
            within = part[(part["half_time"] >= low) & (part["half_time"] < high)]
            told = within[within["determined"] == 1]
            untold = within[within["determined"] == 0]
            error = np.abs(np.expm1(told["log_error"]))
            plain = np.abs(told["log_error"]) <= NORMAL_95 * told["log_se"]
            lines.append(
                {
                    "suite": suite,
                    "days": days,
                    "half_time_from": low,
                    "half_time_to": high,
                    "frames": len(within),
                    "determined": len(told),
                    "error_median_percent": 100 * error.median(),
                    "error_p90_percent": 100 * error.quantile(0.9),
                    "bias_percent": 100 * np.expm1(told["log_error"].median()),
                    "coverage_percent": 100 * told["held"].mean(),
                    "coverage_information_matrix_percent": 100 * plain.mean(),
                    "coverage_of_bounds_percent": 100 * untold["held"].mean(),
                    "one_reservoir_bias_percent": 100 * np.expm1(within["one_log_error"].median()),
                    "two_reservoirs_percent": 100 * (told["reservoirs"] == 2).mean(),
                    "rmse_percent_rh": told["rmse"].median(),
                    "lag_one_autocorrelation": told["lag1"].median(),
                    "seconds_median": within["seconds"].median(),
                }
            )
    return pd.DataFrame(lines).round(2)


def main(arguments: list[str]) -> None:
    """Print the table, and write it where asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy exchange", description=__doc__)
    parser.add_argument("--frames", type=int, default=60, help="number of simulated frames per suite")
    parser.add_argument("--seed", type=int, default=2001)
    parser.add_argument("--stressed", action="store_true", help="the stressed suite beside the sound one")
    parser.add_argument("--days", type=int, nargs="+", default=list(LENGTHS_DAYS))
    parser.add_argument("--csv", type=Path, help="where the table is written")
    parser.add_argument("--raw", type=Path, help="where every single fit is written")
    options = parser.parse_args(arguments)
    rows = run(options.seed, options.frames, stressed=False, lengths=tuple(options.days))
    if options.stressed:
        rows += run(options.seed, options.frames, stressed=True, lengths=tuple(options.days))
    fits = pd.DataFrame(rows)
    if options.raw:
        fits.to_csv(options.raw, index=False)
    summary = table(fits)
    print(summary.to_string(index=False))
    untold = fits[fits["determined"] == 0]
    if not untold.empty:
        print(untold.groupby(["suite", "days", "why"]).size().to_string())
    if options.csv:
        command = "python -m tests.accuracy exchange " + " ".join(arguments)
        with options.csv.open("w", encoding="utf-8", newline="") as handle:
            handle.write(f"# isohume {version('isohume')}; seed {options.seed}; {command}\n")
            summary.to_csv(handle, index=False, quoting=csv.QUOTE_MINIMAL, lineterminator="\n")
