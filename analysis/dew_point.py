"""Dew point inside and in the room, the margin to the coldest measured surface, hours of damp air."""

from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis.integrals import covered_hours, hours_above, hours_below, longest_hours_above
from isohume.analysis.psychrometrics import dew_point_celsius
from isohume.analysis.readings import AirRecord, bridge

# Above 65 %RH mould is encouraged (Yu, Klein & Reindl 2001, WAAC Newsletter 23:2); from about 75 % most species
# germinate (a public mould FAQ). Neither is a time to growth: that depends on temperature, material and duration.
DAMP_PERCENT, MOULD_PERCENT = 65.0, 75.0
# Design, definition 8: a margin under 2 K is counted.
MARGIN_KELVIN = 2.0
NO_SURFACE = (
    "Cannot say how far surfaces stay above the dew point: no surface temperature was measured. Glazing and an outer "
    "wall may be colder than the air."
)


def dew_point(
    inside: AirRecord | None, outside: AirRecord | None, *, surface_celsius: pd.Series[float] | None = None
) -> dict[str, Any]:
    """Describe dew point and damp.

    Parameters
    ----------
    inside, outside : AirRecord or None
        Air in the frame and in its room.
    surface_celsius : Series or None [°C]
        The coldest measured surface of the frame (glazing, back of the panel, wall); index UTC.

    Returns
    -------
    dict
        The last word of a key is its unit. Dew points are the newest ones and the highest of the record; hours are
        exact for the piecewise-linear record, of the hours covered that stand beside them. What is None has its reason
        in `why`.
    """
    whys = [f"There is no usable record {place}." for place, air in _places(inside, outside) if not _usable(air)]
    finding: dict[str, Any] = {}
    for place, air in (("inside", inside), ("room", outside)):
        dew = _dew_points(air)
        newest, highest = (None, None) if dew.empty else (dew.index[-1], dew.index[int(dew.argmax())])
        rh = None if air is None else air.rh_percent
        finding |= {
            f"dew_point_{place}_celsius": None if newest is None else float(dew.loc[newest]),
            f"dew_point_{place}_utc": newest,
            f"highest_dew_point_{place}_celsius": None if highest is None else float(dew.loc[highest]),
            f"highest_dew_point_{place}_utc": highest,
            f"{place}_covered_hours": None if rh is None else covered_hours(rh),
            f"{place}_above_65_percent_rh_hours": None if rh is None else hours_above(rh, DAMP_PERCENT),
            f"{place}_above_75_percent_rh_hours": None if rh is None else hours_above(rh, MOULD_PERCENT),
            f"{place}_longest_above_75_percent_rh_hours": (
                None if rh is None else longest_hours_above(rh, MOULD_PERCENT)
            ),
        }
    margin = None
    if inside is not None and surface_celsius is not None:
        margin = dew_point_margin(inside, surface_celsius)
    if margin is None or margin.isna().all():
        whys.append(NO_SURFACE)
        lowest = None
    else:
        lowest = margin.index[int(margin.argmin())]
    return finding | {
        "lowest_margin_kelvin": None if margin is None or lowest is None else float(margin.loc[lowest]),
        "lowest_margin_utc": lowest,
        "margin_below_2_kelvin_hours": None
        if margin is None or lowest is None
        else hours_below(margin, MARGIN_KELVIN),
        "margin_covered_hours": None if margin is None or lowest is None else covered_hours(margin),
        "why": " ".join(whys),
    }


def dew_point_margin(air: AirRecord, surface_celsius: pd.Series[float]) -> pd.Series[float]:
    """Compute how far a surface stays above the dew point of the air [K].

    Parameters
    ----------
    air : AirRecord
    surface_celsius : Series [°C]
        Index UTC. Carried to the times of the air readings along straight lines, never beyond its ends and not across
        gaps longer than its own bridge.

    Returns
    -------
    Series [K]
        On the times of the air readings; below 0 water condenses. NaN where either is missing.
    """
    surface = surface_celsius.dropna()
    times = air.readings.index
    joined = surface.reindex(surface.index.union(times)).interpolate(method="time", limit_area="inside").reindex(times)
    before = pd.Series(surface.index, index=surface.index).reindex(times, method="ffill")
    after = pd.Series(surface.index, index=surface.index).reindex(times, method="bfill")
    near = (after - before) <= bridge(pd.DatetimeIndex(surface_celsius.index))
    return joined.where(near) - dew_point_celsius(air.rh_percent, air.temperature_celsius)


def _places(inside: AirRecord | None, outside: AirRecord | None) -> tuple[tuple[str, AirRecord | None], ...]:
    return ("inside the frame", inside), ("of the room", outside)


def _usable(air: AirRecord | None) -> bool:
    return not _dew_points(air).empty


def _dew_points(air: AirRecord | None) -> pd.Series[float]:
    """Return the dew points of a record [°C], without missing ones."""
    if air is None:
        return pd.Series(dtype="float64")
    return dew_point_celsius(air.rh_percent, air.temperature_celsius).dropna()
