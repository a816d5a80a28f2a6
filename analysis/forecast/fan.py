"""The inside ahead: every member its own parameters, state, offset and room; and when the fan leaves the band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.exchange.filter import simulate_inside
from isohume.analysis.exchange.fit import FittedExchange
from isohume.analysis.exchange.model import ExchangeParameters
from isohume.analysis.forecast.room import RoomEnsemble
from isohume.analysis.forecast.room_courses import FloatArray

FAN_PERCENTILES = (10.0, 50.0, 90.0)
NORMAL_90 = 1.281552  # quantile of the standard normal distribution that leaves 10 % above
# Distinct parameter sets in an ensemble; each serves several rooms.
N_PARAMETER_SETS = 50
MEAN_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Fan:
    """Courses of the inside from `start` on, day by day.

    Attributes
    ----------
    members : (n_days + 1, n_members) array [%RH]
        Daily means as the inside logger would report them, without its noise.
    reading_sd_percent : float [%RH]
        Scatter of single readings about their day's mean.
    """

    start: pd.Timestamp
    members: FloatArray
    reading_sd_percent: float

    @property
    def dates(self) -> pd.DatetimeIndex:
        """Times of the rows (UTC)."""
        return pd.date_range(self.start, periods=len(self.members), freq="24h", name="time_utc")

    def series(self) -> pd.DataFrame:
        """Return median and 10-90 % fan of the daily means, and the fan of single readings [%RH]."""
        low, median, high = np.percentile(self.members, FAN_PERCENTILES, axis=1)
        reading_low, reading_high = self.reading_fan()
        columns = {
            "median": median,
            "low10": low,
            "high90": high,
            "reading_low10": reading_low,
            "reading_high90": reading_high,
        }
        return pd.DataFrame(columns, index=self.dates)

    def reading_fan(self) -> tuple[FloatArray, FloatArray]:
        """Return the 10 and 90 % limits of single readings [%RH], (n_days + 1,) each.

        The scatter of a reading is independent of the course that the day's mean takes: on either side of the median
        the two distances add as standard deviations do. Exact for a normal fan, and for no spread at all.
        """
        low, median, high = np.percentile(self.members, FAN_PERCENTILES, axis=1)
        scatter = NORMAL_90 * self.reading_sd_percent
        return median - np.hypot(median - low, scatter), median + np.hypot(high - median, scatter)


def inside_fan(
    fitted: FittedExchange,
    room: RoomEnsemble,
    *,
    reading_sd_percent: float,
    rng: np.random.Generator,
) -> Fan:
    """Run the fitted frame through every course of the room.

    Parameters
    ----------
    fitted : FittedExchange
        Its filtered end state is where every member starts; parameters carry their calibrated uncertainty.
    room : RoomEnsemble
    reading_sd_percent : float [%RH]
    rng : Generator
    """
    n_rows, n_members = room.drive_percent.shape
    n_states = fitted.parameters.n_states
    sets = fitted.sample_parameters(rng, min(N_PARAMETER_SETS, n_members))
    parameters = [sets[member % len(sets)] for member in range(n_members)]
    start = rng.multivariate_normal(fitted.end_state, fitted.end_covariance, size=n_members, method="eigh")
    offset, response = start[:, n_states], start[:, n_states + 1]
    if room.offset_sd_percent is not None:
        # Another room, another logger: its offset is open anew, that of the inside logger stays within b.
        offset = offset + rng.normal(0, room.offset_sd_percent, n_members)
    members, _ = simulate_inside(
        parameters,
        start[:, :n_states],
        room.drive_percent + _disturbance(parameters, (n_rows, n_members), rng),
        room.temperature_celsius,
        step_days=1.0,
        reference_celsius=fitted.reference_celsius,
        offset_percent=offset,
        temperature_response=response,
    )
    return Fan(start=fitted.end_utc, members=members, reading_sd_percent=reading_sd_percent)


def _disturbance(parameters: list[ExchangeParameters], shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    """Return the model's random disturbance of the air as an equal disturbance of the drive [%RH], day by day."""
    per_member = np.array([frame.process_percent_per_sqrt_day * frame.tau_leak for frame in parameters])
    disturbance: FloatArray = rng.standard_normal(shape) * per_member
    return disturbance


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """When the trailing 7-day mean leaves the band.

    Attributes
    ----------
    earliest, likely : Timestamp or None
        First date by which 10 % and 50 % of the members have had their 7-day mean outside; None if never.
    chance_at_horizon : float
        Share of the members that have had it outside by the end.
    outside_now : bool
        Whether the present 7-day mean is outside.
    back_by : Timestamp or None
        First date from which the median 7-day mean is inside again, if it is outside now.
    """

    earliest: pd.Timestamp | None
    likely: pd.Timestamp | None
    chance_at_horizon: float
    outside_now: bool
    back_by: pd.Timestamp | None


def passage(fan: Fan, recent_days: FloatArray, *, low: float, high: float) -> Passage:
    """Find the first passage of the trailing 7-day mean out of the band.

    Parameters
    ----------
    fan : Fan
    recent_days : (k,) array [%RH]
        Daily means of the readings before `fan.start`, newest last; the last six complete the first means. NaN and
        missing days are left out of the mean.
    low, high : float [%RH]
        The band; outside is strictly below or above.
    """
    n_members = fan.members.shape[1]
    before = np.full(MEAN_DAYS - 1, np.nan)
    recent = recent_days[-(MEAN_DAYS - 1) :]
    before[before.size - recent.size :] = recent
    days = np.concatenate([np.tile(before[:, None], n_members), fan.members])
    windows = np.lib.stride_tricks.sliding_window_view(days, MEAN_DAYS, axis=0)
    means = np.nanmean(windows, axis=2)
    outside = (means < low) | (means > high)
    share = np.logical_or.accumulate(outside, axis=0).mean(axis=1)
    median = np.median(means, axis=1)
    median_inside = (median >= low) & (median <= high)
    outside_now = not bool(median_inside[0])
    return Passage(
        earliest=_first(fan, share >= 0.1),
        likely=_first(fan, share >= 0.5),
        chance_at_horizon=float(share[-1]),
        outside_now=outside_now,
        back_by=_first(fan, median_inside) if outside_now else None,
    )


def _first(fan: Fan, holds: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> pd.Timestamp | None:
    return pd.Timestamp(fan.dates[int(holds.argmax())]) if holds.any() else None
