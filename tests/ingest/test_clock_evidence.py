"""A clock that never changes to summer time is recognised beside another logger or alone, on good evidence only."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest

from isohume.ingest.clock_evidence import alone, beside_companion
from isohume.ingest.clock_zone import ClockZone

BERLIN, WINTER = ClockZone.parse("Europe/Berlin"), ClockZone.parse("+01:00")
SPRING, AUTUMN = datetime(2025, 3, 30, 1, tzinfo=UTC), datetime(2025, 10, 26, 1, tzinfo=UTC)
START = datetime(2025, 1, 8, tzinfo=UTC)


def a_year(
    *, driven_by: str = "people", lag_hours: float = 0.0, swing_kelvin: float = 1.0, days: int = 330, seed: int = 0
) -> pl.DataFrame:
    """Return the true temperature, hourly: a day that starts at 07:00 by the wall clock, or with the sun."""
    rng = np.random.default_rng(seed)
    utc = pl.datetime_range(START, START + pl.duration(days=days), "1h", time_unit="us", time_zone="UTC", eager=True)
    hours = utc.to_physical().to_numpy() / 3.6e9
    summer = ((utc >= SPRING) & (utc < AUTUMN)).to_numpy()
    clock = hours + 1 + (summer if driven_by == "people" else 0)
    warm = np.clip(np.sin(2 * np.pi * (clock - lag_hours - 7) / 24), -0.4, None)
    weather = np.convolve(rng.normal(0, 0.4, utc.len() + 71), np.ones(72) / 72**0.5, "valid")
    temperature = np.round(
        20 + swing_kelvin * warm * rng.uniform(0.6, 1.4) + weather + rng.normal(0, 0.05, utc.len()), 1
    )
    return pl.DataFrame(
        {"time_utc": utc, "temperature_celsius": temperature, "flags": np.zeros(utc.len(), dtype=np.uint32)}
    )


def shifted_in_summer(table: pl.DataFrame, hours: int) -> pl.DataFrame:
    """Return the table as a wrongly stated clock gives it: its summer times moved."""
    time = pl.col("time_utc")
    moved = pl.when((time >= SPRING) & (time < AUTUMN)).then(time + pl.duration(hours=hours)).otherwise(time)
    return table.with_columns(moved.alias("time_utc")).unique("time_utc", keep="last").sort("time_utc")


@pytest.mark.parametrize("driven_by", ["people", "sun"])
def test_beside_a_companion_a_clock_left_on_winter_time_is_found(driven_by: str) -> None:
    room = a_year(driven_by=driven_by)
    frame = a_year(driven_by=driven_by, lag_hours=1.2, swing_kelvin=0.7)
    finding = beside_companion(shifted_in_summer(frame, -1), room, stated=BERLIN, site_zone="Europe/Berlin")
    assert finding is not None
    assert finding.kind == "never changes"
    assert finding.hours == pytest.approx(-1.0, abs=0.15)
    assert finding.suggestion == 'State its clock as "+01:00" and read its files again.'
    assert finding.text.startswith("Beside the other logger its days come 1.0 h early in summer time")


def test_beside_a_companion_a_clock_that_does_change_is_found() -> None:
    finding = beside_companion(
        shifted_in_summer(a_year(), 1), a_year(seed=0), stated=WINTER, site_zone="Europe/Berlin"
    )
    assert finding is not None
    assert finding.kind == "follows summer time"
    assert finding.suggestion == 'State its clock as "Europe/Berlin" and read its files again.'


def test_where_the_companion_is_the_wrong_one_it_is_named() -> None:
    finding = beside_companion(a_year(), shifted_in_summer(a_year(), 1), stated=WINTER, site_zone="Europe/Berlin")
    assert finding is not None
    assert finding.suggestion.endswith("so the other logger's is the one to check.")


def test_two_loggers_of_one_room_an_hour_apart_are_found_and_a_frame_behind_its_room_is_not() -> None:
    room = a_year()
    late = room.with_columns(pl.col("time_utc") + pl.duration(hours=1))
    finding = beside_companion(late, room, stated=BERLIN, site_zone="Europe/Berlin", same_air=True)
    assert finding is not None
    assert (finding.kind, finding.hours) == ("apart", 1.0)
    assert "run 1 h behind those of the other logger in the same air" in finding.text
    assert beside_companion(late, room, stated=BERLIN, site_zone="Europe/Berlin") is None


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("driven_by", ["people", "sun"])
def test_clocks_that_are_right_are_left_alone(driven_by: str, seed: int) -> None:
    room = a_year(driven_by=driven_by, seed=seed)
    frame = a_year(driven_by=driven_by, lag_hours=1.0, swing_kelvin=0.5, seed=seed)
    stranger = a_year(driven_by="people", seed=seed + 100)
    for companion in (room, stranger):
        assert beside_companion(frame, companion, stated=BERLIN, site_zone="Europe/Berlin") is None
    for stated in (BERLIN, WINTER):
        assert alone(room, stated=stated, site_zone="Europe/Berlin") is None


def test_alone_a_clock_left_on_winter_time_shows_where_people_heat() -> None:
    finding = alone(shifted_in_summer(a_year(), -1), stated=BERLIN, site_zone="Europe/Berlin")
    assert finding is not None
    assert (finding.kind, finding.strength) == ("never changes", "strong")
    assert "move by 1 h on 2025-03-30 and 2025-10-26" in finding.text


def test_alone_nothing_is_claimed_where_the_sun_heats_or_nothing_moves() -> None:
    for table in (a_year(driven_by="sun"), a_year(swing_kelvin=0.02)):
        assert alone(shifted_in_summer(table, -1), stated=BERLIN, site_zone="Europe/Berlin") is None


def test_one_change_alone_is_weak_evidence_and_a_month_is_none() -> None:
    finding = alone(shifted_in_summer(a_year(days=200), -1), stated=BERLIN, site_zone="Europe/Berlin")
    assert finding is not None
    assert finding.strength == "weak"
    assert alone(a_year(days=30), stated=BERLIN, site_zone="Europe/Berlin") is None
    assert beside_companion(a_year(days=10), a_year(days=10), stated=BERLIN, site_zone="Europe/Berlin") is None
