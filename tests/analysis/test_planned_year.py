from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.construction import Buffer, FrameDesign, design_half_time
from isohume.analysis.planned_year import board_for_winter_minimum, loosest_air_exchange, planned_year
from isohume.analysis.readings import AirRecord

DAYS = 365


def room(*, mean: float = 50.0, amplitude: float = 15.0, missing_days: int = 0) -> AirRecord:
    index = pd.date_range("2025-01-01", periods=DAYS * 24, freq="h", tz="UTC")
    phase = 2 * np.pi * np.arange(len(index)) / len(index)
    humidity = mean - amplitude * np.cos(phase)
    humidity[1000 : 1000 + 24 * missing_days] = np.nan
    readings = pd.DataFrame({"rh_percent": humidity, "temperature_celsius": 20.0}, index=index)
    return AirRecord(readings=readings)


def design(board_kg: float, exchange: float = 0.5) -> FrameDesign:
    board = Buffer(mass_kg=board_kg, capacity_g_per_kg_per_percent=1.2)
    return FrameDesign(air_volume_litres=5, air_exchange_per_day=exchange, buffers=(board,))


@pytest.mark.parametrize("board_kg", [0.05, 0.5, 5.0, 200.0])
def test_settled_year_has_the_gain_of_a_first_order_system(board_kg: float) -> None:
    year = planned_year(design(board_kg), room())
    found = design_half_time(design(board_kg))
    assert found.tau_days is not None
    gain = 1 / math.hypot(1, 2 * math.pi * found.tau_days / DAYS)  # 1/√(1+(ωτ)²)
    amplitude = (year.rh_percent.max() - year.rh_percent.min()) / 2
    # 2e-3: the room is held constant over each hour.
    assert amplitude == pytest.approx(15 * gain, rel=2e-3, abs=1e-3)
    assert year.rh_percent.mean() == pytest.approx(50, abs=0.01)


def test_first_year_starts_where_the_frame_was_conditioned() -> None:
    year = planned_year(design(200.0), room(mean=30), conditioned_percent=50)
    assert year.rh_percent.iloc[0] == pytest.approx(50, abs=0.1)
    assert planned_year(design(200.0), room(mean=30)).rh_percent.iloc[0] == pytest.approx(30, abs=1)


def test_board_for_a_winter_minimum_is_just_enough() -> None:
    wanted = 45.0
    board = board_for_winter_minimum(
        design(0.1, 5.0), room(), wanted_percent=wanted, capacity_g_per_kg_per_percent=1.2
    )
    assert board is not None
    assert board > 0
    lowest = planned_year(design(0.1 + board, 5.0), room()).lowest7d_percent
    assert lowest == pytest.approx(wanted, abs=0.01)


def test_no_board_lifts_a_frame_above_the_mean_of_its_room() -> None:
    dry = room(mean=38)
    assert board_for_winter_minimum(design(0.1), dry, wanted_percent=45, capacity_g_per_kg_per_percent=4) is None


def test_loosest_air_exchange_is_just_tight_enough() -> None:
    exchange = loosest_air_exchange(design(1.0), room(), wanted_percent=45)
    assert exchange is not None
    assert planned_year(design(1.0, exchange), room()).lowest7d_percent == pytest.approx(45, abs=0.01)


def test_a_room_with_a_long_gap_or_a_short_record_is_refused() -> None:
    with pytest.raises(ValueError, match=r"gap of 20 days"):
        planned_year(design(1.0), room(missing_days=20))
    short = room().readings.iloc[: 100 * 24]
    with pytest.raises(ValueError, match=r"covers 100 days"):
        planned_year(design(1.0), AirRecord(readings=short))
