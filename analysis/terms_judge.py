"""Hold a record to climate terms, clause by clause, with the worst case and what the uncertainty allows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from isohume.analysis.constants import HOUR_SECONDS, SEASON_HOURS
from isohume.analysis.integrals import linear_record, runs_above_zero
from isohume.analysis.moving_average import centred_mean
from isohume.analysis.psychrometrics import dew_point_celsius
from isohume.analysis.readings import AirRecord, hourly, seconds_utc
from isohume.analysis.terms import Clause, ClimateTerms

Verdict = Literal["breached", "met", "no breach in what is covered", "cannot say"]
# Design: "met" needs 95 % of the period covered; below that the share is named.
COVERAGE_TO_CALL_MET = 0.95
# Common practice: a logger's air temperature is good to ±0.5 K (k = 2).
TEMPERATURE_UNCERTAINTY_KELVIN = 0.5
DAY_HOURS = 24
SHORTEST_YEAR_DAYS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class ClauseResult:
    """What a record says of one clause.

    Attributes
    ----------
    hours_breached, hours_beyond_doubt : float [h]
        Time outside the limits as read, and farther outside than the expanded uncertainty.
    worst, worst_utc : float, Timestamp
        The value farthest outside, or nearest to a limit; for a swing the largest swing and the end of its 24 hours.
    covered_hours, coverage : float
        Time for which the clause could be judged, and its share of the period.
    """

    clause: Clause
    verdict: Verdict
    hours_breached: float
    hours_beyond_doubt: float
    worst: float | None
    worst_utc: pd.Timestamp | None
    covered_hours: float
    coverage: float
    uncertainty: float
    why: str = ""

    @property
    def beyond_doubt(self) -> bool:
        """Whether part of the breach exceeds the uncertainty."""
        return self.hours_beyond_doubt > 0

    def report(self) -> str:
        """Return the result as plain sentences."""
        unit = self.clause.unit
        text = f"{self.clause.in_words()} "
        if self.verdict == "cannot say":
            return f"{text}Cannot say: {self.why}"
        worst = (
            ""
            if self.worst is None
            else f" Worst case {self.worst:.1f} {unit} at {self.worst_utc:%Y-%m-%d %H:%M} UTC."
        )
        covered = f"{self.coverage:.0%} of the period covered."
        if self.verdict == "breached":
            certain = (
                f"{self.hours_beyond_doubt:.1f} h of it beyond the uncertainty of ±{self.uncertainty:.1f} {unit}"
                if self.beyond_doubt
                else f"all of it within the uncertainty of ±{self.uncertainty:.1f} {unit}"
            )
            return f"{text}Breached as read for {self.hours_breached:.1f} h, {certain}.{worst} {covered}"
        return f"{text}{'Met' if self.verdict == 'met' else 'No breach in what is covered'}.{worst} {covered}"


def judge_terms(
    terms: ClimateTerms,
    *,
    inside: AirRecord | None,
    room: AirRecord | None,
    start: pd.Timestamp,
    end: pd.Timestamp,
    coldest_surface_celsius: pd.Series[float] | None = None,
) -> tuple[ClauseResult, ...]:
    """Judge every clause over one period.

    Parameters
    ----------
    terms : ClimateTerms
        What was agreed.
    inside, room : AirRecord or None
        Records of the two airs; a clause about an air without a record cannot be judged.
    start, end : Timestamp
        The period, in UTC. Means at its edges use readings outside it.
    coldest_surface_celsius : Series [°C] or None
        Measured temperature of the coldest surface; without it a dew-point margin cannot be judged.
    """
    results = []
    for clause in terms.clauses:
        record = inside if clause.air == "inside" else room
        if record is None or record.readings.empty:
            place = "inside the frame" if clause.air == "inside" else "in the room"
            results.append(_cannot_say(clause, f"nothing was logged {place}."))
            continue
        results.append(_judge(clause, record, start, end, coldest_surface_celsius))
    return tuple(results)


def _judge(
    clause: Clause,
    record: AirRecord,
    start: pd.Timestamp,
    end: pd.Timestamp,
    surface: pd.Series[float] | None,
) -> ClauseResult:
    if clause.kind == "seasonal allowance" and (end - start).days < SHORTEST_YEAR_DAYS:
        return _cannot_say(
            clause, f"a season's allowance needs {SHORTEST_YEAR_DAYS} days, the period has {(end - start).days}."
        )
    if clause.kind == "dew-point margin":
        if surface is None:
            return _cannot_say(clause, "no surface temperature was measured.")
        judged = _dew_point_margin(record, surface)
        low, high, uncertainty = clause.low, None, TEMPERATURE_UNCERTAINTY_KELVIN
    else:
        series = record.readings[clause.quantity]
        uncertainty = record.uncertainty_percent if clause.quantity == "rh_percent" else TEMPERATURE_UNCERTAINTY_KELVIN
        judged, low, high = _quantity_to_judge(clause, series, start, end)
        if clause.kind in {"swing in 24 h", "distance from 24-h mean"}:
            # A difference of two readings: their errors may add up in either direction.
            uncertainty *= math.sqrt(2)
    period = judged[(judged.index >= start) & (judged.index <= end)]
    if not period.notna().any():
        return _cannot_say(clause, "no reading in the period allows it to be computed.")
    hours = (end - start).total_seconds() / HOUR_SECONDS
    return _against_limits(clause, period, (low, high), uncertainty=uncertainty, period_hours=hours)


def _quantity_to_judge(
    clause: Clause, series: pd.Series[float], start: pd.Timestamp, end: pd.Timestamp
) -> tuple[pd.Series[float], float | None, float | None]:
    """Return the series a clause limits, and its limits."""
    if clause.kind == "range":
        if not clause.averaging_hours:
            return series, clause.low, clause.high
        grid = hourly(series)
        averaged = grid if clause.averaging_hours == 1 else centred_mean(grid, window=_hours(clause.averaging_hours))
        return averaged, clause.low, clause.high
    if clause.kind == "swing in 24 h":
        usable = series.dropna()
        window = usable.rolling(f"{DAY_HOURS}h", closed="both")
        return window.max() - window.min(), None, clause.high
    if clause.kind == "distance from 24-h mean":
        mean = centred_mean(hourly(series), window=_hours(DAY_HOURS))
        at_readings = np.interp(
            seconds_utc(pd.DatetimeIndex(series.index)), seconds_utc(pd.DatetimeIndex(mean.index)), mean.to_numpy()
        )
        return (series - at_readings).abs(), None, clause.high
    season = centred_mean(hourly(series), window=_hours(SEASON_HOURS))
    level = season[(season.index >= start) & (season.index <= end)].mean()
    return season, level - (clause.low or 0.0), level + (clause.high or 0.0)


def _hours(hours: float) -> pd.Timedelta:
    return pd.Timedelta(hours=hours)


def _dew_point_margin(record: AirRecord, surface: pd.Series[float]) -> pd.Series[float]:
    readings = record.readings
    dew_point = hourly(dew_point_celsius(readings["rh_percent"], readings["temperature_celsius"]))
    margin = hourly(surface) - dew_point
    return margin.astype("float64")


def _against_limits(
    clause: Clause,
    period: pd.Series[float],
    limits: tuple[float | None, float | None],
    *,
    uncertainty: float,
    period_hours: float,
) -> ClauseResult:
    record = linear_record(period)
    low, high = limits
    # Each side on its own: a record that crosses both limits between two readings runs straight past each.
    sides = [] if low is None else [low - record.readings]
    sides += [] if high is None else [record.readings - high]
    hours = sum(runs_above_zero(record, side).hours for side in sides)
    beyond = sum(runs_above_zero(record, side - uncertainty).hours for side in sides)
    outside = np.max(sides, axis=0)
    worst = int(outside.argmax())
    breached = bool(outside[worst] > 0)
    coverage = min(record.hours_covered / period_hours, 1.0) if period_hours > 0 else 0.0
    verdict: Verdict = "met" if coverage >= COVERAGE_TO_CALL_MET else "no breach in what is covered"
    return ClauseResult(
        clause=clause,
        verdict="breached" if breached else verdict,
        hours_breached=hours,
        hours_beyond_doubt=beyond,
        worst=float(record.readings[worst]),
        worst_utc=pd.Timestamp(record.hours[worst] * HOUR_SECONDS, unit="s", tz="UTC").round("s"),
        covered_hours=record.hours_covered,
        coverage=coverage,
        uncertainty=uncertainty,
    )


def _cannot_say(clause: Clause, why: str) -> ClauseResult:
    return ClauseResult(
        clause=clause,
        verdict="cannot say",
        hours_breached=0.0,
        hours_beyond_doubt=0.0,
        worst=None,
        worst_utc=None,
        covered_hours=0.0,
        coverage=0.0,
        uncertainty=0.0,
        why=why,
    )
