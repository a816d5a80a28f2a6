"""Sorption against every verified cell of the Wood Handbook's Table 4-2, and the inverse against the equation."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isohume.analysis.sorption import emc_percent, emc_slope, rh_for_emc

REFERENCE = Path(__file__).parents[1] / "reference"
HANDBOOK = pd.read_csv(REFERENCE / "emc_wood_handbook.csv", comment="#")
EQUATION = pd.read_csv(REFERENCE / "emc_equation_points.csv", comment="#")
# The reproduction of Table 4-2 prints 3.0 here; the equation and all neighbours give 4.0.
TYPING_ERROR = (43.3, 20)


def test_emc_matches_every_verified_cell_of_table_4_2() -> None:
    cells = HANDBOOK[HANDBOOK["status"] == "verified"]
    typo = (cells["temperature_c"] == TYPING_ERROR[0]) & (cells["rh_percent"] == TYPING_ERROR[1])
    assert typo.sum() <= 1
    cells = cells[~typo]
    assert len(cells) >= 150
    # The table steps by 10 °F; its Celsius heads are rounded to 0.1.
    celsius = (cells["temperature_f"].to_numpy(float) - 32) / 1.8
    computed = emc_percent(cells["rh_percent"].to_numpy(float), celsius)
    # 0.06: half a unit of the last printed digit, and 0.01 by which the metric form departs from the Fahrenheit one.
    np.testing.assert_allclose(computed, cells["emc_percent"], atol=0.06)


def test_emc_and_slope_match_the_equation_points() -> None:
    percent, celsius = EQUATION["rh_percent"].to_numpy(float), EQUATION["temperature_c"].to_numpy(float)
    np.testing.assert_allclose(emc_percent(percent, celsius), EQUATION["emc_percent_eq45"], atol=6e-5)
    # The points' slope is a difference over 1 %RH.
    slope = emc_percent(percent + 0.5, celsius) - emc_percent(percent - 0.5, celsius)
    np.testing.assert_allclose(slope, EQUATION["slope_emc_per_rh"], atol=6e-5)
    np.testing.assert_allclose(emc_slope(percent, celsius), EQUATION["slope_emc_per_rh"], rtol=5e-4, atol=6e-5)


def test_metric_and_fahrenheit_forms_of_the_equation_agree() -> None:
    # Wood Handbook Eq. 4-5, coefficients for °F; agreement 0.013 % MC over 0-40 °C, computed beside the table.
    celsius, percent = (grid.ravel() for grid in np.meshgrid(np.linspace(0, 40, 9), np.linspace(5, 95, 19)))
    f, h = celsius * 1.8 + 32, percent / 100
    w, k = 330 + 0.452 * f + 0.00415 * f**2, 0.791 + 0.000463 * f - 0.000000844 * f**2
    k1, k2 = 6.34 + 0.000775 * f - 0.0000935 * f**2, 1.09 + 0.0284 * f - 0.0000904 * f**2
    bound = (k1 * k * h + 2 * k1 * k2 * (k * h) ** 2) / (1 + k1 * k * h + k1 * k2 * (k * h) ** 2)
    np.testing.assert_allclose(emc_percent(percent, celsius), 1800 / w * (k * h / (1 - k * h) + bound), atol=0.014)


@pytest.mark.parametrize(("percent", "slope"), [(30, 0.158), (40, 0.152), (50, 0.161), (60, 0.188), (80, 0.351)])
def test_slope_at_20_degrees_is_the_derivative(percent: float, slope: float) -> None:
    assert emc_slope(float(percent), 20.0) == pytest.approx(slope, abs=6e-4)  # computed, three digits
    difference = emc_percent(percent + 1e-4, 20.0) - emc_percent(percent - 1e-4, 20.0)
    assert emc_slope(float(percent), 20.0) == pytest.approx(difference / 2e-4, rel=1e-6)


@given(st.floats(0.0, 100.0), st.floats(-10.0, 50.0))
def test_the_inverse_leads_back(percent: float, celsius: float) -> None:
    assert rh_for_emc(emc_percent(percent, celsius), celsius) == pytest.approx(percent, abs=1e-6)


@given(st.floats(0.0, 99.0), st.floats(-10.0, 50.0))
def test_damper_air_means_damper_wood(percent: float, celsius: float) -> None:
    assert emc_percent(percent + 1, celsius) > emc_percent(percent, celsius)


def test_the_inverse_refuses_what_air_cannot_do() -> None:
    humidity = rh_for_emc(np.array([0.0, -0.1, 30.0, np.nan]), 20.0)  # 28.84 % at saturation, 20 °C
    assert humidity[0] == pytest.approx(0.0, abs=1e-9)
    assert np.isnan(humidity[1:]).all()
