"""Write the sample logs anew: `python -m isohume.sample_logs.generate [--out DIR]`; always the same bytes."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from isohume.sample_logs.layouts import LAYOUTS, SensorRows, clock_zone, render
from isohume.sample_logs.sorption import FloatArray
from isohume.sample_logs.stories import HERE, Collection, TrueAir, load_collection, recorded, true_air

DOWNLOAD_HOUR = dt.timedelta(hours=10)  # of the day a logger is read out


def sample_files(collection: Collection, air: TrueAir) -> dict[str, bytes]:
    """Return every logger file by its name."""
    return {
        name: content
        for logger in collection.register["loggers"]
        for name, content in _files_of(collection, air, logger)
    }


def main(arguments: list[str] | None = None) -> int:
    """Write register, truth and logs to a folder."""
    parser = argparse.ArgumentParser(prog="python -m isohume.sample_logs.generate", description=__doc__)
    parser.add_argument("--out", type=Path, default=HERE, help="folder that receives logs/ (default: the package's)")
    out: Path = parser.parse_args(arguments).out
    collection = load_collection()
    files = sample_files(collection, true_air(collection))
    (out / "logs").mkdir(parents=True, exist_ok=True)
    for name in ("register.toml", "truth.toml"):
        if out.resolve() != HERE.resolve():
            (out / name).write_bytes((HERE / name).read_bytes())
    for name, content in files.items():
        (out / "logs" / name).write_bytes(content)
    megabytes = sum(map(len, files.values())) / 1e6
    sys.stdout.write(f"{len(files)} files, {megabytes:.2f} MB, in {out / 'logs'}\n")
    return 0


def _files_of(collection: Collection, air: TrueAir, logger: Mapping[str, Any]) -> Iterator[tuple[str, bytes]]:
    """Yield name and bytes of each file that one logger was read out into."""
    truth = collection.truth["loggers"][logger["id"]]
    step_s = 60.0 * truth.get("step_minutes", 60)
    phase_s = 60.0 * truth.get("phase_minutes", 0)
    first = np.ceil((collection.seconds(truth["started"]) - phase_s) / step_s) * step_s + phase_s
    last = collection.seconds(truth.get("ended", collection.as_of))
    time_s = np.arange(first, last, step_s)
    digits = LAYOUTS[truth["layout"]].digits
    sensors = [
        SensorRows(name=name, rh_percent=np.round(rh, digits), temperature_celsius=np.round(warmth, digits))
        for name, rh, warmth in recorded(collection, air, logger, time_s)
    ]
    zone = clock_zone(truth.get("clock", logger["time_zone"]))
    pattern: str = logger["files"][0]
    for day, rows in _read_outs(collection, truth, time_s, last):
        content = render(
            LAYOUTS[truth["layout"]],
            times_utc=[dt.datetime.fromtimestamp(t, dt.UTC) for t in time_s[rows]],
            sensors=[
                SensorRows(
                    name=one.name,
                    rh_percent=one.rh_percent[rows],
                    temperature_celsius=one.temperature_celsius[rows],
                )
                for one in sensors
            ],
            serial=logger["serial"],
            zone=zone,
        )
        yield pattern.replace("*", day.isoformat()), content


def _read_outs(
    collection: Collection, truth: Mapping[str, Any], time_s: FloatArray, last_s: float
) -> Iterator[tuple[dt.date, slice]]:
    """Yield the day of each file and the rows it holds; files may repeat the last hours of the one before."""
    ends = [collection.seconds(day) + DOWNLOAD_HOUR.total_seconds() for day in truth["files_until"]]
    overlap_s = 3600.0 * truth.get("overlap_hours", 0)
    since_s = -np.inf
    for end_s in [*ends, last_s]:
        rows = slice(*(int(np.searchsorted(time_s, moment)) for moment in (since_s, end_s)))
        yield dt.datetime.fromtimestamp(end_s, collection.zone).date(), rows
        since_s = end_s - overlap_s


if __name__ == "__main__":
    sys.exit(main())
