"""The shapes of findings. Attribute names are the keys of the assessment document; unknown is None with a `why`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import pandas as pd

from isohume.analysis.before_after import Intervention
from isohume.analysis.curves import Curves
from isohume.analysis.estimated_inside import EstimatedInside

Side = Literal["below", "above"]
StandingName = Literal["damp risk", "needs reconditioning", "check seal", "leaving band", "steady", "cannot tell"]
DataName = Literal["sound", "doubtful", "stale", "too little"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """The stretch of time a finding is about."""

    start_utc: pd.Timestamp
    end_utc: pd.Timestamp
    hours_inside_covered: float
    hours_both_covered: float
    coverage: float  # inside hours covered / hours of the period, 0-1


@dataclass(frozen=True, slots=True, kw_only=True)
class Excursion:
    """One maximal run outside the band on one side."""

    start_utc: pd.Timestamp
    end_utc: pd.Timestamp
    hours: float  # time outside, not end minus start
    side: Side
    extreme_percent: float
    extreme_utc: pd.Timestamp
    cut_by_gap: bool
    open_at_start: bool
    ongoing: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BandFinding:
    """Time spent outside the agreed band."""

    low: float
    high: float
    hours_below: float
    hours_above: float
    hours_covered: float
    share_within: float | None  # of covered time, 0-1; None when nothing is covered
    hours_outside_beyond_doubt: float
    hours_outside_possible: float
    deficit_percent_hours: float
    excess_percent_hours: float
    uncertainty_percent: float
    excursions: tuple[Excursion, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio:
    """SD outside / SD inside on one time scale: 1 = no buffering, larger = better."""

    ratio: float | None
    low: float | None = None  # 95 % interval by moving-block bootstrap
    high: float | None = None
    at_floor: bool = False  # the inside shows no more than noise: print "at least"
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BufferingFinding:
    """How strongly the frame damps the room."""

    daily: Ratio
    daily_temperature_removed: Ratio
    weekly: Ratio
    seasonal: Ratio
    lag_hours: float | None
    temperature_share_of_daily: float | None = None  # R² of the daily inside on the inside temperature
    why: str = ""  # of a missing lag


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedMean:
    """A 30-day mean and the middle of its window."""

    percent: float
    date: pd.Timestamp


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnualCycle:
    """Annual harmonic inside and outside."""

    inside_mean_percent: float
    inside_amplitude_percent: float
    outside_amplitude_percent: float
    inside_minimum_date: pd.Timestamp
    outside_minimum_date: pd.Timestamp
    attenuation: float  # amplitude outside / inside
    lag_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftFinding:
    """How the inside humidity moves through the seasons."""

    mean30d_percent: float | None
    departure_percent: float | None
    slope_percent_per_30d: float | None
    slope_low: float | None
    slope_high: float | None
    lowest30d: DatedMean | None
    highest30d: DatedMean | None
    annual: AnnualCycle | None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """Share of a room fluctuation of one period that reaches the inside, 0-1, with its 95 % interval."""

    gain: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangeFinding:
    """How fast the frame exchanges moisture with the room."""

    determined: bool
    why: str = ""
    reservoirs: Literal[1, 2] | None = None
    reference_celsius: float | None = None
    half_time_days: float | None = None
    half_time_low: float | None = None
    half_time_high: float | None = None
    half_time_at_least: float | None = None
    half_time_at_most: float | None = None
    half_time_days_at_20: float | None = None
    slow_mode_half_time_days: float | None = None
    share_after_24h: float | None = None
    temperature_response_percent_per_kelvin: float | None = None
    logger_offset_percent: float | None = None
    gain: Mapping[str, Gain] = field(default_factory=dict)  # keys 1d, 7d, 30d, 1y
    rmse_percent: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastFinding:
    """Where the inside is heading, and when it leaves its band."""

    why: str = ""
    horizon_days: float | None = None
    room: str = ""
    leave_by: pd.Timestamp | None = None
    earliest_plausible: pd.Timestamp | None = None
    chance_outside_at_horizon: float | None = None  # 0-1
    expected_back_by: pd.Timestamp | None = None
    back_test_share_in_80: float | None = None
    series: pd.DataFrame | None = None  # daily; columns median, low10, high90 [%RH]

    @property
    def is_outside_now(self) -> bool:
        """Whether the trailing 7-day mean lies outside the band where the forecast begins."""
        return self.leave_by is not None and self.series is not None and self.leave_by <= self.series.index[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class SealFinding:
    """Whether the leakage changed within the record."""

    changed: bool | None
    date: pd.Timestamp | None = None
    factor: float | None = None  # leakage after / before
    factor_low: float | None = None
    factor_high: float | None = None
    smallest_detectable: float | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a rule fired: what was found beside the limit it was held to."""

    rule: str
    text: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the inside climate asks for."""

    name: StandingName
    direction: Literal["too dry", "too damp"] | None = None
    reasons: tuple[Reason, ...] = ()
    next_step: str = ""
    by: pd.Timestamp | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DataQuality:
    """How far the record can be trusted."""

    name: DataName
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """All findings for one frame at one moment."""

    as_of: pd.Timestamp
    period: Period
    band: BandFinding | None
    buffering: BufferingFinding
    drift: DriftFinding
    exchange: ExchangeFinding
    forecast: ForecastFinding
    seal: SealFinding
    panel: Mapping[str, Any]
    dew_point: Mapping[str, Any]
    standing: Standing
    data: DataQuality
    curves: Curves = field(default_factory=Curves)  # for figures; not in the document
    interventions: tuple[Intervention, ...] = ()  # newest first: what was done, and whether it helped
    estimate: EstimatedInside | None = None  # of a frame without a logger inside; never evidence
    no_estimate: str = ""  # why such a frame has none
