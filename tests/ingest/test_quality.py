"""Faults put into an invented record are found; a sound record, however calm, is not accused."""

from __future__ import annotations

import dataclasses

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.flags import FLAG_TABLE, Flag, flag_counts
from isohume.ingest.quality import flag_readings
from isohume.ingest.quality_limits import QualityLimits

HOURS_PER_YEAR = 8766
ACCUSING = [
    Flag.RH_STUCK,
    Flag.TEMPERATURE_STUCK,
    Flag.RH_SPIKE,
    Flag.TEMPERATURE_SPIKE,
    Flag.RH_OUTLIER,
    Flag.SETTLING,
]


def a_table(rh: np.ndarray, temperature: np.ndarray, *, step_s: int = 3600, channel: str = "inside") -> pl.DataFrame:
    times_us = (1_735_689_600 + np.arange(rh.size) * step_s) * 1_000_000  # from 2025-01-01T00:00Z
    return pl.DataFrame(
        {
            "time_utc": pl.Series(times_us).cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
            "channel": [channel] * rh.size,
            "rh_percent": rh.astype(float),
            "temperature_celsius": temperature.astype(float),
            "flags": np.zeros(rh.size, dtype=np.uint32),
        }
    )


def room_and_frame(
    *, days: int = 120, step_s: int = 3600, half_time_days: float = 60.0, seed: int = 0, swing_kelvin: float = 1.5
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return room RH, frame RH and temperature: weather, heating and a low-pass frame that answers temperature."""
    rng = np.random.default_rng(seed)
    n = days * 86_400 // step_s
    hours = np.arange(n) * step_s / 3600
    day = np.sin(2 * np.pi * (hours - 9) / 24)
    weather = np.convolve(rng.normal(0, 1, n + 47), np.ones(48) / 48**0.5, "valid")
    temperature = 20 + swing_kelvin * day + 0.5 * weather
    room = 45 + 8 * np.sin(2 * np.pi * hours / HOURS_PER_YEAR) - 2 * day + 3 * weather
    share = 1 - 0.5 ** (step_s / 86_400 / half_time_days)
    frame = np.empty(n)
    frame[0] = 50.0
    for k in range(1, n):
        frame[k] = frame[k - 1] + share * (room[k] - frame[k - 1])
    frame += 0.3 * (temperature - 20)
    return (
        room + rng.normal(0, 0.1, n),
        frame + rng.normal(0, 0.05, n),
        np.round(temperature + rng.normal(0, 0.03, n), 1),
    )


def at_digit(values: np.ndarray, digit: float) -> np.ndarray:
    return np.round(values / digit) * digit


def rows_with(table: pl.DataFrame, flag: Flag) -> list[int]:
    return np.flatnonzero(flag_readings(table)["flags"].to_numpy() & flag.value).tolist()


@pytest.mark.parametrize("digit", [0.01, 0.1, 0.5, 1.0])
@pytest.mark.parametrize("swing_kelvin", [0.05, 1.5])
@pytest.mark.parametrize("half_time_days", [5.0, 400.0])
def test_a_tight_frame_is_calm_and_not_accused(digit: float, swing_kelvin: float, half_time_days: float) -> None:
    for seed in range(3):
        _, frame, temperature = room_and_frame(half_time_days=half_time_days, swing_kelvin=swing_kelvin, seed=seed)
        flagged = flag_readings(a_table(at_digit(frame, digit), temperature))
        counts = flag_counts(flagged["flags"])
        assert not {FLAG_TABLE[flag].name for flag in ACCUSING} & set(counts), counts


def test_a_frame_in_a_dead_calm_store_may_show_one_number_for_a_month() -> None:
    rng = np.random.default_rng(3)
    hours = np.arange(40 * 24)
    temperature = np.round(15 + 0.3 * np.sin(2 * np.pi * hours / 700) + rng.normal(0, 0.02, hours.size), 1)
    counts = flag_counts(flag_readings(a_table(np.full(hours.size, 50.5), temperature))["flags"])
    assert counts == {}


@pytest.mark.parametrize("digit", [0.1, 0.5])
def test_a_room_sensor_that_stands_still_for_two_days_is_stuck(digit: float) -> None:
    room, _, temperature = room_and_frame(days=60)
    room = at_digit(room, digit)
    room[500:548] = room[500]
    assert rows_with(a_table(room, temperature), Flag.RH_STUCK) == list(range(500, 548))


def test_a_frame_sensor_that_stands_still_while_the_temperature_swings_is_stuck() -> None:
    _, frame, temperature = room_and_frame(days=60)
    frame = at_digit(frame, 0.1)
    frame[300:420] = frame[300]
    stuck = rows_with(a_table(frame, temperature), Flag.RH_STUCK)
    assert set(range(300, 420)) <= set(stuck)
    assert len(stuck) <= 124  # a neighbour that happens to show the same number cannot be told apart


def test_a_stuck_sensor_is_found_at_five_minutes_too() -> None:
    room, _, temperature = room_and_frame(days=30, step_s=300)
    room = at_digit(room, 0.1)
    room[4000:4600] = 44.4
    stuck = rows_with(a_table(room, temperature, step_s=300), Flag.RH_STUCK)
    assert set(range(4000, 4600)) <= set(stuck)


def test_a_temperature_that_stands_still_while_the_room_moves_is_stuck() -> None:
    room, _, temperature = room_and_frame(days=60)
    temperature[700:760] = 20.3
    table = a_table(at_digit(room, 0.1), temperature)
    assert set(range(700, 760)) <= set(rows_with(table, Flag.TEMPERATURE_STUCK))
    assert rows_with(table, Flag.RH_STUCK) == []


def test_a_logger_that_repeats_one_reading_for_weeks_is_stuck_in_both() -> None:
    room, _, temperature = room_and_frame(days=60)
    room = at_digit(room, 0.1)
    room[200:600], temperature[200:600] = 47.7, 20.2
    flags = flag_readings(a_table(room, temperature))["flags"].to_numpy()
    both = Flag.RH_STUCK.value | Flag.TEMPERATURE_STUCK.value
    assert (flags[200:600] & both == both).all()


def test_a_wet_sensor_at_its_end_is_saturated_and_not_stuck() -> None:
    room, _, temperature = room_and_frame(days=60)
    room = at_digit(room, 0.1)
    room[500:700] = 100.0
    table = a_table(room, temperature)
    assert rows_with(table, Flag.RH_SATURATED_DAMP) == list(range(500, 700))
    assert rows_with(table, Flag.RH_STUCK) == []


@pytest.mark.parametrize(
    ("value", "names"),
    [
        (99.0, {"rh saturated damp"}),
        (101.0, {"rh saturated damp"}),
        (104.0, {"rh saturated damp", "rh impossible"}),
        (1.0, {"rh saturated dry"}),
        (-5.0, {"rh saturated dry", "rh impossible"}),
    ],
)
def test_ends_of_the_scale(value: float, names: set[str]) -> None:
    counts = flag_counts(flag_readings(a_table(np.full(10, value), np.full(10, 20.0)))["flags"])
    assert set(counts) == names


def test_a_value_outside_what_the_logger_is_made_for() -> None:
    limits = QualityLimits()
    limits = dataclasses.replace(limits, rh=dataclasses.replace(limits.rh, logger_range=(10.0, 90.0)))
    table = a_table(np.array([50.0, 92.0, 93.0, 92.0, 50.0]), np.full(5, 20.0))
    flags = flag_readings(table, limits=limits)["flags"].to_numpy()
    assert np.flatnonzero(flags & Flag.RH_OUTSIDE_LOGGER_RANGE.value).tolist() == [1, 2, 3]


@pytest.mark.parametrize("height", [12.0, -12.0, 6.0])
def test_a_single_reading_away_from_a_calm_record_is_a_spike(height: float) -> None:
    _, frame, temperature = room_and_frame(days=30)
    frame = at_digit(frame, 0.1)
    frame[200] += height
    assert rows_with(a_table(frame, temperature), Flag.RH_SPIKE) == [200]


def test_an_opened_frame_is_a_step_and_no_spike() -> None:
    _, frame, temperature = room_and_frame(days=10, step_s=600)
    frame[700:720] -= 9.0  # open for three hours
    table = a_table(at_digit(frame, 0.1), temperature, step_s=600)
    assert rows_with(table, Flag.RH_SPIKE) == []
    assert rows_with(table, Flag.RH_STEP) == [700, 720]


def test_a_logger_warm_from_the_hand_is_settling() -> None:
    minutes = np.arange(288) * 5
    rng = np.random.default_rng(5)
    warmth = 6 * np.exp(-minutes / 20)
    temperature = np.round(20 + warmth + rng.normal(0, 0.03, 288), 1)
    rh = np.round(50 - 2.2 * warmth + rng.normal(0, 0.1, 288), 1)
    settling = rows_with(a_table(rh, temperature, step_s=300), Flag.SETTLING)
    # 6 K fall to 15 % of the way, 0.9 K, after 20 min · ln(1 / 0.15) = 38 min: the first eight readings.
    assert settling[0] == 0
    assert settling == list(range(len(settling)))
    assert 7 <= len(settling) <= 9


def test_a_warm_afternoon_is_no_settling() -> None:
    for seed in range(5):
        room, _, temperature = room_and_frame(days=5, step_s=300, swing_kelvin=4.0, seed=seed)
        assert rows_with(a_table(room, temperature, step_s=300), Flag.SETTLING) == []


def test_a_gap_is_marked_where_readings_resume() -> None:
    room, _, temperature = room_and_frame(days=10)
    table = a_table(room, temperature)
    kept = pl.concat([table[:100], table[104:]])
    assert rows_with(kept, Flag.GAP_BEFORE) == [100]
    # Three steps of an hour are bridged, so a single missing hour is no gap.
    assert rows_with(pl.concat([table[:100], table[101:]]), Flag.GAP_BEFORE) == []


def test_an_isolated_value_is_not_evaluated_and_its_companion_is() -> None:
    room, _, temperature = room_and_frame(days=10)
    room[80:100] = np.nan
    room[90] = 45.0
    flagged = flag_readings(a_table(room, temperature))
    assert np.flatnonzero(flagged["flags"].to_numpy() & Flag.RH_NOT_EVALUATED.value).tolist() == [90]
    assert "temperature not evaluated" not in flag_counts(flagged["flags"])


def test_a_series_of_two_is_not_evaluated() -> None:
    flags = flag_readings(a_table(np.array([50.0, 51.0]), np.array([20.0, 20.1])))["flags"].to_numpy()
    expected = Flag.RH_NOT_EVALUATED.value | Flag.TEMPERATURE_NOT_EVALUATED.value
    assert flags.tolist() == [expected, expected]


def test_a_missing_temperature_or_humidity_gets_no_flag() -> None:
    room, _, _ = room_and_frame(days=10)
    table = a_table(room, np.full(room.size, np.nan))
    assert flag_counts(flag_readings(table)["flags"]) == {}
    assert flag_readings(table.clear()).is_empty()


def test_flags_already_there_stay() -> None:
    table = a_table(np.full(10, 50.0), np.full(10, 20.0))
    table = table.with_columns(flags=pl.lit(Flag.OUTSIDE_PLACEMENT.value, dtype=pl.UInt32))
    assert flag_counts(flag_readings(table)["flags"]) == {"outside placement": 10}


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_neither_the_order_of_rows_nor_of_channels_changes_a_flag(data: st.DataObject) -> None:
    rng = np.random.default_rng(data.draw(st.integers(0, 10)))
    n = 60
    channels = []
    for name in ("inside", "room"):
        rh = np.round(50 + rng.normal(0, 0.3, n), 1)
        rh[data.draw(st.integers(0, n - 1))] += data.draw(st.sampled_from([0.0, 7.0, 30.0, 80.0, np.nan]))
        channels.append(a_table(rh, np.round(20 + rng.normal(0, 0.1, n), 1), channel=name))
    whole = pl.concat([flag_readings(channel) for channel in channels])
    order = data.draw(st.permutations(range(whole.height)))
    shuffled = flag_readings(pl.concat(channels)[list(order)])
    assert shuffled["flags"].to_list() == whole["flags"][list(order)].to_list()
    assert shuffled.drop("flags").equals(whole.drop("flags")[list(order)], null_equal=True)
