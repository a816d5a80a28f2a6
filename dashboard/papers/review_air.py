"""One month of air in a review: mean, lowest and highest, how much of the month is covered, hours outside the band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import pandas as pd

from isohume.analysis.constants import HOUR_SECONDS
from isohume.analysis.excursions import hours_outside
from isohume.analysis.integrals import covered_hours, time_mean
from isohume.analysis.readings import AirRecord

Band = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthOfAir:
    """One side's humidity in a month [%RH]; None where nothing was usable."""

    coverage: float  # of the month up to the review's moment, 0-1
    mean: float | None
    lowest: float | None
    highest: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AirInReview:
    """Both sides of one frame in a month.

    Attributes
    ----------
    inside, room : MonthOfAir or None
        None without a usable reading.
    hours_outside : float or None [h]
        Inside outside the band within the month, as read; None without a band or an inside record.
    """

    inside: MonthOfAir | None
    room: MonthOfAir | None
    hours_outside: float | None

    def document(self) -> dict[str, Any]:
        """Return it as values that JSON can hold."""
        return asdict(self)

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> AirInReview:
        """Return what was kept."""
        sides = {side: None if document[side] is None else MonthOfAir(**document[side]) for side in ("inside", "room")}
        return cls(**sides, hours_outside=document["hours_outside"])


def air_in_review(
    inside: AirRecord | None, room: AirRecord | None, start: pd.Timestamp, end: pd.Timestamp, *, band: Band | None
) -> AirInReview:
    """Reduce both sides of a frame to what a review says of the time from `start` up to `end`.

    Parameters
    ----------
    inside, room : AirRecord or None
        Longer records are cut.
    band : tuple of float or None [%RH]
        The one agreed now, for earlier months too: only so do their hours compare.
    """
    within, around = (None if air is None else air.rh_percent.loc[start:end] for air in (inside, room))
    return AirInReview(
        inside=_month(within, start, end), room=_month(around, start, end), hours_outside=_hours(within, band)
    )


def _month(series: pd.Series | None, start: pd.Timestamp, end: pd.Timestamp) -> MonthOfAir | None:
    if series is None or series.dropna().empty:
        return None
    hours = (end - start).total_seconds() / HOUR_SECONDS
    return MonthOfAir(
        coverage=min(covered_hours(series) / hours, 1.0),
        mean=time_mean(series),
        lowest=float(series.min()),
        highest=float(series.max()),
    )


def _hours(series: pd.Series | None, band: Band | None) -> float | None:
    if series is None or series.dropna().empty or band is None:
        return None
    low, high = band
    found = hours_outside(series, low=low, high=high, uncertainty_percent=0.0)
    return found.hours_below + found.hours_above
