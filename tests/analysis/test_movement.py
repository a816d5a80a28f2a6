"""Movement of wood against the handbook's worked example, its two equations against each other, and Crank's plate."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isohume.analysis.movement import (
    cross_grain_movement_mm,
    cross_grain_strain,
    find_species,
    sheet_movement,
    wood_species,
)
from isohume.analysis.plate import first_order_response, plate_step_response, plate_time_constant
from isohume.analysis.sorption import emc_percent

FIR = wood_species()["Fir, white"]
OAK = wood_species()["Oak, white (Quercus alba)"]


def test_worked_example_of_the_wood_handbook() -> None:
    # Wood Handbook ch. 13: a flat-sawn board of white fir, 232 mm, goes from 8 to 11 % MC and widens by 1.7 mm.
    # The width and the change are verified, the species and the 8 % from memory.
    change = cross_grain_movement_mm(232, 8, 11, species=FIR, cut="flat-sawn")
    assert change == pytest.approx(1.7, abs=0.05)
    assert change == pytest.approx(1.705, abs=5e-4)  # Eq. 13-2 in full digits
    assert round(232 + change, 1) == 233.7
    assert FIR.coefficient("quarter-sawn") == 0.00112  # for the same board's thickness


def test_equation_13_3_continues_equation_13_2() -> None:
    # Computed beside the table: with S_T = 7.0 the worked example gives 1.712 mm by Eq. 13-3.
    by_shrinkage = 232 * 3 / (30 * 100 / 7.0 - 30 + 8)
    assert by_shrinkage == pytest.approx(1.712, abs=1e-3)
    low = cross_grain_strain(5.999, 11, species=FIR, cut="flat-sawn")  # Eq. 13-3
    high = cross_grain_strain(6.001, 11, species=FIR, cut="flat-sawn")  # Eq. 13-2
    assert low == pytest.approx(high, rel=0.02)


def test_movements_of_panel_woods_at_20_degrees() -> None:
    # Computed beside the tables, Eq. 4-5 and C: 500 mm, from one RH to another.
    cases = [
        ("Oak, white (Quercus alba)", "flat-sawn", 40, 60, 5.981),
        ("Oak, white (Quercus alba)", "flat-sawn", 50, 40, -2.826),
        ("Oak, white (Quercus alba)", "quarter-sawn", 40, 60, 2.950),
        ("Cottonwood, eastern", "flat-sawn", 40, 60, 5.359),
        ("Basswood, American (lime proxy)", "flat-sawn", 40, 60, 5.408),
    ]
    for name, cut, start, end, expected in cases:
        contents = emc_percent(np.array([start, end], float), 20.0)
        movement = cross_grain_movement_mm(500, *contents, species=wood_species()[name], cut=cut)
        assert movement == pytest.approx(expected, abs=1e-3)


def test_every_coefficient_follows_from_its_shrinkage_or_says_that_it_does_not() -> None:
    # C = 1/(3000/S - 20) reproduces the table within 1 % (rounding) for most; the known exceptions are said.
    silent = 0
    for species in wood_species().values():
        for cut in ("flat-sawn", "quarter-sawn"):
            ratio = species.coefficient_from_shrinkage(cut) / species.coefficient(cut)
            assert bool(species.disagreement(cut)) == (abs(ratio - 1) > 0.1)
            silent += abs(ratio - 1) < 0.01
    assert silent > 100
    assert len(wood_species()) == 61
    mahogany = wood_species()["Mahogany, true (American)"].disagreement("flat-sawn")
    assert "41 % less" in mahogany  # 0.00141 against 0.00238


def test_species_are_found_by_either_name_but_never_guessed() -> None:
    assert find_species("oak, WHITE (quercus alba)") is OAK
    assert find_species("Abies concolor") is FIR
    assert find_species("oak") is None
    assert find_species("Quercus spp.") is find_species("Oak, white (panel-painting list)")


@given(st.floats(0, 30), st.floats(0, 30))
def test_wetter_wood_is_wider(one: float, other: float) -> None:
    strain = cross_grain_strain(one, other, species=OAK, cut="flat-sawn")
    assert np.sign(strain) == np.sign(other - one) or abs(other - one) < 1e-300
    radial = cross_grain_strain(one, other, species=OAK, cut="quarter-sawn")
    assert abs(radial) <= abs(strain)


def test_refuses_wood_beyond_fibre_saturation() -> None:
    with pytest.raises(ValueError, match="between 0 and 30"):
        cross_grain_strain(10, 31, species=OAK, cut="flat-sawn")


def test_sheets_have_a_range_and_papers_none() -> None:
    hardboard = sheet_movement("Hardboard")
    assert hardboard is not None
    assert (60 * hardboard.low, 60 * hardboard.high) == pytest.approx((0.3, 0.6))  # % over 30-90 %RH
    assert hardboard.status == "memory"
    assert sheet_movement("canvas board") is None


@pytest.mark.parametrize(
    ("thickness_mm", "one_face_days", "two_face_days"),
    [(5, 1.17, 0.29), (10, 4.69, 1.17), (20, 18.8, 4.69), (30, 42.2, 10.6), (40, 75.1, 18.8)],
)
def test_time_constant_of_a_plate(thickness_mm: float, one_face_days: float, two_face_days: float) -> None:
    # Crank: τ = 4L²/(π²D) with one face sealed, L²/(π²D) with both open; D = 1e-10 m²/s (computed).
    day = pd.Timedelta(days=1)
    assert plate_time_constant(thickness_mm, faces_open=1) / day == pytest.approx(one_face_days, rel=5e-3)
    assert plate_time_constant(thickness_mm, faces_open=2) / day == pytest.approx(two_face_days, rel=0.011)


def test_step_response_of_a_plate_against_finite_differences() -> None:
    # One face sealed, 10 mm, D 1e-10: explicit finite differences of Fick's law, 80 cells, surface held at 1.
    n, length, diffusivity = 80, 0.010, 1e-10
    cell = length / n
    step = 0.4 * cell**2 / diffusivity
    moisture = np.zeros(n)
    checks, elapsed = {}, 0.0
    while elapsed < 10 * 86400:
        outer = np.concatenate(([2 - moisture[0]], moisture, [moisture[-1]]))
        moisture = moisture + 0.4 * np.diff(outer, 2)
        elapsed += step
        checks[elapsed / 86400] = moisture.mean()
    days = np.array(list(checks))[[20, 200, 2000, 10000, -1]]
    expected = np.array([checks[day] for day in days])
    np.testing.assert_allclose(plate_step_response(days, thickness_mm=10), expected, atol=3e-3)


def test_step_response_is_continuous_and_ends_with_its_slowest_mode() -> None:
    days = np.array([0.0, 0.2313, 0.2317, 1e3])
    share = plate_step_response(days, thickness_mm=10)
    assert share[0] == 0
    assert share[1] == pytest.approx(share[2], rel=2e-3)
    assert share[3] == pytest.approx(1)
    tau = plate_time_constant(10) / pd.Timedelta(days=1)
    late = 1 - plate_step_response(np.array([2 * tau, 3 * tau]), thickness_mm=10)
    assert late[0] / late[1] == pytest.approx(np.e, rel=1e-4)


def test_first_order_response_follows_a_step_and_waits_over_a_gap() -> None:
    hours = pd.date_range("2025-01-01", periods=240, freq="h", tz="UTC")
    step = pd.Series(np.full(240, 1.0), index=hours)
    response = first_order_response(step, pd.Timedelta(hours=48), start=0.0)
    assert response.iloc[47] == pytest.approx(1 - np.exp(-1))  # one time constant: 63.212 %
    assert response.iloc[239] == pytest.approx(1 - np.exp(-5))  # 99.326 %
    step.iloc[48:100] = np.nan
    waiting = first_order_response(step, pd.Timedelta(hours=48), start=0.0)
    assert waiting.iloc[48:100].isna().all()
    assert waiting.iloc[100] == pytest.approx(1 - np.exp(-49 / 48))
