"""How far chance weather may have bent the slope of the last 60 days: from the fitted exchange, not from the slope.

Daily means inside a frame remember each other for as long as the frame remembers its room, often longer than the 60
days themselves: no residual of a line through them can show it. The fitted exchange knows the memory. The room's
weather, as its own record shows it, is passed through the frame frequency by frequency; what comes out is the
autocovariance of daily means around the seasonal course, and from it the standard error of their slope.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import legendre

from isohume.analysis.constants import DAY_HOURS, YEAR_DAYS
from isohume.analysis.exchange.finding import temperature_response
from isohume.analysis.exchange.fit import FittedExchange
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, modes

# Weather is what a smooth season leaves of the room's daily means: an annual cycle where the record holds most of a
# year, else a polynomial of one degree more for every 75 days.
DAYS_FOR_A_CYCLE, DAYS_PER_DEGREE = 300, 75
ROUNDS, MOST_TAKEN = 8, 0.6
LEAST_MEMORY_DAYS, MOST_MEMORY_DAYS, NO_CORRELATION = 0.5, 15.0, 0.05
N_DAYS = 8192  # of the grid of frequencies: many times the memory of any frame whose half-time can be told


def slope_standard_error(days: FloatArray, fitted: FittedExchange) -> float:
    """Return the standard error of a slope through daily means, as an estimate of the seasonal course.

    Parameters
    ----------
    days : (n,) array [days]
        Middles of the days that have a mean, whole numbers apart.
    fitted : FittedExchange

    Returns
    -------
    float [%RH per day]
        Of the least-squares slope, whose weights those of Theil and Sen resemble.
    """
    covariance = daily_covariance(fitted, n_recent_days=int(np.ptp(days)) + 1)
    centred = days - days.mean()
    weights = centred / (centred @ centred)
    apart = np.abs(days[:, None] - days).round().astype(np.int64)
    return float(np.sqrt(weights @ covariance[apart] @ weights))


def daily_covariance(fitted: FittedExchange, *, n_recent_days: int) -> FloatArray:
    """Return the autocovariance of daily means inside around their seasonal course, by lag in days [%RH²].

    Weather of the room through the frame, weather of the temperature, the disturbances the fit found, and noise. The
    frame is taken as quick as in the newest days: a cold church slows it.
    """
    data, parameters = fitted.data, fitted.parameters
    per_day = round(1 / data.step_days)
    recent = data.scaling[-n_recent_days * per_day :]
    known = np.where(data.drive_variance == 0, data.scaled_drive / data.scaling, np.nan)
    from_room, from_disturbance = _responses(parameters, float(recent.mean()))
    spectrum = _weather_spectrum(_daily(known, per_day)) * from_room
    spectrum += parameters.process_percent_per_sqrt_day**2 * from_disturbance
    warmth = _weather_spectrum(_daily(data.warming[1:], per_day))
    spectrum += temperature_response(fitted) ** 2 * warmth
    covariance: FloatArray = np.fft.irfft(spectrum)[: N_DAYS // 2]
    covariance[0] += parameters.noise_percent**2 / DAY_HOURS
    return covariance


def _daily(values: FloatArray, per_day: int) -> FloatArray:
    """Average the steps of each day; NaN where one is missing."""
    n = values.size // per_day
    return np.asarray(values[: n * per_day].reshape(n, per_day).mean(axis=1))


def weather(daily: FloatArray) -> tuple[float, float]:
    """Return standard deviation and memory [days] of the weather in daily means; NaN where a day is missing.

    The memory is the integral of the autocorrelation. Every shape that was fitted took some two memories' worth of
    days with it, the slow part of the weather: variance and correlations are raised by that.
    """
    known = np.flatnonzero(~np.isnan(daily))
    if daily.size >= DAYS_FOR_A_CYCLE:
        phase = 2 * np.pi * known / YEAR_DAYS
        shapes = np.column_stack([np.ones(known.size), known, np.cos(phase), np.sin(phase)])
    else:
        shapes = legendre.legvander(2 * known / max(daily.size - 1, 1) - 1, 1 + daily.size // DAYS_PER_DEGREE)
    left = np.full(daily.size, np.nan)
    left[known] = daily[known] - shapes @ np.linalg.lstsq(shapes, daily[known], rcond=None)[0]
    power = float(np.nanmean(left**2))
    correlations = []
    for lag in range(1, min(round(3 * MOST_MEMORY_DAYS), daily.size // 2)):
        products = left[lag:] * left[:-lag]
        correlation = float(np.nanmean(products)) / power if np.isfinite(products).any() and power > 0 else 0.0
        if correlation < NO_CORRELATION:
            break
        correlations.append(correlation)
    memory, taken = 0.5, 0.0
    for _ in range(ROUNDS):
        kept = np.array(correlations) * (1 - taken) + taken
        memory = float(np.clip(0.5 + kept.sum(), LEAST_MEMORY_DAYS, MOST_MEMORY_DAYS))
        taken = min(2 * memory * shapes.shape[1] / known.size, MOST_TAKEN)
    return float(np.sqrt(power / (1 - taken))), memory


def _weather_spectrum(daily: FloatArray) -> FloatArray:
    """Return the spectrum of weather that forgets exponentially, (N_DAYS / 2 + 1,)."""
    sd, memory_days = weather(daily)
    lags = np.arange(N_DAYS)
    around = np.minimum(lags, N_DAYS - lags)
    return np.asarray(np.fft.rfft(sd**2 * np.exp(-around / memory_days)).real)


def _responses(parameters: ExchangeParameters, quickness: float) -> tuple[FloatArray, FloatArray]:
    """Return the squared gain of the inside for the room's air, and for a disturbance of the air [day²]."""
    parts = modes(parameters)
    turning = 2j * np.pi * np.fft.rfftfreq(N_DAYS)  # per day
    to_air = parts.vectors[0] * parts.inverse[:, 0]
    answer = (to_air / (turning[:, None] - quickness * parts.rates)).sum(axis=1)
    direct = parameters.direct_share
    through = direct + (1 - direct) * quickness * parts.leak * answer
    return np.abs(through) ** 2, np.abs((1 - direct) * answer) ** 2
