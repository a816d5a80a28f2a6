from __future__ import annotations

from dataclasses import replace

import pytest

from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.frame import Construction, FrameFacts, Panel
from isohume.analysis.known_half_time import half_time_from_construction

BUILT = Construction(air_volume_litres=3.0, air_exchange_per_day=0.3, board_kg=0.4, glazing="laminated glass")
BOARD_ONLY = FrameFacts(construction=BUILT)


def days(frame: FrameFacts) -> float:
    found = half_time_from_construction(frame)
    assert isinstance(found, KnownHalfTime)
    assert found.source == "construction"
    return found.days


def test_thomsons_relation_for_board_in_still_air() -> None:
    # t½ = 4·M·B/N, Thomson (1977): M = 1.05 g/kg per %RH, B = 0.4 kg in 3 L = 133 kg/m³, N = 0.3 a day.
    assert days(BOARD_ONLY) == pytest.approx(4 * 1.05 * (0.4 / 0.003) / 0.3, rel=0.01)


def test_a_panel_that_keeps_up_counts_with_its_dry_mass() -> None:
    panel = Panel(mass_kg=0.9, thickness_mm=5.0)
    # 0.9 kg as weighed hold 9.27 % of moisture at 50 %RH (Wood Handbook Eq. 4-5): 0.824 kg dry, 1.61 g/kg per %RH.
    capacity = 1.05 * 0.4 + 1.61 * 0.9 / 1.0927
    assert days(replace(BOARD_ONLY, panel=panel)) == pytest.approx(4 * capacity / 0.003 / 0.3, rel=0.01)


def test_a_frame_faster_than_its_panel_is_refused() -> None:
    quick = replace(BUILT, air_exchange_per_day=60.0)
    thick = Panel(mass_kg=0.9, thickness_mm=25.0)
    found = half_time_from_construction(FrameFacts(construction=quick, panel=thick))
    assert isinstance(found, str)
    assert "core lags" in found
    assert days(FrameFacts(construction=quick, panel=replace(thick, thickness_mm=1.0))) > 0


def test_glazing_that_lets_vapour_through_shortens_it() -> None:
    panel = Panel(mass_kg=0.9, thickness_mm=5.0, width_mm=400.0, height_mm=500.0)
    glass = FrameFacts(construction=BUILT, panel=panel)
    acrylic = replace(glass, construction=replace(BUILT, glazing="acrylic sheet"))
    assert days(acrylic) < days(glass)
    assert days(replace(glass, construction=replace(BUILT, glazing="something else"))) == days(glass)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"air_volume_litres": None}, "air volume"),
        ({"air_exchange_per_day": None}, "air exchange"),
        ({"board_kg": None}, "mass of the board"),
    ],
)
def test_what_is_missing_is_said(change: dict[str, None], said: str) -> None:
    found = half_time_from_construction(FrameFacts(construction=replace(BUILT, **change)))
    assert isinstance(found, str)
    assert said in found
