"""Moist air against ASHRAE's table, IAPWS-IF97, Sonntag (1990), PsychroLib and the properties of nature."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isohume.analysis.psychrometrics import (
    absolute_humidity_g_per_m3,
    dew_point_celsius,
    dew_point_from_vapour_pressure,
    mixing_ratio_g_per_kg,
    rh_at_temperature,
    rh_from_dew_point,
    saturation_concentration_g_per_m3,
    saturation_vapour_pressure_pa,
    vapour_pressure_pa,
)

REFERENCE = Path(__file__).parents[1] / "reference"
SATURATION = pd.read_csv(REFERENCE / "saturation_pressure.csv", comment="#")
POINTS = pd.read_csv(REFERENCE / "psychrometric_points.csv", comment="#")
temperatures = st.floats(-40.0, 60.0)
humidities = st.floats(1.0, 100.0)


def test_saturation_pressure_matches_ashrae_table_3() -> None:
    table = SATURATION.dropna(subset="psat_ashrae2017_table3_pa")
    assert len(table) >= 2
    computed = saturation_vapour_pressure_pa(table["temperature_c"].to_numpy(float))
    # 300 ppm: the tolerance within which ASHRAE's table (formulation of 2009) agrees with the equation it replaced.
    np.testing.assert_allclose(computed, table["psat_ashrae2017_table3_pa"], rtol=3e-4)


@pytest.mark.parametrize(
    ("column", "relative"),
    [
        ("psat_hyland_wexler_water_pa", 1e-5),  # the same equation, printed to 0.01 Pa
        ("psat_coolprop_8_0_0_pa", 3e-4),
        ("psat_iapws97_1_5_5_pa", 3e-4),
        ("psat_sonntag1990_pa", 3e-4),
        ("psat_wmo_magnus_pa", 4e-3),  # the Magnus form is 0.27 % low at 20 °C
    ],
)
def test_saturation_pressure_agrees_with_other_formulations(column: str, relative: float) -> None:
    table = SATURATION.dropna(subset=column)
    table = table[table["temperature_c"].between(0, 50)]
    computed = saturation_vapour_pressure_pa(table["temperature_c"].to_numpy(float))
    np.testing.assert_allclose(computed, table[column], rtol=relative)


def test_saturation_pressure_over_supercooled_water_follows_sonntag() -> None:
    # Sonntag (1990), ITS-90, over water from -100 °C: p = exp(-6096.9385/T + 21.2409642 - 2.711193e-2·T + ...)
    celsius = np.linspace(-40, 0, 21)
    kelvin = celsius + 273.15
    sonntag = np.exp(
        -6096.9385 / kelvin + 21.2409642 - 2.711193e-2 * kelvin + 1.673952e-5 * kelvin**2 + 2.433502 * np.log(kelvin)
    )
    np.testing.assert_allclose(saturation_vapour_pressure_pa(celsius), sonntag, rtol=1e-3)


def test_everything_agrees_with_psychrolib_above_freezing() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    for celsius in (0.5, 5.0, 12.5, 20.0, 27.5, 40.0):
        # PsychroLib turns to ice at 0.01 °C, so its dew points are compared where they lie above.
        assert saturation_vapour_pressure_pa(celsius) == pytest.approx(psychrolib.GetSatVapPres(celsius), rel=1e-9)
        for percent in (30.0, 50.0, 75.0, 99.0):
            expected = psychrolib.GetTDewPointFromRelHum(celsius, percent / 100)
            if expected > 0.02:
                assert dew_point_celsius(percent, celsius) == pytest.approx(expected, abs=2e-3)  # its own tolerance
                back = 100 * psychrolib.GetRelHumFromTDewPoint(celsius, expected)
                assert rh_from_dew_point(expected, celsius) == pytest.approx(back, rel=1e-6)
            ratio = psychrolib.GetHumRatioFromRelHum(celsius, percent / 100, 101325.0)
            assert mixing_ratio_g_per_kg(percent, celsius) == pytest.approx(1000 * ratio, rel=1e-6)


def test_dew_point_matches_published_points() -> None:
    above = POINTS[POINTS["dewpoint_psychrolib_c"] > 0.02]
    dew = dew_point_celsius(above["rh_percent"].to_numpy(float), above["temperature_c"].to_numpy(float))
    np.testing.assert_allclose(dew, above["dewpoint_psychrolib_c"], atol=2e-3)  # printed to 0.001
    np.testing.assert_allclose(dew, above["dewpoint_coolprop_c"], atol=0.012)  # CoolProp: real gas
    dew = dew_point_celsius(POINTS["rh_percent"].to_numpy(float), POINTS["temperature_c"].to_numpy(float))
    np.testing.assert_allclose(dew, POINTS["dewpoint_wmo_magnus_c"], atol=0.05)  # over water below 0 °C too


def test_vapour_content_matches_published_points() -> None:
    percent, celsius = POINTS["rh_percent"].to_numpy(float), POINTS["temperature_c"].to_numpy(float)
    np.testing.assert_allclose(vapour_pressure_pa(percent, celsius), POINTS["vapour_pressure_hw_pa"], rtol=2e-5)
    expected = POINTS["absolute_humidity_ideal_gas_g_m3"]
    np.testing.assert_allclose(absolute_humidity_g_per_m3(percent, celsius), expected, rtol=5e-5)
    expected = POINTS["humidity_ratio_psychrolib_g_kg"]
    np.testing.assert_allclose(mixing_ratio_g_per_kg(percent, celsius), expected, rtol=5e-5)


def test_saturation_concentration_matches_the_table() -> None:
    table = SATURATION[SATURATION["temperature_c"].between(0, 50)].dropna(
        subset="vapour_conc_saturated_ideal_gas_g_m3"
    )
    computed = saturation_concentration_g_per_m3(table["temperature_c"].to_numpy(float))
    np.testing.assert_allclose(computed, table["vapour_conc_saturated_ideal_gas_g_m3"], rtol=2e-4)


def test_a_sensor_half_a_kelvin_too_warm_reads_one_and_a_half_percent_too_dry() -> None:
    # Computed beside the published tables: +0.5 K at 20 °C and 50 % is -1.5 %RH, +1 K is -3.0 %RH.
    assert rh_at_temperature(50.0, 20.0, 20.5) - 50 == pytest.approx(-1.5, abs=0.05)
    assert rh_at_temperature(50.0, 20.0, 21.0) - 50 == pytest.approx(-3.0, abs=0.05)


def test_numbers_arrays_and_series_give_the_same_and_keep_their_kind() -> None:
    index = pd.date_range("2025-01-01", periods=3, freq="h", tz="UTC")
    percent = pd.Series([50.0, np.nan, 0.0], index=index)
    celsius = pd.Series([20.0, 20.0, 20.0], index=index)
    series = dew_point_celsius(percent, celsius)
    assert isinstance(series, pd.Series)
    assert series.index.equals(index)
    assert series.iloc[0] == dew_point_celsius(50.0, 20.0) == dew_point_celsius(np.array([50.0]), 20.0)[0]
    assert series.isna().tolist() == [False, True, True]  # dry air has no dew point


@given(temperatures)
def test_dew_point_inverts_saturation(celsius: float) -> None:
    assert dew_point_from_vapour_pressure(saturation_vapour_pressure_pa(celsius)) == pytest.approx(celsius, abs=1e-9)


@given(humidities, temperatures)
def test_dew_point_lies_at_or_below_the_air_and_leads_back(percent: float, celsius: float) -> None:
    dew = dew_point_celsius(percent, celsius)
    assert dew <= celsius + 1e-9
    assert rh_from_dew_point(dew, celsius) == pytest.approx(percent, rel=1e-9)


@given(humidities, temperatures, temperatures)
def test_bringing_air_to_a_temperature_and_back_changes_nothing(percent: float, here: float, there: float) -> None:
    moved = rh_at_temperature(percent, here, there)
    assert rh_at_temperature(moved, there, here) == pytest.approx(percent, rel=1e-9)
    assert (moved > percent) == (there < here) or here == pytest.approx(there, abs=1e-9)
