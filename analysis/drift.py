"""How the inside humidity moves through the seasons: 30-day means, slope, annual cycle."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import DAY_HOURS, SEASON_HOURS, YEAR_DAYS
from isohume.analysis.drift_interval import slope_standard_error
from isohume.analysis.exchange.fit import FittedExchange
from isohume.analysis.exchange.interval import NORMAL_95
from isohume.analysis.moving_average import centred_mean
from isohume.analysis.readings import AirRecord, hourly, seconds_utc
from isohume.analysis.results import AnnualCycle, DatedMean, DriftFinding

FloatArray = NDArray[np.float64]

SLOPE_DAYS = 60
SHORTEST_ANNUAL_DAYS = 300
_FEWEST_SLOPE_DAYS = 30
_MONTH_DAYS = 30
_SEASON = pd.Timedelta(hours=SEASON_HOURS)
_FEWEST_HOURS_OF_A_DAY = 12
# An amplitude below this is rounding of the computer.
_LEAST_AMPLITUDE_PERCENT = 1e-6

_N_RESAMPLES = 400
_BLOCK_DAYS = 5
_TAIL_PERCENT = 2.5
# The memory of daily means is raised by this many of its standard errors. On simulated autoregressive records of 60
# days the interval then holds the true slope in 89-95 % for memories of 0 to 0.97 a day; without, in 75-92 %.
_MEMORY_STANDARD_ERRORS = 1.5
# The estimate may reach 1, where no interval exists; this still gives a wide one.
_GREATEST_MEMORY = 0.98


def seasonal_drift(
    inside: AirRecord,
    outside: AirRecord | None,
    *,
    conditioned_percent: float | None = None,
    fitted: FittedExchange | None = None,
    seed: int = 0,
) -> DriftFinding:
    """Describe the slow course of the inside humidity.

    Parameters
    ----------
    inside : AirRecord
        Air in the frame.
    outside : AirRecord or None
        Air in its room, for the annual cycle only.
    conditioned_percent : float or None [%RH]
        RH at which the panel was last conditioned: what the departure is measured from.
    fitted : FittedExchange, optional
        The frame's exchange, where its record determines it: the slope's interval then comes from it.
    seed : int
        Of the bootstrap behind the slope's interval, where there is no fit.

    Returns
    -------
    DriftFinding
        `mean30d_percent` is the newest centred 30-day mean with 80 % coverage in each half: the mean of the last 30
        days, unless the record has a hole there. Lowest and highest 30-day mean are those whose middle lies in the
        year up to it. The slope is the Theil-Sen slope of the daily means (days of UTC) of the last 60 days, as a
        description of what was read. Its 95 % interval says what the season alone may have done: chance weather,
        remembered by the frame, bends 60 days. It comes from the fitted exchange (`drift_interval`); without a fit
        from a bootstrap of day-to-day innovations. The annual cycle needs daily means of both places on 300 days.
    """
    air = hourly(inside.rh_percent)
    seasonal = centred_mean(air, window=_SEASON).dropna()
    daily = _daily_means(air)
    whys = []
    newest = lowest = highest = departure = None
    if seasonal.empty:
        whys.append("No 30-day mean: no 30 days of the inside are covered to 80 % in each half.")
    else:
        newest = float(seasonal.iloc[-1])
        if seasonal.index[-1] < air.index[-1] - _SEASON / 2:
            whys.append(f"The newest 30-day mean with enough readings is that around {seasonal.index[-1]:%Y-%m-%d}.")
        last_year = seasonal[seasonal.index > seasonal.index[-1] - pd.Timedelta(days=YEAR_DAYS)]
        lowest, highest = _dated(last_year, last_year.argmin()), _dated(last_year, last_year.argmax())
        if conditioned_percent is None:
            whys.append("No departure: the RH at which the panel was conditioned is not recorded.")
        else:
            departure = newest - conditioned_percent
    slope = low = high = None
    recent = daily.iloc[-SLOPE_DAYS:].dropna()
    if len(recent) < _FEWEST_SLOPE_DAYS:
        whys.append(f"No slope: {len(recent)} daily means in the last {SLOPE_DAYS} days, {_FEWEST_SLOPE_DAYS} needed.")
    else:
        slope, low, high = _slope_per_month(recent, fitted, seed)
    annual = None
    if outside is None:
        whys.append("No annual cycle: there is no record of the room.")
    else:
        annual, why = _annual_cycle(daily, _daily_means(hourly(outside.rh_percent)))
        whys += [why] if why else []
    return DriftFinding(
        mean30d_percent=newest,
        departure_percent=departure,
        slope_percent_per_30d=slope,
        slope_low=low,
        slope_high=high,
        lowest30d=lowest,
        highest30d=highest,
        annual=annual,
        why=" ".join(whys),
    )


def theil_sen_slope(time: FloatArray, values: FloatArray) -> float:
    """Compute the median of the slopes between all pairs of points.

    Parameters
    ----------
    time, values : (n,) arrays
        n ≥ 2, no NaN, times all different.

    Returns
    -------
    float [unit of values per unit of time]

    References
    ----------
    Sen (1968), J. Am. Stat. Assoc. 63:1379-1389.
    """
    early, late = np.triu_indices(time.size, 1)
    return float(np.median((values[late] - values[early]) / (time[late] - time[early])))


def fit_harmonic(time: FloatArray, values: FloatArray, *, period: float) -> tuple[float, float, float]:
    """Fit mean + a·cos(2πt/period) + b·sin(2πt/period) by least squares.

    Parameters
    ----------
    time, values : (n,) arrays
        No NaN; the times must spread over most of a period, else the three are confounded.
    period : float
        Unit of `time`.

    Returns
    -------
    mean, a, b : float [unit of values]
    """
    phase = 2 * np.pi * time / period
    columns = np.column_stack([np.ones_like(phase), np.cos(phase), np.sin(phase)])
    mean, cosine, sine = np.linalg.lstsq(columns, values)[0]
    return float(mean), float(cosine), float(sine)


def _daily_means(air: pd.Series[float]) -> pd.Series[float]:
    """Average an hourly record by days of UTC; a day with fewer than 12 hours is missing."""
    if air.empty:
        return air
    values = np.asarray(air.to_numpy(), dtype=np.float64)
    day = (seconds_utc(pd.DatetimeIndex(air.index)) // (3600 * DAY_HOURS)).astype(np.int64)
    known = ~np.isnan(values)
    counts = np.bincount((day - day[0])[known], minlength=int(day[-1] - day[0]) + 1)
    sums = np.bincount((day - day[0])[known], weights=values[known], minlength=counts.size)
    means = np.full(counts.size, np.nan)
    np.divide(sums, counts, out=means, where=counts >= _FEWEST_HOURS_OF_A_DAY)
    index = pd.to_datetime(np.arange(day[0], day[-1] + 1) * 3600 * DAY_HOURS, unit="s", utc=True)
    return pd.Series(means, index=index)


def _days(index: pd.Index) -> FloatArray:
    """Return the middles of the days, in days since 1970."""
    days: FloatArray = seconds_utc(pd.DatetimeIndex(index)) / (3600 * DAY_HOURS) + 0.5
    return days


def _dated(seasonal: pd.Series[float], position: int) -> DatedMean:
    return DatedMean(percent=float(seasonal.iloc[position]), date=pd.Timestamp(seasonal.index[position]))


def _slope_per_month(recent: pd.Series[float], fitted: FittedExchange | None, seed: int) -> tuple[float, float, float]:
    """Return the Theil-Sen slope of daily means and its 95 % interval [%RH per 30 days]."""
    days, values = _days(recent.index), np.asarray(recent.to_numpy(), dtype=np.float64)
    slope = theil_sen_slope(days, values)
    if fitted is not None:
        spread = NORMAL_95 * slope_standard_error(days, fitted)
    else:
        residuals = values - slope * days
        residuals -= residuals.mean()
        spread = _bootstrap_spread(days, residuals, np.random.default_rng(seed))
    return (
        _MONTH_DAYS * slope,
        _MONTH_DAYS * (slope - spread),
        _MONTH_DAYS * (slope + spread),
    )


def _bootstrap_spread(days: FloatArray, residuals: FloatArray, rng: np.random.Generator) -> float:
    """Return the half width of the slope's 95 % interval, the memory of daily means allowed for.

    Residuals of a fitted trend forget too fast: the memory φ of an autoregression of first order comes out low by
    about (2 + 4φ)/n (after Kendall 1954 and Marriott & Pope 1954, from memory), so it is raised by that. The
    innovations are drawn in blocks of five days, run through the memory again, and a slope taken from each course.
    """
    n = residuals.size
    power = float(residuals @ residuals)
    if power == 0:
        return 0.0
    memory = (float(residuals[1:] @ residuals[:-1]) / power + 2 / n) / (1 - 4 / n)
    memory += _MEMORY_STANDARD_ERRORS * np.sqrt(max(0.0, 1 - memory**2) / n)
    memory = min(_GREATEST_MEMORY, memory)
    innovations = residuals[1:] - memory * residuals[:-1]
    innovations = (innovations - innovations.mean()) * np.sqrt(n / (n - 4))  # four numbers were fitted
    n_warm = 5 * n
    starts = rng.integers(n - _BLOCK_DAYS, size=(_N_RESAMPLES, -(-(n + n_warm) // _BLOCK_DAYS)))
    drawn = innovations[(starts[..., None] + np.arange(_BLOCK_DAYS))].reshape(_N_RESAMPLES, -1).T
    centred = days - days.mean()
    course, moments = np.zeros(_N_RESAMPLES), np.zeros(_N_RESAMPLES)
    for step in range(n + n_warm):
        course = memory * course + drawn[step]
        if step >= n_warm:
            moments += centred[step - n_warm] * course
    return float(np.percentile(np.abs(moments), 100 - 2 * _TAIL_PERCENT) / (centred @ centred))


def _annual_cycle(inside: pd.Series[float], outside: pd.Series[float]) -> tuple[AnnualCycle | None, str]:
    """Fit the annual harmonic on the days that both places have, or say why not."""
    shared = inside.index.intersection(outside.index)
    both = pd.DataFrame({"inside": inside.reindex(shared), "outside": outside.reindex(shared)}).dropna()
    if len(both) < SHORTEST_ANNUAL_DAYS:
        return None, (
            f"No annual cycle: inside and outside share daily means on {len(both)} days, "
            f"{SHORTEST_ANNUAL_DAYS} are needed."
        )
    days = _days(both.index)
    inner, outer = (
        fit_harmonic(days, both[place].to_numpy(dtype=np.float64), period=YEAR_DAYS) for place in ("inside", "outside")
    )
    amplitude_in, amplitude_out = np.hypot(*inner[1:]), np.hypot(*outer[1:])
    if min(amplitude_in, amplitude_out) < _LEAST_AMPLITUDE_PERCENT:
        return None, "No annual cycle: the humidity is the same all year."
    lag_turns = (_phase_turns(inner) - _phase_turns(outer) + 0.5) % 1 - 0.5
    return AnnualCycle(
        inside_mean_percent=inner[0],
        inside_amplitude_percent=float(amplitude_in),
        outside_amplitude_percent=float(amplitude_out),
        inside_minimum_date=_last_minimum(inner, days[-1]),
        outside_minimum_date=_last_minimum(outer, days[-1]),
        attenuation=float(amplitude_out / amplitude_in),
        lag_days=float(lag_turns * YEAR_DAYS),
    ), ""


def _phase_turns(harmonic: tuple[float, float, float]) -> float:
    """Return the time of the maximum, in turns of the cycle since 1970."""
    return float(np.arctan2(harmonic[2], harmonic[1]) / (2 * np.pi))


def _last_minimum(harmonic: tuple[float, float, float], last_day: float) -> pd.Timestamp:
    """Return the day of the last minimum of the cycle before the end of the record."""
    turns = _phase_turns(harmonic) + 0.5
    turns += np.floor(last_day / YEAR_DAYS - turns)
    return pd.Timestamp(turns * YEAR_DAYS, unit="D", tz="UTC").floor("D")
