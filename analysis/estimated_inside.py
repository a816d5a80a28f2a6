"""The inside of a frame without a logger, as estimated: shapes, kept apart from findings that rest on readings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pandas as pd

from isohume.analysis.exchange.model import ExchangeParameters

HalfTimeSource = Literal["earlier fit", "sister frame", "construction"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownHalfTime:
    """A half-time that was not fitted to this frame's own inside.

    Attributes
    ----------
    days : float [days]
    source : where it comes from; decides how far it may be off
    parameters : ExchangeParameters or None
        Of the earlier fit or the sister frame, for its shape; one reservoir where left out.
    """

    days: float
    source: HalfTimeSource
    parameters: ExchangeParameters | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimatedInside:
    """The inside as estimated, day by day.

    Attributes
    ----------
    series : DataFrame [%RH]
        Index `time_utc`; columns median, low, high (95 %).
    half_time : KnownHalfTime
    strip_differences : tuple of (Timestamp, float)
        Strip reading less the estimate at its time [%RH].
    notes : tuple of str
    """

    series: pd.DataFrame
    half_time: KnownHalfTime
    strip_differences: tuple[tuple[pd.Timestamp, float], ...]
    notes: tuple[str, ...]
