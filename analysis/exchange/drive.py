"""Two loggers' records become what the exchange model is fitted to: readings, drive, resets, logger pairs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from isohume.analysis.exchange.model import COMPARISON_CELSIUS, FloatArray, scaling_of_leakage
from isohume.analysis.exchange.moisture_scale import MoistureScale
from isohume.analysis.frame import OPENING_KINDS, Event
from isohume.analysis.psychrometrics import saturation_vapour_pressure_pa, vapour_pressure_pa
from isohume.analysis.readings import AirRecord, bridge, hourly, seconds_utc

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

HOURS_PER_DAY = 24
SETTLING_HOURS = 12  # design: after an opening the air is disturbed for half a day
SHORT_GAP_HOURS = 6  # weather and rooms change little within it: interpolated as if read
# A room that went unrecorded strays from the line across the gap for about this long at a time (weather systems).
WEATHER_DAYS = 3.0
PANEL_START_SD_PERCENT = 3.0  # design: x₂ − x₁ ~ N(0, 3²)
COVERAGE_FACTOR = 2.0  # expanded uncertainty over standard uncertainty
# Common practice for the thermometers of such loggers: ±0.4 K expanded, 0.2 K standard uncertainty.
THERMOMETER_SD_KELVIN = 0.2
RH_PER_KELVIN = 3.1  # %RH at 50 %RH and 20 °C: 50·d(ln e_s)/dT


@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangeData:
    """A record on a regular grid, ready for the exchange model.

    Attributes
    ----------
    start_utc : Timestamp
        Time of the first state.
    step_days : float [days]
    observed : (n,) array [%RH]
        Inside RH on the moisture scale, averaged around each time; NaN where there is none.
    n_readings : (n,) array
        Hourly readings averaged into each.
    warming : (n,) array [K]
        Inside temperature above the reference, averaged over the same hours.
    scaled_drive : (n − 1,) array [%RH]
        Mean over each step of k(T)·(u + w − y), with y the inside RH as read and w the same on the moisture scale:
        it makes the leak, which follows the RH difference u + b − y, linear in the state.
    scaling : (n − 1,) array
        Mean of k(T) over each step.
    drive_now : (n,) array [%RH]
        u + w − y, averaged over the same hours as `observed`.
    drive_variance : (n − 1,) array [%RH²·day]
        Spectral density of what is not known of the drive; 0 where the room was recorded.
    segment_start : (n,) array of bool
        The state is unknown anew: at the start and after every opening.
    pair : (n,) array of int
        Which room logger, and so which offset b, holds.
    offset_sd : (number of room loggers,) array [%RH]
        Prior standard deviation of each b.
    inside_logger : (n,) array of int
        Which inside logger read; the states are on the scale of the logger in place.
    shift_sd : float [%RH]
        Prior standard deviation of the step from one inside logger to the next.
    reference_celsius : float [°C]
    panel_start_sd : float [%RH]
        Prior standard deviation of x₂ − x₁ at a start.
    notes : tuple of str
    """

    start_utc: pd.Timestamp
    step_days: float
    observed: FloatArray
    n_readings: FloatArray
    warming: FloatArray
    scaled_drive: FloatArray
    scaling: FloatArray
    drive_now: FloatArray
    drive_variance: FloatArray
    segment_start: BoolArray
    pair: IntArray
    offset_sd: FloatArray
    inside_logger: IntArray
    shift_sd: float
    reference_celsius: float
    panel_start_sd: float = PANEL_START_SD_PERCENT
    notes: tuple[str, ...] = ()

    @property
    def times(self) -> pd.DatetimeIndex:
        """Times of the states (UTC)."""
        return self.start_utc + pd.to_timedelta(np.arange(self.observed.size) * self.step_days, unit="D")

    @property
    def inside_changes(self) -> IntArray:
        """Indices of the first times of another inside logger."""
        return np.flatnonzero(np.diff(self.inside_logger)) + 1

    @property
    def warming_between(self) -> FloatArray:
        """Inside temperature above the reference, mean over each step, (n − 1,) [K]."""
        return (self.warming[1:] + self.warming[:-1]) / 2

    @property
    def days(self) -> float:
        """Length of the record [days]."""
        return (self.observed.size - 1) * self.step_days


def exchange_data(
    inside: AirRecord,
    outside: AirRecord,
    *,
    events: tuple[Event, ...] = (),
    every_hours: int = 1,
    reference_celsius: float | None = None,
) -> ExchangeData | None:
    """Bring a pair of records onto one grid.

    Parameters
    ----------
    inside, outside : AirRecord
    events : tuple of Event
        Openings reset the state and mask the next 12 h; a move or another room logger begins a new offset b, another
        inside logger a new scale.
    every_hours : int [h]
        Step of the grid; the hours around each time are averaged.
    reference_celsius : float, optional [°C]
        Default: the mean inside temperature of the hours that both records cover.

    Returns
    -------
    ExchangeData or None
        None where the records do not overlap by at least three steps.
    """
    base = _hourly_base(inside, outside)
    if base is None or len(base) < 3 * every_hours:
        return None
    notes = _temperature_notes(inside, outside)
    reading = base["inside"].to_numpy(copy=True)
    both = ~np.isnan(reading) & ~np.isnan(base["pressure"].to_numpy())
    if both.sum() < 3 * every_hours:
        return None
    inside_celsius = _inside_temperature(base)
    if reference_celsius is None:
        reference_celsius = float(inside_celsius[both].mean())

    hours = np.arange(len(base))
    pressure = base["pressure"].to_numpy()
    known = ~np.isnan(pressure)
    drive = 100 * np.interp(hours, hours[known], pressure[known]) / saturation_vapour_pressure_pa(inside_celsius)
    longest_known = max(SHORT_GAP_HOURS, bridge(pd.DatetimeIndex(outside.readings.index)) / pd.Timedelta(hours=1))
    unknown = ~known & (_gap_lengths(known) > longest_known)
    stray = np.where(unknown, 2 * WEATHER_DAYS * np.var(drive[known]), 0.0)
    scaling = scaling_of_leakage(inside_celsius, reference_celsius)
    scale = MoistureScale(reference_celsius)

    first_hour = seconds_utc(pd.DatetimeIndex(base.index[:1]))[0] / 3600
    openings = [_hours_after(event.time_utc, first_hour) for event in events if event.kind in OPENING_KINDS]
    for opened in openings:
        reading[(hours >= opened) & (hours <= opened + SETTLING_HOURS)] = np.nan
    moisture = scale.from_rh(reading, inside_celsius)
    read = ~np.isnan(reading)
    if not read.any():
        return None
    drive = drive + np.interp(hours, hours[read], (moisture - reading)[read])
    moves = [event.time_utc for event in events if event.kind == "moved"]
    swaps = [event.time_utc for event in events if event.kind == "logger changed"]
    room_hours = _change_hours((*moves, *outside.logger_changes), first_hour, hours[-1])
    inside_hours = _change_hours((*swaps, *inside.logger_changes), first_hour, hours[-1])

    n = len(base) // every_hours
    used = n * every_hours
    centre = (every_hours - 1) / 2 + every_hours * np.arange(n, dtype=np.float64)
    pair = np.searchsorted(room_hours, centre, side="right")
    logger = np.searchsorted(inside_hours, centre, side="right")
    of_logger = np.searchsorted(inside_hours, hours[:used], side="right") == np.repeat(logger, every_hours)
    usable = ~np.isnan(reading[:used]) & of_logger
    count = usable.reshape(n, every_hours).sum(axis=1)
    # Where an hour has no reading its temperature does not count either; an empty block takes all its hours.
    counted = np.where(np.repeat(count, every_hours) > 0, usable, True)

    start = np.zeros(n, dtype=bool)
    start[[0, *(int(np.ceil(max(h - centre[0], 0) / every_hours)) for h in openings if h <= centre[-1])]] = True
    return ExchangeData(
        start_utc=base.index[0] + pd.Timedelta(hours=(every_hours - 1) / 2),
        step_days=every_hours / HOURS_PER_DAY,
        observed=_block_mean(moisture[:used], usable, n),
        n_readings=np.maximum(count, 1).astype(float),
        warming=_block_mean(inside_celsius[:used] - reference_celsius, counted, n),
        scaled_drive=_mean_between(scaling * drive, centre),
        scaling=_mean_between(scaling, centre),
        drive_now=_block_mean(drive[:used], counted, n),
        drive_variance=_mean_between(stray, centre),
        segment_start=start,
        pair=pair,
        offset_sd=np.full(room_hours.size + 1, offset_prior_sd(inside, outside)),
        inside_logger=logger,
        shift_sd=offset_prior_sd(inside, inside),
        reference_celsius=reference_celsius,
        notes=notes,
    )


def offset_prior_sd(inside: AirRecord, outside: AirRecord) -> float:
    """Return the standard deviation of b before any reading [%RH]: both hygrometers, and both thermometers.

    The thermometers enter because u carries the room's vapour to the inside temperature.
    """
    hygrometers = np.hypot(inside.uncertainty_percent, outside.uncertainty_percent) / COVERAGE_FACTOR
    return float(np.hypot(hygrometers, np.sqrt(2) * THERMOMETER_SD_KELVIN * RH_PER_KELVIN))


def _hourly_base(inside: AirRecord, outside: AirRecord) -> pd.DataFrame | None:
    """Return inside RH and temperature, room temperature and vapour pressure [Pa] on the common whole hours."""
    rh_inside, celsius_inside = hourly(inside.rh_percent), hourly(inside.temperature_celsius)
    celsius_outside = hourly(outside.temperature_celsius)
    if celsius_outside.empty:
        # Without a room temperature, room and frame are taken to be equally warm.
        known = inside.temperature_celsius.dropna()
        celsius = COMPARISON_CELSIUS if known.empty else known.reindex(outside.readings.index, method="nearest")
        pressure = hourly(vapour_pressure_pa(outside.rh_percent, celsius))
    else:
        pressure = hourly(vapour_pressure_pa(outside.rh_percent, outside.temperature_celsius))
    if rh_inside.empty or pressure.empty:
        return None
    first = max(rh_inside.index[0], pressure.index[0])
    last = min(rh_inside.index[-1], pressure.index[-1])
    if last <= first:
        return None
    index = pd.date_range(first, last, freq="h")
    columns = {
        "inside": rh_inside,
        "inside_celsius": celsius_inside,
        "outside_celsius": celsius_outside,
        "pressure": pressure,
    }
    return pd.DataFrame({name: series.reindex(index) for name, series in columns.items()})


def _temperature_notes(inside: AirRecord, outside: AirRecord) -> tuple[str, ...]:
    """Say what stands in for a temperature that was not logged."""
    without = [name for name, air in (("inside", inside), ("room", outside)) if air.temperature_celsius.isna().all()]
    if len(without) == 2:
        return (f"Neither logger gives a temperature: {COMPARISON_CELSIUS:.0f} °C is taken for frame and room.",)
    return tuple(f"The {name} logger gives no temperature: the other's is used." for name in without)


def _inside_temperature(base: pd.DataFrame) -> FloatArray:
    """Return the inside temperature of every hour [°C]: as read, across short gaps, else from the room's."""
    celsius, room = base["inside_celsius"], base["outside_celsius"]
    celsius = celsius.interpolate(limit=SHORT_GAP_HOURS, limit_area="inside")
    if celsius.isna().any() and not room.isna().all():
        warmer = (celsius - room).median()
        celsius = celsius.fillna(room + (0.0 if np.isnan(warmer) else warmer))
    filled = celsius.interpolate(limit_direction="both").fillna(COMPARISON_CELSIUS)
    return np.asarray(filled.to_numpy(), dtype=np.float64)


