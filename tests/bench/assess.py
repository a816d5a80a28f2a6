"""Time one frame-year with all findings, and the help. Run: OMP_NUM_THREADS=1 python -m tests.bench.assess.

Bars of the design: all findings of a frame-year, hourly, in 2 s on one core; `isohume --help` within 0.3 s beyond the
bare interpreter. Seconds of the processor, so that a busy machine does not blur them; medians of three.
"""

from __future__ import annotations

import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pandas as pd

from isohume.analysis.assess import assess
from isohume.analysis.buffering import buffering
from isohume.analysis.drift import seasonal_drift
from isohume.analysis.exchange.fit import fit_exchange
from isohume.analysis.forecast.finding import forecast_finding
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.seal import seal_finding
from isohume.dashboard.loose_files import read_side
from isohume.ingest.questions import Answers

LOGS = Path(__file__).parents[2] / "sample_logs" / "logs"
FRAME = FrameFacts(band=(37.0, 60.0), conditioned_percent=50.0, time_zone="Europe/Berlin")
REPEATS = 3
YEAR = pd.Timedelta(days=365)


def processor_seconds(work: Callable[[], object]) -> float:
    """Median processor time of some work."""
    taken = []
    for _ in range(REPEATS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return statistics.median(taken)


def seconds_of_command(*command: str) -> float:
    """Median processor time of a command."""
    taken = []
    for _ in range(REPEATS):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return statistics.median(taken)


def main() -> None:
    """Print the table."""
    inside, outside = (
        read_side(sorted(LOGS.glob(names)), side=side, time_zone="Europe/Berlin", answers=Answers()).record
        for side, names in (("inside", "frame02_*.txt"), ("outside", "north_gallery_*.csv"))
    )
    as_of = inside.readings.index[0] + YEAR
    start = time.process_time()
    assess(inside, outside, frame=FRAME, as_of=as_of)
    print(f"one frame-year, hourly, {FRAME.band} %RH [s of one core]")
    print(f"  all findings, first time {time.process_time() - start:5.2f}")
    fitted = fit_exchange(inside, outside, frame=FRAME, as_of=as_of)
    opened = Event(time_utc=as_of - YEAR / 2, kind="seal repaired")
    handled = replace(FRAME, events=(opened,))
    parts: dict[str, Callable[[], object]] = {
        "all findings": lambda: assess(inside, outside, frame=FRAME, as_of=as_of),
        "all, with an event halfway": lambda: assess(inside, outside, frame=handled, as_of=as_of),
        "buffering": lambda: buffering(inside, outside),
        "drift": lambda: seasonal_drift(inside, outside),
        "exchange": lambda: fit_exchange(inside, outside, frame=FRAME, as_of=as_of),
        "forecast, back-test": lambda: forecast_finding(fitted, inside, outside, frame=FRAME),
        "seal": lambda: seal_finding(fitted, frame=FRAME),
    }
    for name, work in parts.items():
        print(f"  {name:28} {processor_seconds(work):5.2f}")
    bare = seconds_of_command(sys.executable, "-c", "pass")
    shown = seconds_of_command(sys.executable, "-m", "isohume.dashboard.cli", "--help")
    print(f"isohume --help beyond the bare interpreter: {shown - bare:.2f} s")


if __name__ == "__main__":
    main()
