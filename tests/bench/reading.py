"""How long reading takes, beside a bare polars read that already knows the answer. Run: python -m tests.bench.reading.

Prints seconds and ratios, medians of alternating runs, and the peak of memory as a multiple of the file's size. The
bars are those of the design: 3 × for an easy file, 4 × for an awkward one, memory 6 × the file.
"""

from __future__ import annotations

import contextlib
import csv
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from scipy.signal import lfilter

from isohume.ingest.reading import read_source

N_ROWS = 1_000_000
RUNS = 7
N_SMALL_FILES = 500


def record(n_rows: int) -> pl.DataFrame:
    """A room as a logger sees it every 5 minutes: seasons, days, weather, noise."""
    start = datetime(2015, 1, 1)  # noqa: DTZ001 - a logger's wall clock
    time_ = pl.datetime_range(start, start + timedelta(minutes=5 * (n_rows - 1)), "5m", eager=True)
    rng = np.random.default_rng(1)
    hours = np.arange(n_rows) / 12
    weather = lfilter([1.0], [1.0, -0.999], rng.normal(0.0, 0.05, n_rows))
    day, year = 2 * np.pi * hours / 24, 2 * np.pi * hours / 8766
    temperature = 20 + 1.5 * np.sin(day) + 2 * np.sin(year) + 0.3 * weather + rng.normal(0.0, 0.03, n_rows)
    rh = 48 + 8 * np.sin(year) + 3 * np.sin(day + 1) + 2 * weather + rng.normal(0.0, 0.1, n_rows)
    return pl.DataFrame({"time": time_, "rh": rh.round(1), "temperature": temperature.round(2)})


def write_easy(table: pl.DataFrame, path: Path) -> None:
    table.rename({"rh": "RH (%)", "temperature": "Temperature (°C)"}).write_csv(
        path, datetime_format="%Y-%m-%d %H:%M:%S"
    )


def write_awkward(table: pl.DataFrame, path: Path) -> None:
    comma = pl.col("rh", "temperature").cast(pl.String).str.replace(".", ",", literal=True)
    body = table.select(pl.col("time").dt.strftime("%d.%m.%Y %H:%M"), comma)
    text = "Gerät;1234\nOrt;Saal 3\n\nZeit;Feuchte (%);Temperatur (°C)\n" + body.write_csv(
        separator=";", include_header=False
    )
    path.write_bytes(text.encode("cp1252"))


def bare_easy(path: Path) -> pl.DataFrame:
    schema = {"time": pl.String, "rh": pl.Float64, "temperature": pl.Float64}
    table = pl.read_csv(path, has_header=False, skip_lines=1, schema=schema)
    return table.with_columns(pl.col("time").str.to_datetime("%Y-%m-%d %H:%M:%S", cache=False))


def bare_awkward(path: Path) -> pl.DataFrame:
    schema = {"time": pl.String, "rh": pl.Float64, "temperature": pl.Float64}
    table = pl.read_csv(
        path, separator=";", has_header=False, skip_lines=4, schema=schema, decimal_comma=True, encoding="utf8-lossy"
    )
    local = pl.col("time").str.to_datetime("%d.%m.%Y %H:%M", cache=False)
    return table.with_columns(local.dt.replace_time_zone("Etc/GMT-1").dt.convert_time_zone("UTC"))


def by_pandas(path: Path, written: str, **options: object) -> None:
    import pandas as pd

    table = pd.read_csv(path, **options)  # type: ignore[call-overload]  # options of one call each, below
    pd.to_datetime(table.iloc[:, 0], format=written)


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def compare(name: str, bare: Callable[[], object], ours: Callable[[], object], bar: float) -> None:
    bare(), ours()
    pairs = [(seconds(bare), seconds(ours)) for _ in range(RUNS)]
    plain, full = statistics.median(p for p, _ in pairs), statistics.median(f for _, f in pairs)
    ratio = statistics.median(f / p for p, f in pairs)
    print(f"{name:<28} bare polars {plain:6.3f} s   isohume {full:6.3f} s   {ratio:5.2f} × (bar {bar:g} ×)")


def peak_memory(path: Path, zone: str) -> float:
    """Peak resident memory of reading, beyond that of the imports, as a multiple of the file's size."""
    code = (
        "from pathlib import Path; from isohume.ingest.reading import read_source\n"
        "def peak(): return int(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0]) * 1024\n"
        "read_source(b'time,RH\\n2025-01-01 00:00,50\\n2025-01-01 01:00,51\\n', name='x', time_zone='UTC')\n"
        "before = peak()\n"
        f"reading = read_source(Path({str(path)!r}), name='x', time_zone={zone!r})\n"
        "print(peak() - before)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(done.stdout) / path.stat().st_size


def many_files(folder: Path) -> None:
    from isohume.ingest.many import ReadingOptions, read_many

    table = record(N_SMALL_FILES * 720)
    paths = []
    for number in range(N_SMALL_FILES):
        paths.append(folder / f"logger_{number:03}.csv")
        write_easy(table.slice(number * 720, 720), paths[-1])
    options = ReadingOptions(time_zone="UTC")
    for workers in (1, None):
        spent = seconds(lambda workers=workers: list(read_many(paths, options, workers=workers)))
        print(f"{N_SMALL_FILES} files of 720 rows, {'one process' if workers else 'all cores'}: {spent:.2f} s")


def delimiters() -> None:
    """Count in how many of our composed layouts a general sniffer and we find the delimiter; it finds nothing else."""
    from tests.ingest.test_breadth import LAYOUTS, NOW, Writer

    sniffed = ours = 0
    for layout in LAYOUTS:
        content, _ = Writer(layout).text()
        head = "\n".join(content.decode(layout.encoding).splitlines()[:100])
        with contextlib.suppress(csv.Error):
            sniffed += csv.Sniffer().sniff(head, delimiters=",;\t|").delimiter == layout.dialect[0]
        (reading,) = read_source(content, name=layout.name, time_zone="Europe/Berlin", now=NOW)
        ours += reading.recipe.delimiter == layout.dialect[0]
    print(f"delimiter found in {len(LAYOUTS)} layouts: csv.Sniffer {sniffed}, isohume {ours}")


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        easy, awkward = folder / "easy.csv", folder / "awkward.csv"
        table = record(N_ROWS)
        write_easy(table, easy)
        write_awkward(table, awkward)
        print(f"{N_ROWS} rows; easy {easy.stat().st_size / 1e6:.1f} MB, awkward {awkward.stat().st_size / 1e6:.1f} MB")
        compare("easy", lambda: bare_easy(easy), lambda: read_source(easy, name="easy", time_zone="UTC"), 3)
        compare(
            "awkward, +01:00",
            lambda: bare_awkward(awkward),
            lambda: read_source(awkward, name="awkward", time_zone="+01:00"),
            4,
        )
        for path, zone in ((easy, "UTC"), (awkward, "+01:00")):
            print(f"memory, {path.stem:<20} {peak_memory(path, zone):.1f} × the file (bar 6 ×)")
        print(f"pandas, easy: {seconds(lambda: by_pandas(easy, '%Y-%m-%d %H:%M:%S')):.2f} s")
        spent = seconds(
            lambda: by_pandas(awkward, "%d.%m.%Y %H:%M", sep=";", decimal=",", skiprows=3, encoding="cp1252")
        )
        print(f"pandas, awkward: {spent:.2f} s")
        many_files(folder)
    delimiters()


if __name__ == "__main__":
    main()