def _block_mean(values: FloatArray, used: BoolArray, n: int) -> FloatArray:
    """Average each of n blocks of hours over its used hours; NaN where there is none."""
    total, count = np.where(used, values, 0.0).reshape(n, -1).sum(axis=1), used.reshape(n, -1).sum(axis=1)
    mean: FloatArray = np.divide(total, count, out=np.full(n, np.nan), where=count > 0)
    return mean


def _mean_between(values: FloatArray, centre: FloatArray) -> FloatArray:
    """Average a piecewise-linear hourly series between successive centres."""
    integral = np.concatenate([[0.0], np.cumsum((values[1:] + values[:-1]) / 2)])
    return np.asarray(np.diff(np.interp(centre, np.arange(values.size), integral)) / (centre[1] - centre[0]))


def _gap_lengths(known: BoolArray) -> IntArray:
    """Return, for every hour, the length of the gap it lies in (0 where known)."""
    edges = np.flatnonzero(np.diff(np.concatenate([[True], known, [True]]).astype(int)))
    lengths = np.zeros(known.size, dtype=np.int64)
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        lengths[first:last] = last - first
    return lengths


def _hours_after(time_utc: pd.Timestamp, first_hour: float) -> float:
    """Return the hours from the first whole hour of the record to a moment."""
    return time_utc.timestamp() / 3600 - first_hour


def _change_hours(changes: tuple[pd.Timestamp, ...], first_hour: float, last: int) -> FloatArray:
    """Return when changes within the record happened [h from its first hour], in order, each once."""
    hours = np.unique([_hours_after(change, first_hour) for change in changes])
    return np.asarray(hours[(hours > 0) & (hours <= last)], dtype=np.float64)
