"""How an archive carries 20 million readings. Run: python -m tests.bench.archive [--loggers 200] [--years 3].

Makes logger files (one a year and logger, every 15 minutes), imports them as `isohume ingest` does, and prints the
import's rate, the size on disk, how long one frame-year, a deep audit and a rebuild of one logger take, and how long
the list of 500 frames takes from kept findings. Bars: a frame-year in 50 ms, 500 frames in 0.3 s.
"""

from __future__ import annotations

import argparse
import datetime as dt
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl
from scipy.signal import lfilter

from isohume.dashboard.store import SUMMARY, Store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding

MINUTES = 15
FIRST_YEAR = 2023
N_LISTED = 500
RUNS = 9


def seconds(work: Callable[[], object], runs: int = RUNS) -> float:
    """Return the median time of some runs [s]."""
    taken = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def description(n_loggers: int) -> str:
    """Describe a collection in which every fourth logger hangs in a room, the others in frames."""
    lines = ['[collection]\nname = "Bench (invented)"\ntime_zone = "Europe/Berlin"\ninvented = true']
    room = ""
    for number in range(n_loggers):
        lines.append(f'[[loggers]]\nid = "L{number:03}"\nfiles = ["logger{number:03}_*.csv"]\ntime_zone = "UTC"')
        place = f'frame = "F{number:03}"'
        if number % 4 == 0:
            room, place = f"R{number:03}", f'room = "R{number:03}"'
            lines.append(f'[[rooms]]\nid = "{room}"')
        else:
            lines.append(f'[[frames]]\nid = "F{number:03}"\nband = [40, 60]\n[[frames.locations]]\nroom = "{room}"')
            lines.append(f"from = {FIRST_YEAR}-01-01")
        lines.append(f'[[placements]]\nlogger = "L{number:03}"\n{place}\nfrom = {FIRST_YEAR}-01-01')
    return "\n".join(lines) + "\n"


def write_file(path: Path, year: int, seed: int) -> int:
    """Write one logger-year; returns its rows."""
    start, end = dt.datetime(year, 1, 1), dt.datetime(year + 1, 1, 1)  # noqa: DTZ001 - written without an offset
    times = pl.datetime_range(start, end, f"{MINUTES}m", closed="left", eager=True)
    rng, n = np.random.default_rng(seed), len(times)
    hours = np.arange(n) * MINUTES / 60
    weather = lfilter([1.0], [1.0, -0.998], rng.normal(0.0, 0.1, n))
    rh = 50 + 6 * np.sin(2 * np.pi * hours / 8766) + weather + rng.normal(0.0, 0.1, n)
    celsius = 20 + 2 * np.sin(2 * np.pi * hours / 24) + 0.2 * weather + rng.normal(0.0, 0.03, n)
    table = pl.DataFrame({"Time (UTC)": times, "RH (%)": rh.round(1), "Temperature (°C)": celsius.round(2)})
    table.write_csv(path, datetime_format="%Y-%m-%dT%H:%M:%SZ")
    return n


def main() -> None:
    """Make, import, read; print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--loggers", type=int, default=200)
    parser.add_argument("--years", type=int, default=3)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="isohume-bench-") as name:
        folder = Path(name)
        (folder / "register.toml").write_text(description(wanted.loggers), encoding="utf-8")
        with Archive.create(folder / "archive") as archive:
            archive.load_register(folder / "register.toml")
            n_rows, taken, worst = import_all(archive, folder, n_loggers=wanted.loggers, n_years=wanted.years)
            print(f"import: {n_rows / 1e6:.1f} M readings in {taken:.0f} s, {n_rows / taken / 1e6:.2f} M/s, "
                  f"slowest file {worst:.2f} s")  # fmt: skip
            tell_size(archive, n_rows)
            tell_reading(archive, wanted.years)
        tell_list(folder / "listed")


def import_all(archive: Archive, folder: Path, *, n_loggers: int, n_years: int) -> tuple[int, float, float]:
    """Import year after year; returns rows, seconds spent importing and the slowest file's."""
    n_rows, taken, worst = 0, 0.0, 0.0
    for year in range(FIRST_YEAR, FIRST_YEAR + n_years):
        for number in range(n_loggers):
            path = folder / f"logger{number:03}_{year}.csv"
            n_rows += write_file(path, year, seed=number * 100 + year)
            start = time.perf_counter()
            result = archive.ingest(path)
            spent = time.perf_counter() - start
            taken, worst = taken + spent, max(worst, spent)
            if result.status != "kept":
                raise RuntimeError(result.report())
            path.unlink()
    return n_rows, taken, worst


def tell_size(archive: Archive, n_rows: int) -> None:
    """Print what the folders take."""
    for part in ("readings", "originals", "."):
        size = sum(path.stat().st_size for path in (archive.folder / part).rglob("*") if path.is_file())
        print(f"size of {part:9}: {size / 1e6:7.0f} MB, {size / n_rows:.1f} bytes a reading")


def tell_reading(archive: Archive, n_years: int) -> None:
    """Print how long one frame's readings take."""
    year = FIRST_YEAR + n_years - 1
    period = dt.datetime(year, 1, 1, tzinfo=dt.UTC), dt.datetime(year + 1, 1, 1, tzinfo=dt.UTC)
    inside = seconds(lambda: archive.inside_record("F001", *period))
    outside = seconds(lambda: archive.outside_record("F001", *period))
    whole = seconds(lambda: archive.inside_record("F001"))
    print(f"one frame-year: inside {1e3 * inside:.0f} ms, room {1e3 * outside:.0f} ms (bar 50 ms)")
    print(f"all {n_years} years inside: {1e3 * whole:.0f} ms")
    print(f"keys of all {len(archive.frame_ids())} frames: {1e3 * seconds(archive.findings_keys):.0f} ms")
    start = time.perf_counter()
    problems = archive.audit(deep=False).problems
    print(f"quick audit: {time.perf_counter() - start:.1f} s, {len(problems)} problems")
    start = time.perf_counter()
    archive.undo(1)
    print(f"undo of one logger-year: {time.perf_counter() - start:.2f} s")


def tell_list(folder: Path) -> None:
    """Print how long the list of 500 frames takes when their findings are kept."""
    with Archive.create(folder) as archive:
        described = folder.with_suffix(".toml")
        described.write_text(description(N_LISTED * 4 // 3 + 1), encoding="utf-8")
        archive.load_register(described)
        frames = archive.frame_ids()
        path = folder.with_suffix(".csv").with_name("logger001_x.csv")
        write_file(path, FIRST_YEAR, 1)
        archive.ingest(path)
        room = path.with_name("logger000_x.csv")
        write_file(room, FIRST_YEAR, 2)
        archive.ingest(room)
        Store(archive).summaries()  # the first time: computed and kept
        kept = archive.kept_findings(SUMMARY)
        one = max(kept.values(), key=lambda finding: len(str(finding.document)))
        archive.keep_findings(
            SUMMARY,
            {frame: Finding(kept[frame].key, one.as_of, {**one.document, "frame_id": frame}) for frame in frames},
        )
        taken = seconds(lambda: Store(archive).summaries())
        n_listed = len(Store(archive).summaries())
    print(f"list of {n_listed} frames from kept findings: {1e3 * taken:.0f} ms (bar 300 ms)")


if __name__ == "__main__":
    main()
