"""The invented collection's loggers: the faults put into one are found, and the sound ones raise no flag."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from isohume.ingest.flags import Flag, flag_counts
from isohume.ingest.reading import FileReading, read_source

SAMPLES = Path(__file__).parents[2] / "sample_logs"
NOW = datetime(2026, 11, 24, tzinfo=UTC)
FAULTY = "marco06_2026-11-20.csv"  # of logger L16


def read(name: str) -> FileReading:
    return read_source(SAMPLES / "logs" / name, name=name, time_zone="Europe/Berlin", now=NOW)[0]


def with_flag(table: pl.DataFrame, flag: Flag) -> pl.Series:
    return table.filter((pl.col("flags") & flag.value) != 0)["time_utc"]


def test_the_stuck_weeks_are_found_to_the_hour_and_the_spikes_after_their_start() -> None:
    truth = tomllib.loads((SAMPLES / "truth.toml").read_text("utf-8"))["loggers"]["L16"]
    table = read(FAULTY).table
    stuck = with_flag(table, Flag.RH_STUCK)
    assert stuck.min() == truth["stuck"]["from"]
    assert stuck.max() == truth["stuck"]["to"] - timedelta(hours=1)
    assert len(stuck) == (truth["stuck"]["to"] - truth["stuck"]["from"]) / timedelta(hours=1)
    spikes = with_flag(table, Flag.RH_SPIKE)
    assert spikes.min() >= truth["spikes"]["from"] - timedelta(days=1)
    n_after = table.filter(pl.col("time_utc") >= truth["spikes"]["from"]).height
    # Two spikes in a row shield each other from the neighbour rule: not all of them are found.
    assert 0.7 * truth["spikes"]["share"] <= len(spikes) / n_after <= 1.5 * truth["spikes"]["share"]


@pytest.mark.parametrize(
    "name", ["frame02_2026-11-20.txt", "cadre11_2026-11-20.txt", "stair_hall_2026-07-02.csv", "frame09_2026-11-20.tsv"]
)
def test_a_sound_logger_raises_no_flag_and_no_question(name: str) -> None:
    reading = read(name)
    assert flag_counts(reading.table["flags"]) == {}
    assert not any(note.startswith("When did the logger") for note in reading.notes)


def test_the_week_on_a_desk_is_asked_about() -> None:
    (question,) = (note for note in read("lijst12_2026-11-20.csv").notes if "When did the logger go in?" in note)
    assert "Before 2025-09-22 " in question  # the register: placed on 2025-09-22, 14:30


def test_the_clock_left_on_winter_time_is_said() -> None:
    assert any("never changes to summer time" in note for note in read("rahmen07_2026-11-20.csv").notes)
