"""How surely the seal check finds a leak that grew, and how rarely it accuses a sound frame, on simulated frames.

`python -m tests.accuracy seal --frames 60 --seed 4001 5001 --raw scans.csv --csv analysis/data/seal_accuracy.csv`

Every frame of a nuisance case is scanned anew each month of its year, as a museum would; one accusation in the year
counts. With `--raw` the scans are written batch by batch, and what the file already holds is not scanned again.
`--grid` prints what other thresholds would have given: run it on other seeds than those of the table.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import pandas as pd
from scipy.stats import chi2

from isohume.analysis.exchange import fit_exchange
from isohume.analysis.exchange.fit import between
from isohume.analysis.seal.finding import candidate, finding_of, seal_scan
from isohume.analysis.seal.thresholds import SMALLEST_FACTOR
from tests.accuracy.frames import SimulatedFrame, simulated_frames
from tests.accuracy.frames_disturbed import (
    NUISANCES,
    SMALLEST_DIFFERENCE_PERCENT,
    Disturbed,
    disturbed,
    leaking,
)
from tests.accuracy.intervals import binomial_interval, frames_of_seeds

FIRST_SCAN_DAY, LAST_SCAN_DAY, MONTH_DAYS = 60, 390, 30
BATCH = 10  # frames simulated at once
# What one more parameter may gain by chance in 5 % of records, were the model true and one date looked at.
TEXTBOOK_RATIO = float(chi2.ppf(0.95, 1)) / 2
SAME_CHANGE_DAYS = 45.0  # a date farther off is another finding than the one that was made
GRID = ((5.0, 2.0), (5.0, 3.0), (6.0, 3.0), (6.0, 4.0), (7.0, 4.0), (8.0, 4.0), (8.0, 6.0), (10.0, 6.0), (12.0, 8.0))


COLUMNS = ("case", "frame", "half_time", "room", "happened_day", "scan_day", "true_factor", "changed", "smallest")
COLUMNS += ("seconds", "found_day", "factor", "factor_sd", "low", "high", "ratio", "beyond_rivals", "rival")
COLUMNS += ("rival_ratio",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """A leak that grows, and when it is to be found."""

    factor: float
    within_days: int
    difference_percent: float = 0.0


FAILURES = {
    "×3 after 10 days, |u − y| ≥ 5 %RH": Failure(
        factor=3.0, within_days=10, difference_percent=SMALLEST_DIFFERENCE_PERCENT
    ),
    "×3 after 14 days, |u − y| ≥ 5 %RH": Failure(
        factor=3.0, within_days=14, difference_percent=SMALLEST_DIFFERENCE_PERCENT
    ),
    "×2 after 30 days, |u − y| ≥ 5 %RH": Failure(
        factor=2.0, within_days=30, difference_percent=SMALLEST_DIFFERENCE_PERCENT
    ),
    "×3 after 60 days, any season": Failure(factor=3.0, within_days=60),
}


def scanned(one: Disturbed, *, day: float) -> dict[str, object]:
    """Check the seal as it could be checked on that day of the record."""
    as_of = one.inside.readings.index[0] + pd.Timedelta(days=day)
    inside, outside = between(one.inside, None, as_of), between(one.outside, None, as_of)
    answer = fit_exchange(inside, outside, frame=one.facts)
    began = time.process_time()
    scan = seal_scan(answer, frame=one.facts)
    finding = finding_of(scan, answer, time_zone="UTC")
    seconds = time.process_time() - began
    grown = None if scan is None else candidate(scan, grown=True)
    row: dict[str, object] = {
        "half_time": round(one.frame.half_time_days, 1),
        "room": one.frame.kind,
        "happened_day": round(one.day, 2),
        "scan_day": round(day, 2),
        "true_factor": round(one.factor, 3),
        "changed": {True: 1, False: 0, None: -1}[finding.changed],
        "smallest": finding.smallest_detectable,
        "seconds": round(seconds, 3),
    }
    if grown is None:
        return row
    found_day = (grown.date - one.inside.readings.index[0]) / pd.Timedelta(days=1)
    return row | {
        "found_day": round(found_day, 2),
        "factor": round(grown.factor, 3),
        "factor_sd": round(grown.factor_sd, 4),
        "low": round(grown.factor_low, 3),
        "high": round(grown.factor_high, 3),
        "ratio": round(grown.log_likelihood_ratio, 2),
        "beyond_rivals": round(grown.beyond_rivals, 2),
        "rival": grown.rival.name,
        "rival_ratio": round(grown.rival.log_likelihood_ratio, 2),
    }


def run(
    seed: int, n_frames: int, cases: Sequence[str], known: frozenset[tuple[str, int]] = frozenset()
) -> Iterator[list[dict[str, object]]]:
    """Simulate and scan one batch and case after the other; those that are `known` are left out."""
    for first in range(0, n_frames, BATCH):
        size, start = min(BATCH, n_frames - first), seed * 1000 + first
        missing = [name for name in cases if not any((name, start + k) in known for k in range(size))]
        frames = simulated_frames(start, size) if missing else []
        for name in missing:
            yield [
                {"case": name, "frame": start + k} | scanned(one, day=day)
                for k, one, day in _scans(name, frames, start)
            ]
        print(f"seed {seed}: {first + size} of {n_frames} frames", file=sys.stderr, flush=True)


def _kept(raw: Path, wanted: Mapping[int, int], cases: Sequence[str]) -> pd.DataFrame:
    """Add the scans that the file does not hold yet, batch by batch, and return those that were asked for."""
    known: frozenset[tuple[str, int]] = frozenset()
    if raw.exists():
        held = pd.read_csv(raw)
        known = frozenset(zip(held["case"], held["frame"], strict=True))
    for seed, n_frames in wanted.items():
        for scans in run(seed, n_frames, cases, known):
            lines = pd.DataFrame(scans).reindex(columns=list(COLUMNS))
            lines.to_csv(raw, mode="a", header=not raw.exists(), index=False)
    rows = pd.read_csv(raw)
    most = rows["frame"].floordiv(1000).map(wanted).fillna(0)
    return rows[(rows["frame"] % 1000 < most) & rows["case"].isin(cases)]


def _scans(name: str, frames: list[SimulatedFrame], seed: int) -> Iterator[tuple[int, Disturbed, float]]:
    if name in NUISANCES:
        for k, one in enumerate(disturbed(frames, NUISANCES[name], seed=seed)):
            for day in range(FIRST_SCAN_DAY, LAST_SCAN_DAY + 1, MONTH_DAYS):
                yield k, one, day
        return
    failure = FAILURES[name]
    changed = leaking(
        frames,
        failure.factor,
        seed=seed,
        within_days=failure.within_days,
        smallest_difference=failure.difference_percent,
    )
    for k, one in enumerate(changed):
        yield k, one, one.day + failure.within_days


def table(rows: pd.DataFrame) -> pd.DataFrame:
    """Summarise: of failing frames the share found, of the others the share of frame-years with an accusation."""
    lines = []
    for name in (*FAILURES, *NUISANCES):
        part = rows[rows["case"] == name]
        if part.empty:
            continue
        failing = name in FAILURES
        wrong_date = (part["found_day"] - part["happened_day"]).abs() > SAME_CHANGE_DAYS
        counted = (part["changed"] == 1) & ~(failing & wrong_date)
        by_frame = counted.groupby(part["frame"]).max()
        low, high = binomial_interval(int(by_frame.sum()), len(by_frame))
        found = part[counted]
        error = (found["found_day"] - found["happened_day"]).abs()
        line: dict[str, object] = {
            "case": name,
            "counted": "found" if failing else "accused",
            "frames": len(by_frame),
            "scans": len(part),
            "percent": 100 * by_frame.mean(),
            "percent_low": 100 * low,
            "percent_high": 100 * high,
        }
        if failing:
            held = (found["low"] <= found["true_factor"]) & (found["true_factor"] <= found["high"])
            line |= {
                "date_error_days_median": error.median(),
                "date_error_days_p90": error.quantile(0.9),
                "factor_over_truth_median": (found["factor"] / found["true_factor"]).median(),
                "interval_holds_percent": 100 * held.mean(),
                "interval_ratio_median": (found["high"] / found["low"]).median(),
            }
        textbook = (part["ratio"] > TEXTBOOK_RATIO).groupby(part["frame"]).max()
        line["textbook_percent"] = None if failing else 100 * textbook.mean()
        lines.append(line | {"seconds_median": part["seconds"].median()})
    return pd.DataFrame(lines).round(2)


def grid(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the share of frames found or accused, per case, for several pairs of thresholds [%]."""
    columns = {}
    for least, beyond in GRID:
        passes = (rows["ratio"] >= least) & (rows["factor"] >= SMALLEST_FACTOR)
        passes &= rows["beyond_rivals"] >= beyond
        by_frame = passes.groupby([rows["case"], rows["frame"]], sort=False).max()
        columns[f"{least:g}, {beyond:g}"] = 100 * by_frame.groupby(level=0, sort=False).mean()
    return pd.DataFrame(columns).round(1)


