"""Readings of one place made one, and handed over to analysis."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import polars as pl
import pytest

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.flags import FLAGS, Flag
from isohume.ingest.handover import air_record
from isohume.ingest.many import ReadingOptions, read_many
from isohume.ingest.merge import merge_readings
from isohume.ingest.reading import FileReading, read_source

NOW = datetime(2026, 11, 24, tzinfo=UTC)
START = datetime(2025, 3, 1, tzinfo=UTC)


def lines(n: int, *, first: int = 0, late_s: int = 0, shift: float = 0.0) -> Iterator[tuple[str, float, float]]:
    for hour in range(first, first + n):
        time = START + timedelta(hours=hour, seconds=late_s)
        yield f"{time:%Y-%m-%d %H:%M:%S}", 48 + shift + 0.1 * (hour * 7 % 9), 20 + 0.1 * (hour * 3 % 7)


def read(heading: str, rows: list[str]) -> FileReading:
    (reading,) = read_source("\n".join([heading, *rows]).encode(), name="x.csv", time_zone="UTC", now=NOW)
    return reading


def humidity(n: int = 48) -> FileReading:
    return read("Time,RH (%)", [f"{time},{rh:.1f}" for time, rh, _ in lines(n)])


@pytest.mark.parametrize("late_s", [0, 40])
def test_humidity_and_temperature_of_separate_files_are_joined(late_s: int) -> None:
    temperature = read("Time,T (°C)", [f"{time},{celsius:.1f}" for time, _, celsius in lines(48, late_s=late_s)])
    for order in ([humidity(), temperature], [temperature, humidity()]):
        table = merge_readings(order)
        assert table.height == 48
        assert table["rh_percent"].to_list() == pytest.approx([rh for _, rh, _ in lines(48)])
        assert table["temperature_celsius"].to_list() == pytest.approx([celsius for _, _, celsius in lines(48)])
        assert table["time_utc"][0] == START


def test_temperatures_without_humidity_stay_by_themselves() -> None:
    temperature = read("Time,T (°C)", [f"{time},{celsius:.1f}" for time, _, celsius in lines(60)])
    table = merge_readings([humidity(48), temperature])
    assert table.height == 60
    assert table["rh_percent"].null_count() == 12
    assert table["temperature_celsius"].null_count() == 0


def test_months_follow_each_other_and_the_earlier_file_wins() -> None:
    def month(first: int, shift: float) -> FileReading:
        return read("Time,RH,T", [f"{t},{rh:.1f},{c:.1f}" for t, rh, c in lines(48, first=first, shift=shift)])

    table = merge_readings([month(0, 0.0), month(40, 5.0)])
    assert table.height == 88
    assert table["time_utc"].is_sorted()
    assert table["rh_percent"][44] == pytest.approx(48 + 0.1 * (44 * 7 % 9))
    assert merge_readings([]).is_empty()


def test_air_record_leaves_out_what_its_flags_exclude() -> None:
    table = read("Time,RH,T", [f"{t},{rh:.1f},{c:.1f}" for t, rh, c in lines(48)]).table
    marked = table.with_columns(
        pl.when(pl.int_range(pl.len()) == 7)
        .then(pl.lit(Flag.RH_SPIKE.value, dtype=pl.UInt32))
        .otherwise(pl.lit(0, dtype=pl.UInt32))
        .alias(FLAGS)
    )
    record = air_record(marked, uncertainty_percent=2.0, notes=("a remark",))
    assert (record.n_readings, record.n_excluded, record.flag_counts) == (48, 1, {"rh spike": 1})
    assert np.isnan(record.rh_percent.iloc[7])
    assert record.temperature_celsius.notna().all()
    assert str(record.readings.index.tz) == "UTC"
    assert record.readings.index[0] == pd.Timestamp(START)
    assert (record.uncertainty_percent, record.notes) == (2.0, ("a remark",))


def test_air_record_of_two_channels_is_refused() -> None:
    table = read("Time,RH1,RH2", [f"{t},{rh:.1f},{rh - 9:.1f}" for t, rh, _ in lines(48)]).table
    with pytest.raises(ValueError, match="choose one channel"):
        air_record(table)
    assert air_record(table.filter(channel="2")).n_readings == 48


def test_many_files_come_back_in_order_from_several_processes(tmp_path: Path) -> None:
    paths = []
    for number in range(6):
        paths.append(tmp_path / f"{number}.csv")
        body = "\n".join(f"{t},{rh:.1f},{c:.1f}" for t, rh, c in lines(30 + number))
        paths[-1].write_text(f"Time,RH,T\n{body}\n", encoding="utf-8")
    paths.insert(3, tmp_path / "missing.csv")
    told: list[tuple[int, int]] = []
    options = ReadingOptions(time_zone="UTC")
    outcomes = list(read_many(paths, options, workers=2, progress=lambda done, total: told.append((done, total))))
    assert [path for path, _ in outcomes] == paths
    assert told == [(n, 7) for n in range(1, 8)]
    ((refusal,),) = [outcome for path, outcome in outcomes if path.name == "missing.csv"]
    assert isinstance(refusal, LoggerFileError)
    assert "no such file" in str(refusal)
    kept = [outcome[0].ledger.kept for _, outcome in outcomes if isinstance(outcome[0], FileReading)]
    assert kept == [30, 31, 32, 33, 34, 35]
