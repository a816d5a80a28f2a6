"""Courses the room may take: drawn from what its record says of season, weather and the years' differences.

The daily mean of a room's quantity is taken as a level, an annual cycle, weather that forgets within days and slow
anomalies that forget within months, all Gaussian. Conditioned on the record (a Gaussian process, exactly), the draws
continue the weather of the last days, keep the season the record has shown, and spread where it has not shown one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, solve_triangular

from isohume.analysis.constants import YEAR_DAYS

FloatArray = NDArray[np.float64]

SLOW_DAYS = 50.0  # anomalies of a season: a wet spring, a plant that runs otherwise
LEAST_WEATHER_DAYS, MOST_WEATHER_DAYS = 1.0, 12.0
_NUGGET_SHARE = 0.02
_FEWEST_DAYS = _PRIOR_DAYS = 10
_DAYS_FOR_A_CYCLE = 300
_NO_CORRELATION = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonPrior:
    """What is taken for granted of a room's quantity before its record speaks.

    A room's annual cycle is not known beforehand, not even its sign: a heated room is dry in winter, a church damp.
    Its extremes mostly lie in winter and summer, in either hemisphere, and it is not quite round. A room that follows
    the weather follows the seasons too, so cycle and slow anomalies are stated in units of the weather's own standard
    deviation, and how many units is left to the record.

    Attributes
    ----------
    level, level_sd : float
        Mean over the years and its spread among rooms.
    weather_sd : float
        Standard deviation of the weather, where the record is too short to tell.
    low, high : float
        Limits of what is physically or practically possible.
    """

    level: float
    level_sd: float
    weather_sd: float
    low: float
    high: float


# Common practice: rooms with and without climate control, temperate climate. The drive is a relative humidity [%RH].
DRIVE_PRIOR = SeasonPrior(level=50, level_sd=12, weather_sd=4.0, low=5, high=100)
TEMPERATURE_PRIOR = SeasonPrior(level=19, level_sd=4, weather_sd=0.8, low=-15, high=45)
# Candidates for the standard deviation of each annual coefficient and of the slow anomalies, per weather_sd, equally
# likely beforehand.
ANNUAL_PER_WEATHER = (1.0, 2.0, 4.0, 8.0)
# Shares of the annual deviation: of a cycle with its extremes in spring and autumn, and of the half-yearly cycle.
SPRING_SHARE, HALF_YEAR_SHARE = 0.8, 0.2
WINTER_DAY_OF_YEAR = 35  # the indoor extreme trails the solstice by six weeks: common practice
SLOW_PER_WEATHER = (0.05, 0.2, 0.5)
LONGEST_DAYS = 450  # every date once and a little more; the cost grows with the cube


def fitted_courses(
    daily: FloatArray,
    *,
    first_day_of_year: float,
    n_days: int,
    n_members: int,
    prior: SeasonPrior,
    rng: np.random.Generator,
) -> FloatArray:
    """Draw courses that continue a record of daily means.

    Parameters
    ----------
    daily : (n,) array
        Daily means without a break in time; NaN where a day was not recorded.
    first_day_of_year : float
        Day of the year of the first of them, so that the annual cycle keeps its phase over gaps.
    n_days, n_members : int
        Length and number of the courses; they begin the day after the record's last.
    prior : SeasonPrior
        What is taken for granted.
    rng : Generator

    Returns
    -------
    (n_members, n_days) array

    Raises
    ------
    ValueError
        Fewer than ten days were recorded.
    """
    if daily.size > LONGEST_DAYS:
        first_day_of_year += daily.size - LONGEST_DAYS
        daily = daily[-LONGEST_DAYS:]
    known = np.flatnonzero(~np.isnan(daily))
    if known.size < _FEWEST_DAYS:
        raise ValueError(f"The room was recorded on {known.size} days; at least {_FEWEST_DAYS} are needed.")
    weather_sd, weather_days = weather_of(daily, prior)
    days = np.append(known, np.arange(daily.size, daily.size + n_days)) + first_day_of_year
    apart = np.abs(days[:, None] - days)
    weather = weather_sd**2 * np.exp(-apart / weather_days) + prior.level_sd**2
    weather[np.diag_indices(days.size)] += _NUGGET_SHARE * weather_sd**2
    annual = weather_sd**2 * _seasons(days)
    slow = weather_sd**2 * np.exp(-apart / SLOW_DAYS)
    observed = daily[known] - prior.level

    candidates = [(a, b) for a in ANNUAL_PER_WEATHER for b in SLOW_PER_WEATHER]
    past = slice(0, known.size)
    log_likelihoods = np.array(
        [_log_likelihood((weather + a**2 * annual + b**2 * slow)[past, past], observed) for a, b in candidates]
    )
    weights = np.exp(log_likelihoods - log_likelihoods.max())
    shares = rng.multinomial(n_members, weights / weights.sum())
    courses = [
        _conditional_draws(weather + a**2 * annual + b**2 * slow, observed, share, rng)
        for (a, b), share in zip(candidates, shares, strict=True)
        if share
    ]
    drawn: FloatArray = np.clip(prior.level + np.concatenate(courses), prior.low, prior.high)
    return drawn


def _seasons(days: NDArray[np.floating]) -> FloatArray:
    """Return the covariance of annual cycles of unit deviation, (n, n)."""
    phase = 2 * np.pi * (days - WINTER_DAY_OF_YEAR) / YEAR_DAYS
    shapes = np.stack(
        [
            np.cos(phase),
            SPRING_SHARE * np.sin(phase),
            HALF_YEAR_SHARE * np.cos(2 * phase),
            HALF_YEAR_SHARE * np.sin(2 * phase),
        ]
    )
    covariance: FloatArray = shapes.T @ shapes
    return covariance


def _log_likelihood(covariance: FloatArray, observed: FloatArray) -> float:
    factor = cholesky(covariance, lower=True)
    whitened = solve_triangular(factor, observed, lower=True)
    return float(-0.5 * whitened @ whitened - np.log(np.diag(factor)).sum())


def _conditional_draws(
    covariance: FloatArray, observed: FloatArray, n_draws: int, rng: np.random.Generator
) -> FloatArray:
    """Draw what follows the observed values, (n_draws, n − n_observed)."""
    n = observed.size
    # One factor of the whole holds both: the observed whitened, and what they leave open.
    factor = cholesky(covariance, lower=True)
    whitened = solve_triangular(factor[:n, :n], observed, lower=True)
    fresh = rng.standard_normal((n_draws, len(covariance) - n))
    draws: FloatArray = factor[n:, :n] @ whitened + fresh @ factor[n:, n:].T
    return draws


def weather_of(daily: FloatArray, prior: SeasonPrior) -> tuple[float, float]:
    """Return standard deviation and memory [days] of the weather in a record of daily means.

    Weather is what an annual cycle leaves of the record, or a trend where the record is too short for a cycle.
    The memory is the integral of its autocorrelation; each of the fitted shapes took away about twice a memory's worth
    of days. A prior worth ten days keeps short records sensible.
    """
    known = np.flatnonzero(~np.isnan(daily))
    phase = 2 * np.pi * known / YEAR_DAYS
    shapes = [np.cos(phase), np.sin(phase)] if daily.size >= _DAYS_FOR_A_CYCLE else [known]
    design = np.column_stack([np.ones(known.size), *shapes])
    left = np.full(daily.size, np.nan)
    left[known] = daily[known] - design @ np.linalg.lstsq(design, daily[known], rcond=None)[0]
    correlation = 1.0
    memory = 0.5
    for lag in range(1, round(3 * MOST_WEATHER_DAYS)):
        correlation = float(np.nanmean(left[lag:] * left[:-lag]) / np.nanmean(left**2))
        if not correlation > _NO_CORRELATION:
            break
        memory += correlation
    memory = float(np.clip(memory, LEAST_WEATHER_DAYS, MOST_WEATHER_DAYS))
    free = max(known.size - 2 * memory * design.shape[1], known.size / 2)
    variance = (np.nansum(left**2) + _PRIOR_DAYS * prior.weather_sd**2) / (free + _PRIOR_DAYS)
    return float(np.sqrt(variance)), memory


def recorded_years(daily: FloatArray, *, n_days: int) -> FloatArray:
    """Return the courses that the record itself took in earlier years, from the same date on.

    Parameters
    ----------
    daily : (n,) array
        Daily means; NaN where a day was not recorded.
    n_days : int
        Length of the courses.

    Returns
    -------
    (n_years, n_days) array
        Years with more than a tenth of their days missing are left out; shorter gaps are bridged by straight lines.
    """
    courses = []
    year = 1
    while (start := daily.size - round(year * YEAR_DAYS)) >= 0:
        course = daily[start : start + n_days]
        missing = np.isnan(course)
        if course.size == n_days and missing.mean() <= 0.1:
            days = np.arange(n_days)
            courses.append(np.interp(days, days[~missing], course[~missing]))
        year += 1
    return np.array(courses).reshape(-1, n_days)
