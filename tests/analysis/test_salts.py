"""Salt fixed points against Greenspan's table and an independent table of the conservation trade."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from isohume.analysis.salts import salt_point, salts

POINTS = pd.read_csv(Path(__file__).parents[1] / "reference" / "salt_fixed_points.csv", comment="#")


def test_points_match_greenspan_where_verified() -> None:
    verified = POINTS[POINTS["rh_status"] == "verified"]
    assert len(verified) > 50
    for row in verified.itertuples():
        point = salt_point(row.salt.rsplit(" ", 1)[0], float(row.temperature_c))
        # The printed table is truncated, not rounded, to 0.01: the polynomial lies up to 0.01 above it.
        assert point.rh_percent == pytest.approx(row.rh_percent_greenspan_table, abs=0.011)
        assert point.uncertainty_percent == row.expanded_uncertainty_percent_rh
        assert point.status == "verified"


def test_points_match_the_table_of_padfield_but_for_its_one_slip() -> None:
    # T. Padfield's table, printed to 0.1; it gives sodium chloride 75.7 at 20 °C between 75.6 and 75.3: a slip.
    for row in POINTS.dropna(subset="rh_padfield_table").itertuples():
        if (row.salt, row.temperature_c) != ("Sodium chloride NaCl", 20):
            point = salt_point(row.salt.rsplit(" ", 1)[0], float(row.temperature_c))
            assert point.rh_percent == pytest.approx(row.rh_padfield_table, abs=0.065)


def test_wexler_form_agrees_within_its_own_two_percent() -> None:
    # CRC Handbook of Chemistry and Physics, section 15: RH = A·exp(B/T), ±2 %RH; potassium chloride at 25 °C 84.2.
    for salt, percent in (("KCl", 84.2), ("MgCl2", 32.8), ("NaCl", 75.3)):
        assert salt_point(salt, 25.0).rh_percent == pytest.approx(percent, abs=2)


def test_between_the_steps_and_by_any_name() -> None:
    bromide = salt_point("Sodium bromide", 22.5)
    assert bromide.rh_percent == pytest.approx((59.14 + 57.57) / 2)
    assert salt_point("nabr", 22.5) == bromide
    assert len(salts()) == 9
    assert salts()[0] == "Lithium chloride"


def test_refuses_what_is_not_tabulated() -> None:
    with pytest.raises(ValueError, match="Choose one of: Lithium chloride"):
        salt_point("Calcium nitrate", 20.0)
    with pytest.raises(ValueError, match="from 10 to 30"):
        salt_point("Potassium acetate", 5.0)
