"""The moisture scale: where it equals RH, that it turns back, and its slope against the handbook's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isohume.analysis.exchange.moisture_scale import MoistureScale

POINTS = pd.read_csv(Path(__file__).parents[2] / "reference" / "emc_equation_points.csv", comment="#")
SCALE = MoistureScale(20.0)


def test_it_equals_rh_at_both_ends_of_half_a_step() -> None:
    assert SCALE.from_rh(np.array([45.0, 50.0]), 20.0) == pytest.approx([45.0, 50.0])


@given(st.floats(6.0, 94.0), st.floats(0.0, 35.0))
def test_it_turns_back(rh_percent: float, celsius: float) -> None:
    # 0.05 %RH: the table of the way back is linear between its nodes; a logger's last digit is 0.1.
    assert SCALE.to_rh(SCALE.from_rh(rh_percent, celsius), celsius) == pytest.approx(rh_percent, abs=0.05)


def test_ratios_of_slopes_are_those_of_the_handbook_equation() -> None:
    at_20 = POINTS[POINTS["temperature_c"] == 20].set_index("rh_percent")["slope_emc_per_rh"]
    middle = float(SCALE.slope(50.0, 20.0)) / at_20[50]
    for rh_percent in (30, 40, 60, 70, 80):
        # The table gives three to four digits.
        assert float(SCALE.slope(rh_percent, 20.0)) / middle == pytest.approx(at_20[rh_percent], rel=5e-3)


def test_warming_at_constant_moisture_raises_rh_as_the_handbook_equation_has_it() -> None:
    row = POINTS[(POINTS["temperature_c"] == 20) & (POINTS["rh_percent"] == 50)].iloc[0]
    assert SCALE.warming_response(50.0) == pytest.approx(row["rh_change_for_plus_1K_at_constant_emc"], rel=0.03)


def test_missing_stays_missing() -> None:
    assert np.isnan(SCALE.from_rh(np.array([np.nan]), 20.0)).all()
