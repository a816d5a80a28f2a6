"""Derive the published widening of the exchange intervals from single fits.

`python -m tests.accuracy exchange --frames 160 --seed 1001 --raw fits.csv` and then
`python -m tests.accuracy calibration fits.csv`

Sought are c and a of √((c·SE)² + a²), the standard error of ln(half-time): the narrowest intervals (mean logarithm of
the width) that hold the truth in at least 95 % of the determined frames at every length of record.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.exchange.doubt import WIDEST_FACTOR
from isohume.analysis.exchange.interval import NORMAL_95

INFLATIONS = np.arange(1.0, 3.01, 0.1)
FLOORS = np.arange(0.0, 0.081, 0.005)
WANTED_COVERAGE = 0.95


def candidates(fits: pd.DataFrame) -> pd.DataFrame:
    """Return coverage by length of record and width for every pair of c and a."""
    rows = []
    for inflation in INFLATIONS:
        for floor in FLOORS:
            sd = np.hypot(inflation * fits["log_se"], floor)
            told = 2 * NORMAL_95 * sd < np.log(WIDEST_FACTOR)
            held = fits["log_error"].abs() <= NORMAL_95 * sd
            coverage = held[told].groupby(fits["days"]).mean()
            rows.append(
                {"inflation": inflation, "floor": floor}
                | {f"coverage_{days}": share for days, share in coverage.items()}
                | {"lowest_coverage": coverage.min(), "log_width": np.log(sd[told]).mean()}
            )
    return pd.DataFrame(rows)


def main(arguments: list[str]) -> None:
    """Print the narrowest candidates that cover enough."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy calibration", description=__doc__)
    parser.add_argument("fits", type=Path, help="single fits, as written by `exchange --raw`")
    fits = pd.read_csv(parser.parse_args(arguments).fits).dropna(subset=["log_se"])
    table = candidates(fits[fits["suite"] == "sound"])
    good = table[table["lowest_coverage"] >= WANTED_COVERAGE].sort_values("log_width")
    print(good.head(10).round(3).to_string(index=False))
