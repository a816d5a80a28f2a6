"""How long the clock and the quality flags take for a million rows. Run: python -m tests.bench.quality.

Beside each stands polars' own conversion of the same times, which settles no repeated hour, and a bare parse of the
times from text, the least that reading them can cost.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl

from isohume.ingest.clock import to_utc
from isohume.ingest.clock_order import backward_times, impossible_times, repeats
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.placement_edges import placement_edges
from isohume.ingest.quality import flag_readings
from tests.bench.reading import N_ROWS, record

RUNS = 7
ZONE = "Europe/Berlin"


def seconds(work: Callable[[], object]) -> float:
    """Median of several runs."""
    taken = []
    for _ in range(RUNS):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def normalised(rh: np.ndarray, temperature: np.ndarray) -> pl.DataFrame:
    start = datetime(2015, 1, 1, tzinfo=UTC)
    times = pl.datetime_range(
        start, start + timedelta(minutes=5 * (rh.size - 1)), "5m", time_unit="us", time_zone="UTC", eager=True
    )
    return pl.DataFrame({"time_utc": times, "rh_percent": rh, "temperature_celsius": temperature}).with_columns(
        channel=pl.lit(""), flags=pl.lit(0, dtype=pl.UInt32)
    )


def main() -> None:
    known = record(N_ROWS)
    table = normalised(known["rh"].to_numpy(), known["temperature"].to_numpy())
    utc = table["time_utc"]
    local = utc.dt.convert_time_zone(ZONE).dt.replace_time_zone(None)
    text = local.dt.strftime("%Y-%m-%d %H:%M:%S")
    rng = np.random.default_rng(2)
    noisy = table.with_columns(pl.col("rh_percent") + pl.Series(rng.normal(0, 1.5, N_ROWS)).round(1))
    calm = table.with_columns(((pl.col("rh_percent") / 20).round() * 20).alias("rh_percent"))
    zone, now = ClockZone.parse(ZONE), datetime(2030, 1, 1, tzinfo=UTC)

    print(f"{N_ROWS:,} rows")
    for name, work in (
        ("bare: times from text, polars", lambda: text.str.to_datetime("%Y-%m-%d %H:%M:%S", cache=False)),
        (
            "bare: zone to UTC, polars, repeated hours by guess",
            lambda: local.dt.replace_time_zone(ZONE, ambiguous="earliest", non_existent="null"),
        ),
        ("clock: zone to UTC, repeated hours settled", lambda: to_utc(local, zone)),
        ("clock: the same, newest first", lambda: to_utc(local.reverse(), zone)),
        ("clock: impossible times", lambda: impossible_times(utc, now=now)),
        ("clock: backward times", lambda: backward_times(table)),
        ("clock: repeats", lambda: repeats(table)),
        ("flags: a room", lambda: flag_readings(table)),
        ("flags: a noisy sensor", lambda: flag_readings(noisy)),
        ("flags: a sensor that shows whole days of one number", lambda: flag_readings(calm)),
        ("placement edges", lambda: placement_edges(table)),
    ):
        print(f"  {name:<55}{1000 * seconds(work):8.1f} ms")


if __name__ == "__main__":
    main()
