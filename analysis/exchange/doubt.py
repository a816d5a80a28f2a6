"""When a fit does not count: every reason for which the record cannot tell how a frame exchanges moisture."""

from __future__ import annotations

import numpy as np
import pandas as pd

from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.moisture_scale import MoistureScale
from isohume.analysis.readings import AirRecord

WIDEST_FACTOR = 3.0  # design: an interval wider than this says nothing
OFFSET_BOUND_SDS = 3.0
EVEN_ROOM_PERCENT = 1.5  # SD of the drive's daily means under which a room is called even
LIVELY_RATIO = 1.0  # SD outside over SD inside of the days' departures from the week, under which sides look exchanged
AT_ONCE_DAYS = 0.1  # a half-time under which nothing is left of a frame
LONGEST_TOLD_DAYS = 3000.0  # no record is long enough to tell longer half-times apart
# SD of the inside's daily means under which it stood still: half of what the scatter of readings (0.25 %RH) leaves in
# the mean of a day.
STILL_PERCENT = 0.03


def doubt(
    data: ExchangeData, *, half_time_days: float, interval: tuple[float, float] | None, offset_percent: float
) -> str:
    """Return why a fit does not count, empty where it does.

    Parameters
    ----------
    data : ExchangeData
    half_time_days : float [days]
    interval : (low, high) [days] or None
        Of the half-time; None where the likelihood has no peak.
    offset_percent : float [%RH]
        b of the pair of loggers in place at the end.
    """
    first, last = np.flatnonzero(np.isfinite(data.observed))[[0, -1]]
    drive = pd.Series(data.scaled_drive / data.scaling, index=data.times[1:]).iloc[first:last]
    spread = float(drive.resample("D").mean().std())
    too_long = half_time_days > LONGEST_TOLD_DAYS
    too_wide = too_long or interval is None or interval[1] > WIDEST_FACTOR * interval[0]
    even = spread < EVEN_ROOM_PERCENT
    if even and (too_wide or half_time_days < AT_ONCE_DAYS):
        return f"The room was too even: its daily means vary by only {spread:.1f} %RH (SD)."
    if half_time_days < AT_ONCE_DAYS:
        return "The inside follows the room at once: is the frame open, or was one air logged twice?"
    bound = OFFSET_BOUND_SDS * float(data.offset_sd[data.pair[-1]])
    if abs(offset_percent) > bound:
        return (
            f"The loggers would have to differ by {offset_percent:+.1f} %RH, more than their uncertainty "
            f"allows (±{bound:.1f} %RH): one of them is wrong, or the inside is not fed by this room."
        )
    if too_wide:
        return _why_wide(data, room_spread=spread, too_long=too_long)
    return ""


def _why_wide(data: ExchangeData, *, room_spread: float, too_long: bool) -> str:
    """Say why the half-time has no useful interval although the room varied."""
    inside_spread = _inside_spread(data)
    if inside_spread < STILL_PERCENT:
        return (
            f"The inside stood still: its daily means vary by only {inside_spread:.2f} %RH (SD), those of the room by "
            f"{room_spread:.1f} %RH. Is the sensor stuck, or is one value repeated? If not, the frame is tighter than "
            "this record can show."
        )
    if too_long:
        return f"The inside hardly follows the room: a half-time beyond {LONGEST_TOLD_DAYS:.0f} days cannot be told."
    first, last = np.flatnonzero(np.isfinite(data.observed))[[0, -1]]
    return (
        f"Too short: {(last - first) * data.step_days:.0f} days with a room that varied by {room_spread:.1f} %RH (SD "
        f"of daily means) leave an interval wider than a factor {WIDEST_FACTOR:.0f}."
    )


def _inside_spread(data: ExchangeData) -> float:
    """Return the SD of the inside's daily means, as read or as moisture, whichever stood more still [%RH]."""
    held = np.isfinite(data.observed)
    celsius = (data.reference_celsius + data.warming)[held]
    as_read = np.full(data.observed.shape, np.nan)
    as_read[held] = MoistureScale(data.reference_celsius).to_rh(data.observed[held], celsius)
    by_day = [pd.Series(course, index=data.times).resample("D").mean() for course in (data.observed, as_read)]
    return min(float(daily.std()) for daily in by_day)


def liveliness(inside: AirRecord, outside: AirRecord) -> float:
    """Return SD outside over SD inside of the daily means' departures from their running week."""
    spreads = []
    for record in (outside, inside):
        daily = record.rh_percent.resample("D").mean()
        spreads.append(float((daily - daily.rolling(7, center=True, min_periods=4).mean()).std()))
    return spreads[0] / spreads[1] if spreads[1] > 0 else float("inf")
