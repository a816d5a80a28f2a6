"""The panel's finding: water by hand, movement against the tables, and silence where the facts are missing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.conditioning_water import WaterToMove, water_to_move
from isohume.analysis.frame import Construction, FrameFacts, Panel
from isohume.analysis.panel import panel
from isohume.analysis.readings import AirRecord
from isohume.analysis.sorption import emc_percent

OAK = Panel(
    species="Oak, white (Quercus alba)",
    cut="flat-sawn",
    width_mm=500,
    thickness_mm=10,
    mass_kg=1.5,
    faces_open=1,
)
FRAME = FrameFacts(conditioned_percent=50, panel=OAK, construction=Construction(board_kg=0.4, wood_lining_kg=0.0))
HOURS = np.arange(24 * 400)


def air(rh: np.ndarray, celsius: float = 20.0) -> AirRecord:
    index = pd.date_range("2024-01-01", periods=len(rh), freq="h", tz="UTC", name="time_utc")
    readings = pd.DataFrame({"rh_percent": rh, "temperature_celsius": celsius + 0 * rh}, index=index)
    return AirRecord(readings=readings, uncertainty_percent=2.0)


def year(swing: float, middle: float = 50.0) -> AirRecord:
    return air(middle + swing * np.cos(2 * np.pi * HOURS / 8766))


def test_slow_room_moves_the_panel_by_the_published_amount() -> None:
    # 40-60 %RH at 20 °C: 5.981 mm on 500 mm of flat-sawn white oak (Eq. 4-5 and Table 13-5, computed). A 10 mm panel
    # follows a year (τ 4.7 d, gain 0.997) nearly fully; the frame halves the swing.
    finding = panel(year(5), year(10), frame=FRAME)
    assert finding["movement_unframed_mm"] == pytest.approx(5.981, rel=0.01)
    contents = emc_percent(np.array([45.0, 55.0]), 20.0)
    assert finding["movement_framed_mm"] == pytest.approx(500 * 0.00365 * (contents[1] - contents[0]), rel=0.01)
    assert finding["strain_unframed_percent"] == pytest.approx(finding["movement_unframed_mm"] / 5)
    assert finding["yield_strain_percent"] == 0.4
    assert finding["time_through_thickness_days"] == pytest.approx(4.69, abs=0.01)
    assert finding["movement_period_days"] == pytest.approx(365, abs=1)


def test_a_thick_panel_hardly_feels_the_day() -> None:
    daily = air(50 + 10 * np.cos(2 * np.pi * HOURS / 24))
    thick = replace(FRAME, panel=replace(OAK, thickness_mm=30))
    finding = panel(air(np.full(HOURS.size, 50.0)), daily, frame=thick)
    # τ 42.2 d: gain of the day 1/(2π·42.2) = 0.00377, movement ±10 % × slope 0.161 × 0.00365 × 500 mm.
    assert finding["movement_unframed_mm"] == pytest.approx(20 * 0.161 * 0.00365 * 500 * 0.00377, rel=0.1)
    assert finding["movement_framed_mm"] == pytest.approx(0, abs=1e-9)


def test_moisture_contents_are_those_of_the_handbook() -> None:
    finding = panel(air(np.full(HOURS.size, 40.0)), air(np.full(HOURS.size, 60.0)), frame=FRAME)
    assert finding["emc_inside_now_percent"] == pytest.approx(7.722, abs=1e-3)  # 20 °C, equation points
    assert finding["emc_room_mean_percent"] == pytest.approx(11.000, abs=1e-3)
    assert finding["emc_conditioned_percent"] == pytest.approx(9.271, abs=1e-3)
    assert finding["movement_since_conditioning_mm"] == pytest.approx(-2.826, abs=1e-3)


def test_water_worked_by_hand() -> None:
    # 40 → 50 %RH at 20 °C, ±2: 8 to 12 %RH. Wood dry 1.5/1.07722 kg. At most all of the equation's change from 38 to
    # 50 %RH and board at 1.3 g/(kg·%); at least 1.2/1.61 of that from 42 to 50 %RH and board at 0.8.
    water = water_to_move(FRAME, rh_percent=40, target_percent=50, temperature_celsius=20, uncertainty_percent=2)
    assert isinstance(water, WaterToMove)
    dry = 1.5 / 1.07722
    emc_38, emc_42, emc_50 = emc_percent(np.array([38.0, 42.0, 50.0]), 20.0)
    assert water.high_g == pytest.approx(10 * dry * (emc_50 - emc_38) + 0.4 * 1.3 * 12, rel=1e-4)
    assert water.low_g == pytest.approx(10 * dry * (emc_50 - emc_42) * 1.2 / 1.61 + 0.4 * 0.8 * 8, rel=1e-4)
    assert water.direction == "add"
    damp = water_to_move(FRAME, rh_percent=60, target_percent=50, temperature_celsius=20, uncertainty_percent=2)
    assert isinstance(damp, WaterToMove)
    assert damp.direction == "take away"
    near = water_to_move(FRAME, rh_percent=49, target_percent=50, temperature_celsius=20, uncertainty_percent=2)
    assert isinstance(near, WaterToMove)
    assert (near.low_g, near.direction) == (0, "")


def test_water_never_goes_to_the_panel_and_needs_every_mass() -> None:
    dry = air(np.full(HOURS.size, 40.0))
    finding = panel(dry, dry, frame=FRAME)
    assert finding["water_direction"] == "add"
    assert 0 < finding["water_to_move_low_g"] < finding["water_to_move_high_g"]
    assert any("never to the panel" in note for note in finding["notes"])
    unknown = panel(dry, dry, frame=replace(FRAME, construction=Construction()))
    assert unknown["water_to_move_low_g"] is None
    assert "mass of the board and of the wood lining is not recorded" in unknown["why"]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"species": None}, "needs the species"),
        ({"cut": None}, "needs the species"),
        ({"species": "oak"}, '"oak" is not in the published table'),
        ({"thickness_mm": None}, "without the thickness"),
        ({"support": "canvas board"}, "no published figure for canvas board"),
    ],
)
def test_no_movement_without_the_facts(change: dict[str, Any], why: str) -> None:
    finding = panel(year(5), year(10), frame=replace(FRAME, panel=replace(OAK, **change)))
    assert finding["movement_framed_mm"] is None
    assert finding["strain_unframed_percent"] is None
    assert why in finding["why"]


def test_strain_without_width_and_no_movement_from_a_short_record() -> None:
    finding = panel(year(5), year(10), frame=replace(FRAME, panel=replace(OAK, width_mm=None)))
    assert finding["movement_framed_mm"] is None
    assert finding["strain_framed_percent"] > 0
    assert "width" in finding["why"]
    short = panel(air(np.full(300, 50.0)), air(np.full(300, 50.0)), frame=FRAME)
    assert short["movement_framed_mm"] is None
    assert "30 are needed" in short["why"]


def test_a_restrained_panel_is_never_reassured_and_conflicts_are_said() -> None:
    mahogany = replace(OAK, species="Mahogany, true (American)", restrained=True)
    finding = panel(year(1), year(10), frame=replace(FRAME, panel=mahogany))
    text = " ".join(finding["notes"])
    assert "no reassurance" in text
    assert "41 % less" in text
    assert "Sources conflict" in text


def test_hardboard_has_a_range() -> None:
    board = Panel(support="hardboard", width_mm=400, thickness_mm=4)
    finding = panel(year(5), year(10), frame=replace(FRAME, panel=board))
    assert finding["movement_framed_mm"] is None
    # 0.3-0.6 % over 60 %RH (from memory): 20 %RH on 400 mm is 0.4-0.8 mm.
    assert finding["movement_unframed_low_mm"] == pytest.approx(0.4, rel=0.01)
    assert finding["movement_unframed_high_mm"] == pytest.approx(0.8, rel=0.01)
    assert finding["movement_framed_high_mm"] == pytest.approx(0.4, rel=0.01)
    assert "no diffusion figure" in finding["why"]


def test_nothing_known_gives_nulls_with_reasons_and_no_nan() -> None:
    for inside, outside in ((None, None), (air(np.full(100, np.nan)), None), (None, year(10))):
        finding = panel(inside, outside, frame=FrameFacts())
        assert finding["why"]
        numbers = [value for value in finding.values() if isinstance(value, float)]
        assert np.isfinite(numbers).all()
        assert finding["movement_framed_mm"] is None
