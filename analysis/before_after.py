"""What an intervention changed: the shapes in which the record before and after one event is compared."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pandas as pd

from isohume.analysis.frame import Event

Change = Literal["longer", "shorter", "no difference shown", "cannot tell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SideOfEvent:
    """One side of an intervention.

    Attributes
    ----------
    start_utc, end_utc : Timestamp
    hours_covered : float [h]
    mean_percent : float or None [%RH]
    hours_outside_per_month : float or None [h per month of 730.5 h covered]
        None without a band.
    slope_percent_per_30d, slope_low, slope_high : float or None [%RH per 30 days]
        Over the last 60 days of the side.
    half_time_days, half_time_low, half_time_high : float or None [days]
    why : str
        Why there is no half-time.
    """

    start_utc: pd.Timestamp
    end_utc: pd.Timestamp
    hours_covered: float
    mean_percent: float | None
    hours_outside_per_month: float | None
    slope_percent_per_30d: float | None
    slope_low: float | None
    slope_high: float | None
    half_time_days: float | None = None
    half_time_low: float | None = None
    half_time_high: float | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Intervention:
    """Before and after one event.

    Attributes
    ----------
    half_time_change : str
        `longer` or `shorter` only where the two 95 % intervals do not touch.
    """

    event: Event
    before: SideOfEvent | None
    after: SideOfEvent | None
    half_time_change: Change
    why: str = ""
