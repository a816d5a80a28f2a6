"""A logger that lay on a desk before it was placed, or after, is noticed; the question is asked, and the rows stay."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.flags import Flag, flag_counts
from isohume.ingest.placement_edges import mark_outside_placement, placement_edges

START = datetime(2025, 9, 1, tzinfo=UTC)
BERLIN = ClockZone.parse("Europe/Berlin")


def desk_and_frame(
    *,
    step_minutes: int,
    before_hours: float,
    after_hours: float = 0,
    days: int = 60,
    colder_kelvin: float = 0,
    seed: int = 0,
) -> pl.DataFrame:
    """Return a record of a frame that begins and ends with the air of a desk in a heated office."""
    rng = np.random.default_rng(seed)
    n = days * 24 * 60 // step_minutes
    hours = np.arange(n) * step_minutes / 60
    day = np.sin(2 * np.pi * (hours - 9) / 24)
    n_weather = max(1, 48 * 60 // step_minutes)
    weather = np.convolve(rng.normal(0, 1, n + n_weather - 1), np.ones(n_weather) / n_weather**0.5, "valid")
    office = 45 - 2 * day + 3 * weather + rng.normal(0, 0.5, n)
    frame = 50 + 0.3 * (1.5 * day + 0.3 * weather) + rng.normal(0, 0.05, n)
    on_desk = (hours < before_hours) | (hours >= hours[-1] + step_minutes / 60 - after_hours)
    temperature = 20 + 1.5 * day + 0.3 * weather + rng.normal(0, 0.05, n) - np.where(on_desk, 0, colder_kelvin)
    return pl.DataFrame(
        {
            "time_utc": pl.datetime_range(
                START, START + timedelta(minutes=step_minutes) * (n - 1), timedelta(minutes=step_minutes),
                time_unit="us", time_zone="UTC", eager=True,
            ),
            "rh_percent": np.round(np.where(on_desk, office, frame), 1),
            "temperature_celsius": np.round(temperature, 1),
            "flags": np.zeros(n, dtype=np.uint32),
        }
    )  # fmt: skip


@pytest.mark.parametrize("step_minutes", [10, 60])
@pytest.mark.parametrize("before_hours", [20, 100, 240])
def test_days_on_a_desk_are_noticed(step_minutes: int, before_hours: float) -> None:
    for seed in range(3):
        edges = placement_edges(desk_and_frame(step_minutes=step_minutes, before_hours=before_hours, seed=seed))
        assert [edge.end for edge in edges] == ["in"]
        placed = START + timedelta(hours=before_hours)
        assert abs(edges[0].proposed - placed) <= timedelta(hours=2)


def test_a_logger_taken_out_before_read_out_is_noticed() -> None:
    table = desk_and_frame(step_minutes=10, before_hours=50, after_hours=30)
    edges = placement_edges(table)
    assert [edge.end for edge in edges] == ["in", "out"]
    assert abs(edges[1].proposed - (START + timedelta(days=60) - timedelta(hours=30))) <= timedelta(hours=2)
    assert edges[1].question(BERLIN).startswith("When did the logger come out? From 2025-10-29 ")


def test_a_walk_into_a_cold_store_is_seen_in_a_few_readings() -> None:
    table = desk_and_frame(step_minutes=60, before_hours=8, colder_kelvin=8)
    (edge,) = placement_edges(table)
    assert edge.proposed == START + timedelta(hours=8)
    assert "the temperature changes by" in edge.question(BERLIN)
    asked = "When did the logger go in? Before 2025-09-01 10:00 (Europe/Berlin) (8 readings) it seems to have lain "
    assert edge.question(BERLIN).startswith(asked)


@pytest.mark.parametrize("step_minutes", [10, 60])
def test_a_record_from_one_place_raises_no_question(step_minutes: int) -> None:
    for seed in range(8):
        inside = desk_and_frame(step_minutes=step_minutes, before_hours=0, seed=seed)
        office = desk_and_frame(step_minutes=step_minutes, before_hours=9999, seed=seed)
        assert placement_edges(inside) == ()
        assert placement_edges(office) == ()


def test_a_frame_opened_for_an_afternoon_raises_no_question() -> None:
    table = desk_and_frame(step_minutes=10, before_hours=0)
    rh = table["rh_percent"].to_numpy().copy()
    rh[600:620] -= 8
    assert placement_edges(table.with_columns(rh_percent=pl.Series(rh))) == ()


def test_a_few_readings_raise_no_question() -> None:
    table = desk_and_frame(step_minutes=60, before_hours=5)
    assert placement_edges(table.head(20)) == ()
    assert placement_edges(table.clear()) == ()


def test_rows_outside_the_placement_stay_and_are_flagged() -> None:
    table = desk_and_frame(step_minutes=60, before_hours=10)
    placed_from, placed_to = START + timedelta(hours=10), START + timedelta(days=59)
    marked = mark_outside_placement(table, placed_from=placed_from, placed_to=placed_to)
    assert marked.height == table.height
    assert flag_counts(marked["flags"]) == {"outside placement": 10 + 24}
    inside = marked.filter((pl.col("flags") & Flag.OUTSIDE_PLACEMENT.value) == 0)["time_utc"]
    assert (inside.min(), inside.max()) == (placed_from, placed_to - timedelta(hours=1))
    assert placement_edges(marked) == ()  # once answered, not asked again


def test_a_placement_that_cannot_be_is_refused() -> None:
    table = desk_and_frame(step_minutes=60, before_hours=10)
    with pytest.raises(ValueError, match="before it went in"):
        mark_outside_placement(table, placed_from=START + timedelta(days=1), placed_to=START)
    with pytest.raises(ValueError, match="needs a UTC offset"):
        mark_outside_placement(table, placed_from=datetime(2025, 9, 2))  # noqa: DTZ001 - that is the fault
