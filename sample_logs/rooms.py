"""Invented rooms and the loggers in them: weather, heating, visitors; noise, offset, resolution."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from isohume.sample_logs.sorption import FloatArray, saturation_pressure_pa

RoomKind = Literal["heated", "museum", "church", "store"]

HOURS_PER_YEAR = 8766.0
DEFAULT_START = np.datetime64("2025-09-20T00", "h")
COLDEST_HOUR_OF_YEAR = 24.0 * 19  # mid-January
HEATING_LIMIT_CELSIUS = 14.0  # outdoor mean of some days below which a house is heated


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomCourse:
    """Air of one room, one value per hour; (n,) arrays [%RH], [°C]."""

    rh_percent: FloatArray
    temperature_celsius: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather:
    """Outdoor air, one value per hour; (n,) arrays [°C], [Pa]."""

    temperature_celsius: FloatArray
    vapour_pa: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Logged:
    """What a logger wrote: (n,) arrays [%RH], [°C], and the constant errors it made."""

    rh_percent: FloatArray
    temperature_celsius: FloatArray
    offset_percent: float  # reading minus truth
    offset_kelvin: float


def room_course(
    rng: np.random.Generator,
    n_hours: int,
    *,
    kind: RoomKind = "heated",
    start: np.datetime64 = DEFAULT_START,
    weather: Weather | None = None,
) -> RoomCourse:
    """Invent the climate of one room in a temperate, continental place.

    Parameters
    ----------
    rng : Generator
        Draws weather, house and visitors; every call is another house.
    n_hours : int
    kind : {"heated", "museum", "church", "store"}
        Heated in winter without humidification (about 28-60 %RH); a gallery with some control (43-57 %RH); hardly
        heated and damp (55-85 %RH); a quiet store (40-62 %RH).
    start : datetime64
        First hour, UTC.
    weather : Weather, optional
        Of the same hours; drawn anew if not given. Rooms of one town share theirs.

    Returns
    -------
    RoomCourse
        (n_hours,) arrays.
    """
    hour = _hours_of_year(n_hours, start)
    weather = weather or weather_course(rng, n_hours, start=start)
    outdoor, vapour_pa = weather.temperature_celsius, weather.vapour_pa
    visitors = _visitors(rng, hour)
    mean = {"heated": 20.0, "museum": 20.5, "church": 0.0, "store": 17.0}[kind] + rng.normal(0.0, 0.6)
    if kind == "church":
        free = _smooth(outdoor, 24.0 * 6) + 3.0
        frost_guard = 7.0 + rng.uniform(-1.0, 2.0)
        service = ((hour // 24) % 7 == 3) & ((hour % 24 >= 8) & (hour % 24 < 12))
        warmth = np.logaddexp(free, frost_guard) + 5.0 * _smooth(service.astype(np.float64), 2.0)
    else:
        free = _smooth(outdoor, 36.0) + 3.0 + 0.15 * (outdoor - _smooth(outdoor, 24.0))
        setback = 1.2 * ((hour % 24 < 6) | (hour % 24 > 21)) if kind == "heated" else 0.0
        warmth = np.logaddexp(free, mean - setback * (_smooth(outdoor, 72.0) < HEATING_LIMIT_CELSIUS))
        warmth = _smooth(warmth, 3.0) + 0.8 * visitors
        if kind in {"museum", "store"}:
            warmth = mean + 0.5 * (warmth - mean)
    warmth += 0.15 * _wandering(rng, n_hours, 6.0)

    source_pa = (rng.uniform(60.0, 120.0) if kind == "church" else rng.uniform(90.0, 200.0)) + 120.0 * visitors
    raw = 100.0 * (_smooth(vapour_pa, 5.0) + source_pa) / saturation_pressure_pa(warmth)
    season = np.cos(2 * np.pi * (hour - COLDEST_HOUR_OF_YEAR) / HOURS_PER_YEAR)
    if kind == "museum":  # the plant holds a target that glides with the season
        target = 50.0 + rng.normal(0.0, 0.8) - 3.0 * season
        raw = target + 0.18 * (raw - _smooth(raw, 24.0 * 45)) + 1.2 * _wandering(rng, n_hours, 8.0)
    elif kind == "store":  # walls and boxes buffer
        raw = 51.0 + rng.normal(0.0, 1.5) + 0.45 * (_smooth(raw, 24.0 * 4) - raw.mean())
    elif kind == "church":  # plaster buffers the day
        raw = _smooth(raw, 10.0)
    return RoomCourse(rh_percent=np.clip(raw, 15.0, 92.0), temperature_celsius=warmth)


def weather_course(rng: np.random.Generator, n_hours: int, *, start: np.datetime64 = DEFAULT_START) -> Weather:
    """Invent outdoor air with seasons, fronts of some days, and the day."""
    hour = _hours_of_year(n_hours, start)
    season = np.cos(2 * np.pi * (hour - COLDEST_HOUR_OF_YEAR) / HOURS_PER_YEAR)
    fronts = 3.5 * _wandering(rng, n_hours, 72.0)
    day = (2.8 - 1.4 * season) * np.cos(2 * np.pi * (hour - 15.0) / 24)
    climate = 9.5 + rng.normal(0.0, 0.7) - 9.0 * season
    # The dew point follows the season, half of each front, and air masses of its own; it stays below the air.
    dew_point = climate - 4.2 + 1.7 * season + 0.5 * fronts + 1.8 * _wandering(rng, n_hours, 48.0)
    daily_mean = climate + fronts
    vapour_pa = saturation_pressure_pa(np.minimum(dew_point, daily_mean - 0.5))
    return Weather(temperature_celsius=daily_mean + day, vapour_pa=vapour_pa)


def _hours_of_year(n_hours: int, start: np.datetime64) -> FloatArray:
    new_year = start.astype("datetime64[Y]")
    first = float((start - new_year) / np.timedelta64(1, "h"))
    return first + np.arange(n_hours, dtype=np.float64)


def logger(
    rng: np.random.Generator,
    course: RoomCourse,
    *,
    noise: float = 0.25,
    offset_sd: float = 1.0,
    resolution: float = 0.1,
) -> Logged:
    """Read a course with a logger.

    Parameters
    ----------
    rng : Generator
    course : RoomCourse, or any object with `rh_percent` and `temperature_celsius`
    noise : float [%RH]
        Standard deviation of one reading; a fifth of it in kelvin for the temperature.
    offset_sd : float [%RH]
        Standard deviation of the constant error; a fifth of it in kelvin for the temperature.
    resolution : float [%RH], [°C]
        Last digit of what is written; 0 writes all digits.
    """
    offset_percent, offset_kelvin = rng.normal(0.0, offset_sd), rng.normal(0.0, offset_sd / 5)
    n = len(course.rh_percent)
    humidity = course.rh_percent + offset_percent + rng.normal(0.0, noise, n)
    warmth = course.temperature_celsius + offset_kelvin + rng.normal(0.0, noise / 5, n)
    if resolution > 0:
        humidity, warmth = (np.round(values / resolution) * resolution for values in (humidity, warmth))
    return Logged(
        rh_percent=humidity, temperature_celsius=warmth, offset_percent=offset_percent, offset_kelvin=offset_kelvin
    )


def _visitors(rng: np.random.Generator, hour: FloatArray) -> FloatArray:
    """Return how full the room is, about 0-1: open 10 to 18 h on six days of seven, some days busier."""
    day = (hour // 24).astype(np.int64) - int(hour[0] // 24)
    crowd = rng.gamma(3.0, 0.15, day[-1] + 1)
    is_open = (hour % 24 >= 10) & (hour % 24 < 18) & ((hour // 24) % 7 != 0)
    return _smooth(np.where(is_open, crowd[day], 0.0), 1.5)


def _wandering(rng: np.random.Generator, n: int, hours: float) -> FloatArray:
    """Return autocorrelated noise of unit variance whose correlation falls to 1/e after so many hours, smoothed."""
    keep = np.exp(-1.0 / hours)
    kicks = rng.normal(0.0, np.sqrt(1 - keep**2), n)
    kicks[0] = rng.normal()
    return _recursion(kicks, keep)


def _smooth(values: FloatArray, hours: float) -> FloatArray:
    """Return the values through a first-order lag with this time constant."""
    keep = np.exp(-1.0 / hours)
    inputs = values * (1 - keep)
    inputs[0] = values[0]
    return _recursion(inputs, keep)


def _recursion(inputs: FloatArray, keep: float) -> FloatArray:
    from scipy.signal import lfilter

    return np.asarray(lfilter([1.0], [1.0, -keep], inputs), dtype=np.float64)
