"""The climate an object has grown used to, as limits for later: the approach of EN 15757:2010.

The seasonal cycle is the centred 30-day mean of a reference period of at least 13 months. What is left of the readings
is the fluctuation; its 7th and 93rd percentiles, but at least ±10 %RH, are added to the cycle. A period may only be
judged by the limits of another one. (The figures of the standard are from memory; the 13 months are verified.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import SEASON_HOURS
from isohume.analysis.integrals import linear_record, runs_above_zero
from isohume.analysis.moving_average import centred_mean
from isohume.analysis.readings import hourly

SHORTEST_REFERENCE = pd.DateOffset(months=13)
LOW_PERCENTILE, HIGH_PERCENTILE = 7.0, 93.0
# Narrower limits than ±10 %RH around the cycle are held to be needlessly strict.
LEAST_WIDTH_PERCENT = 10.0
LEAST_COVERAGE = 0.75
_FEBRUARY_29 = 59  # counted from 1 January = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class AcclimatisedLimits:
    """Limits that follow the seasons.

    Attributes
    ----------
    cycle : Series [%RH]
        Seasonal cycle by hour of the reference period.
    lower, upper : float [%RH]
        Distance of the limits from the cycle, lower negative.
    percentile_low, percentile_high : float [%RH]
        Of the fluctuations themselves.
    """

    cycle: pd.Series[float]
    lower: float
    upper: float
    percentile_low: float
    percentile_high: float
    reference_start: pd.Timestamp
    reference_end: pd.Timestamp
    coverage: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AcclimatisedFinding:
    """Hours outside the acclimatised limits in a period that is not the reference."""

    hours_below: float
    hours_above: float
    hours_covered: float
    limits: pd.DataFrame  # hourly; columns low, high [%RH]


def acclimatised_limits(rh_percent: pd.Series[float]) -> AcclimatisedLimits:
    """Derive the limits from a reference record.

    Parameters
    ----------
    rh_percent : Series [%RH]
        At least 13 months; percentiles are NumPy's default (linear).

    Raises
    ------
    ValueError
        The record is shorter than 13 months or has less than 75 % of its hours.
    """
    grid = hourly(rh_percent)
    if grid.empty or grid.index[0] + SHORTEST_REFERENCE > grid.index[-1] + pd.Timedelta(hours=1):
        days = 0 if grid.empty else (grid.index[-1] - grid.index[0]).days
        raise ValueError(f"The reference record spans {days} days: EN 15757 needs at least 13 months.")
    coverage = float(grid.notna().mean())
    if coverage < LEAST_COVERAGE:
        raise ValueError(f"The reference record holds {coverage:.0%} of its hours: at least 75 % are needed.")
    cycle = centred_mean(grid, window=pd.Timedelta(hours=SEASON_HOURS))
    fluctuation = (grid - cycle).dropna().to_numpy()
    low, high = np.percentile(fluctuation, [LOW_PERCENTILE, HIGH_PERCENTILE])
    return AcclimatisedLimits(
        cycle=cycle,
        lower=min(float(low), -LEAST_WIDTH_PERCENT),
        upper=max(float(high), LEAST_WIDTH_PERCENT),
        percentile_low=float(low),
        percentile_high=float(high),
        reference_start=pd.Timestamp(grid.index[0]),
        reference_end=pd.Timestamp(grid.index[-1]),
        coverage=coverage,
    )


def judge_acclimatised(rh_percent: pd.Series[float], limits: AcclimatisedLimits) -> AcclimatisedFinding:
    """Hold a record to the limits of another period, season by season.

    Parameters
    ----------
    rh_percent : Series [%RH]
        The period to judge. Each hour is held to the cycle at the same time of the reference's year.

    Raises
    ------
    ValueError
        The record shares time with the reference: a climate cannot be judged by itself.
    """
    index = pd.DatetimeIndex(rh_percent.index)
    if len(index) and index[0] <= limits.reference_end and index[-1] >= limits.reference_start:
        raise ValueError(
            f"The period to judge overlaps the reference ({limits.reference_start:%Y-%m-%d} to "
            f"{limits.reference_end:%Y-%m-%d}). Choose a later or an earlier one."
        )
    cycle = _cycle_at(index, limits.cycle)
    low, high = cycle + limits.lower, cycle + limits.upper
    below, above = linear_record((low - rh_percent).rename("low")), linear_record((rh_percent - high).rename("high"))
    return AcclimatisedFinding(
        hours_below=runs_above_zero(below, below.readings).hours,
        hours_above=runs_above_zero(above, above.readings).hours,
        hours_covered=below.hours_covered,
        limits=pd.DataFrame({"low": low, "high": high}),
    )


def _cycle_at(index: pd.DatetimeIndex, cycle: pd.Series[float]) -> pd.Series[float]:
    """Return the cycle at the same time of the year; over the overlapping thirteenth month the two are averaged."""
    known = cycle.dropna()
    by_hour = known.groupby(_hour_of_year(pd.DatetimeIndex(known.index))).mean()
    wanted = _hour_of_year(index)
    # The cycle is smooth over weeks: the hours that a leap year or a window's edge leaves open lie on a straight line.
    values = np.interp(wanted, by_hour.index.to_numpy(), by_hour.to_numpy(), period=366 * 24)
    return pd.Series(values, index=index, dtype="float64")


def _hour_of_year(index: pd.DatetimeIndex) -> NDArray[np.int64]:
    """Return hours since 1 January, 29 February always counted, so that a date keeps its number in every year."""
    day = index.day_of_year.to_numpy().astype(np.int64) - 1
    day += ~index.is_leap_year & (day >= _FEBRUARY_29)
    hours: NDArray[np.int64] = day * 24 + index.hour.to_numpy()
    return hours
