"""The room ahead, as an ensemble: its own record, earlier years, a named climate or the record of a venue."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.constants import DAY_SECONDS, HOUR_SECONDS, YEAR_DAYS
from isohume.analysis.forecast.room_courses import (
    DRIVE_PRIOR,
    TEMPERATURE_PRIOR,
    FloatArray,
    fitted_courses,
    recorded_years,
)
from isohume.analysis.psychrometrics import rh_at_temperature
from isohume.analysis.readings import BRIDGE_STEPS, AirRecord, hourly, nominal_step, seconds_utc

# Design: earlier years stand for the year to come once there are three of them.
FEWEST_RECORDED_YEARS = 3
# A day counts with at least this many of its hours.
FEWEST_HOURS = 12
HOUR = pd.Timedelta(hours=1)
FITTED, RECORDED = "season and weather fitted to the room's record", "the room's own earlier years"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomEnsemble:
    """Courses of the room from one moment on.

    Attributes
    ----------
    drive_percent : (n_days + 1, n_members) array [%RH]
        RH that the room's vapour would have at the inside temperature, day by day from the moment itself.
    temperature_celsius : (n_days + 1, n_members) array [°C]
        Inside temperature.
    name : str
        Which ensemble it is, for people.
    offset_sd_percent : float or None [%RH]
        Standard deviation of a new logger's offset, where the room is another than the one fitted.
    """

    drive_percent: FloatArray
    temperature_celsius: FloatArray
    name: str
    offset_sd_percent: float | None = None


@dataclass(frozen=True, slots=True)
class DailyRoom:
    """Daily means of the drive [%RH] and of the inside temperature [°C], the last day ending at `end`."""

    drive_percent: FloatArray
    temperature_celsius: FloatArray
    end: pd.Timestamp

    @property
    def first_day_of_year(self) -> float:
        """Day of the year of the first day."""
        return float(self.end.day_of_year) - len(self.drive_percent)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedClimate:
    """A room as annual cycles, for trials: common practice, not a measurement.

    Coldest and driest (or dampest) at the turn of January and February; `swing_percent` positive means damper in
    summer.
    """

    name: str
    mean_percent: float
    swing_percent: float
    mean_celsius: float
    swing_celsius: float
    weather_percent: float


NAMED_CLIMATES = (
    NamedClimate(
        name="controlled gallery",
        mean_percent=50,
        swing_percent=3,
        mean_celsius=21,
        swing_celsius=1,
        weather_percent=2,
    ),
    NamedClimate(
        name="heated rooms, cold winters",
        mean_percent=43,
        swing_percent=13,
        mean_celsius=21,
        swing_celsius=2,
        weather_percent=5,
    ),
    NamedClimate(
        name="hardly heated stone building",
        mean_percent=70,
        swing_percent=-7,
        mean_celsius=13,
        swing_celsius=7,
        weather_percent=5,
    ),
)
_COLDEST_DAY_OF_YEAR = 30
_WEATHER_DAYS = 4.0


def daily_room(inside: AirRecord | None, outside: AirRecord, *, end: pd.Timestamp) -> DailyRoom:
    """Return daily means of the room as the inside of the frame meets it, up to `end`.

    Without an inside record the frame is taken to have the room's temperature.
    """
    room_celsius = hourly(outside.temperature_celsius)
    room = hourly(outside.rh_percent)
    celsius = room_celsius if inside is None else hourly(inside.temperature_celsius).reindex(room.index)
    celsius = celsius.fillna(room_celsius.reindex(room.index))
    drive = room.copy()
    warm = celsius.notna() & room_celsius.reindex(room.index).notna()
    drive[warm] = rh_at_temperature(room[warm], room_celsius.reindex(room.index)[warm], celsius[warm])
    return DailyRoom(
        drive_percent=daily_means(drive, end=end), temperature_celsius=daily_means(celsius, end=end), end=end
    )


def daily_means(series: pd.Series[float], *, end: pd.Timestamp, step: pd.Timedelta | None = None) -> FloatArray:
    """Average an hourly record into days that end at `end`; NaN where a day has fewer than 12 covered hours.

    Parameters
    ----------
    series : Series
        Hourly means, NaN where no reading was made.
    end : Timestamp
        End of the last day.
    step : Timedelta, optional
        Nominal step of the readings behind it. Hours between two readings no farther apart than the larger of 1 h and
        3 such steps are covered; by default, those of the hours themselves.
    """
    usable = series[series.index <= end].dropna()
    if usable.empty:
        return np.empty(0)
    if step is not None and step > HOUR:
        usable = _filled(usable, longest=BRIDGE_STEPS * step)
    before = ((end.timestamp() - seconds_utc(pd.DatetimeIndex(usable.index))) // DAY_SECONDS).astype(np.int64)
    n_days = int(before.max()) + 1
    counts = np.bincount(before, minlength=n_days)
    sums = np.bincount(before, weights=usable.to_numpy(), minlength=n_days)
    means = np.divide(sums, counts, out=np.full(n_days, np.nan), where=counts >= FEWEST_HOURS)
    newest_last: FloatArray = means[::-1]
    return newest_last


def _filled(hours: pd.Series[float], *, longest: pd.Timedelta) -> pd.Series[float]:
    """Return the hours that a sparser record covers, straight between its readings; wider gaps stay open."""
    seconds = seconds_utc(pd.DatetimeIndex(hours.index))
    every = np.arange(seconds[0], seconds[-1] + 1, HOUR_SECONDS)
    after = np.searchsorted(seconds, every)
    reach = seconds[after] - seconds[np.maximum(after - 1, 0)]
    covered = (seconds[after] == every) | (reach <= longest.total_seconds())
    values = np.interp(every, seconds, hours.to_numpy())[covered]
    return pd.Series(values, index=pd.to_datetime(every[covered], unit="s", utc=True))


def own_room(record: DailyRoom, *, n_days: int, n_members: int, rng: np.random.Generator) -> RoomEnsemble:
    """Continue the room's own record.

    Raises
    ------
    ValueError
        Fewer than ten days of it were recorded.
    """
    years = recorded_years(record.drive_percent, n_days=n_days)
    warm_years = recorded_years(record.temperature_celsius, n_days=n_days)
    if min(len(years), len(warm_years)) >= FEWEST_RECORDED_YEARS:
        chosen = rng.integers(0, min(len(years), len(warm_years)), n_members)
        drive, celsius, name = years[chosen], warm_years[chosen], RECORDED
    else:
        first = record.first_day_of_year
        drive, celsius = (
            fitted_courses(daily, first_day_of_year=first, n_days=n_days, n_members=n_members, prior=prior, rng=rng)
            for daily, prior in (
                (record.drive_percent, DRIVE_PRIOR),
                (record.temperature_celsius, TEMPERATURE_PRIOR),
            )
        )
        name = FITTED
    return RoomEnsemble(drive_percent=_from_now(drive), temperature_celsius=_from_now(celsius), name=name)


def named_room(
    climate: NamedClimate, *, start: pd.Timestamp, n_days: int, n_members: int, rng: np.random.Generator
) -> RoomEnsemble:
    """Return courses of a named climate from `start` on."""
    phase = 2 * np.pi * (start.day_of_year + np.arange(n_days) - _COLDEST_DAY_OF_YEAR) / YEAR_DAYS
    kept = np.exp(-1 / _WEATHER_DAYS)
    weather = np.empty((n_members, n_days))
    weather[:, 0] = rng.normal(0, climate.weather_percent, n_members)
    for day in range(1, n_days):
        step = rng.normal(0, climate.weather_percent * np.sqrt(1 - kept**2), n_members)
        weather[:, day] = kept * weather[:, day - 1] + step
    drive = np.clip(climate.mean_percent - climate.swing_percent * np.cos(phase) + weather, 5, 100)
    celsius = np.broadcast_to(climate.mean_celsius - climate.swing_celsius * np.cos(phase), drive.shape)
    return RoomEnsemble(drive_percent=_from_now(drive), temperature_celsius=_from_now(celsius), name=climate.name)


def venue_room(venue: AirRecord, *, n_days: int, n_members: int) -> RoomEnsemble:
    """Return a venue's recorded course, the same for every member; its logger's offset is open.

    Raises
    ------
    ValueError
        The record is shorter than the stay, or has a gap of more than a day.
    """
    hours = hourly(venue.rh_percent)
    celsius = hourly(venue.temperature_celsius)
    if hours.empty or celsius.empty:
        raise ValueError("The venue's record holds no humidity or no temperature: both are needed.")
    end = hours.index[0] + pd.Timedelta(days=n_days)
    step = nominal_step(pd.DatetimeIndex(venue.readings.index))
    columns = [daily_means(series, end=end, step=step)[-n_days:] for series in (hours, celsius)]
    if any(len(column) < n_days or np.isnan(column).any() for column in columns):
        found = int(min(np.isfinite(column).sum() for column in columns))
        raise ValueError(
            f"The venue's record holds {found} whole days of the {n_days} asked for. Give a longer record, or a "
            "shorter stay."
        )
    drive, temperature = (np.broadcast_to(column, (n_members, n_days)) for column in columns)
    return RoomEnsemble(
        drive_percent=_from_now(drive),
        temperature_celsius=_from_now(temperature),
        name="the venue's recorded climate",
        offset_sd_percent=venue.uncertainty_percent / 2,
    )


def _from_now(courses: FloatArray) -> FloatArray:
    """Turn members × days into days × members, with the moment itself as day 0."""
    days: FloatArray = np.concatenate([courses[:, :1], courses], axis=1).T
    return days