def main(arguments: list[str]) -> None:
    """Print the table, and write it where asked."""
    names = [*FAILURES, *NUISANCES]
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy seal", description=__doc__)
    parser.add_argument("--frames", type=int, nargs="+", default=[20], help="one number, or one per seed")
    parser.add_argument("--seed", type=int, nargs="+", default=[4001])
    listed = "; ".join(names).replace("%", "%%")
    parser.add_argument("--cases", nargs="+", default=names, choices=names, metavar="CASE", help=listed)
    parser.add_argument(
        "--raw", type=Path, help="where single scans are written, batch by batch, and read from when run again"
    )
    parser.add_argument("--csv", type=Path, help="where the table is written")
    parser.add_argument("--grid", action="store_true", help="shares for several pairs of thresholds as well")
    options = parser.parse_args(arguments)
    wanted = frames_of_seeds(options.seed, options.frames)
    if options.raw:
        rows = _kept(options.raw, wanted, options.cases)
    else:
        batches = (batch for seed, n_frames in wanted.items() for batch in run(seed, n_frames, options.cases))
        rows = pd.DataFrame([scan for batch in batches for scan in batch])
    summary = table(rows)
    print(summary.to_string(index=False))
    sound = rows["ratio"][rows["case"] == "sound"]
    if not sound.empty:
        print(f"99 % of scans of sound frames: log likelihood ratio under {sound.quantile(0.99):.1f}")
    if options.grid:
        print(grid(rows).to_string())
    if options.csv:
        seeds = " ".join(map(str, wanted))
        frames = " ".join(map(str, wanted.values()))
        command = f"python -m tests.accuracy seal --seed {seeds} --frames {frames}"
        with options.csv.open("w", encoding="utf-8", newline="") as handle:
            handle.write(
                f"# isohume {version('isohume')}; seeds {seeds}; {command}; counted: failing frames found, or "
                "frame-years with an accusation in any monthly scan; 95 % interval by Clopper and Pearson\n"
            )
            summary.to_csv(handle, index=False, lineterminator="\n")
