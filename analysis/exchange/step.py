"""The half-time from days instead of months: a frame that met a step in its climate.

A frame carried from one climate into another, or a room whose humidity was changed on purpose, shows in days what an
even room does not show in a year. The panel may be taken to have been in balance with the air inside before the step,
which the record of an ordinary month never allows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from isohume.analysis.exchange.drive import WEATHER_DAYS, ExchangeData, exchange_data
from isohume.analysis.exchange.fit import CannotTell, FittedExchange, between, fit_data
from isohume.analysis.exchange.model import FloatArray
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord

# Hours of the calm before the step that fix where the inside came from.
BEFORE = pd.Timedelta(hours=24)
# A frame left alone for some weeks: its panel is within half a per cent of the air around it.
IN_BALANCE_SD_PERCENT = 0.5
SHORTEST_AFTER = pd.Timedelta(days=1)
# Before the record the room is taken to have been as in its last day before the step, give or take this much at a
# time, for so long. It ties the inside to the room and so tells the offset between the loggers.
EARLIER_DAYS, EARLIER_SD_PERCENT = 60.0, 1.5
EVERY_HOURS = 3


def half_time_after_step(
    inside: AirRecord,
    outside: AirRecord,
    *,
    step_utc: pd.Timestamp,
    until_utc: pd.Timestamp | None = None,
    frame: FrameFacts | None = None,
) -> FittedExchange | CannotTell:
    """Fit the exchange to the days around a step in the climate around the frame.

    Parameters
    ----------
    inside, outside : AirRecord
        Outside: the air around the frame, wherever the frame was.
    step_utc : Timestamp
        When the climate changed. The frame must have hung undisturbed before.
    until_utc : Timestamp, optional
        End of the days to use; by default the end of the record.
    frame : FrameFacts, optional

    Returns
    -------
    FittedExchange or CannotTell
        With the calibrated interval; the slow mode is hardly seen in days, and its figures carry wide intervals.
    """
    end = min(inside.readings.index[-1], outside.readings.index[-1]) if until_utc is None else until_utc
    if end - step_utc < SHORTEST_AFTER:
        hours = (end - step_utc) / pd.Timedelta(hours=1)
        return CannotTell(why=f"Too short: {hours:.0f} hours after the step; at least 24 are needed.")
    first = step_utc - BEFORE
    events = () if frame is None else tuple(e for e in frame.events if first <= e.time_utc <= end)
    data = exchange_data(
        between(inside, first, end), between(outside, first, end), events=events, every_hours=EVERY_HOURS
    )
    if data is None:
        return CannotTell(why="Inside and room have no readings in common around the step.")
    return fit_data(_with_earlier_weeks(data))


def _with_earlier_weeks(data: ExchangeData) -> ExchangeData:
    """Return the record with the calm weeks before it: a known room, no readings inside."""
    n = round(EARLIER_DAYS / data.step_days)
    calm = max(round(BEFORE / pd.Timedelta(days=data.step_days)) - 1, 1)

    def ahead(values: FloatArray, earlier: float) -> FloatArray:
        return np.concatenate([np.full(n, earlier), values])

    scaling = float(data.scaling[:calm].mean())
    drive = float((data.scaled_drive[:calm] / data.scaling[:calm]).mean())
    start = np.zeros(n + data.observed.size, dtype=bool)
    start[0] = True
    start[n + 1 :] = data.segment_start[1:]
    return replace(
        data,
        start_utc=data.start_utc - pd.Timedelta(days=n * data.step_days),
        observed=ahead(data.observed, np.nan),
        n_readings=ahead(data.n_readings, 1.0),
        warming=ahead(data.warming, float(data.warming[: calm + 1].mean())),
        scaled_drive=ahead(data.scaled_drive, scaling * drive),
        scaling=ahead(data.scaling, scaling),
        drive_now=ahead(data.drive_now, drive),
        drive_variance=ahead(data.drive_variance, 2 * WEATHER_DAYS * EARLIER_SD_PERCENT**2),
        segment_start=start,
        pair=np.concatenate([np.full(n, data.pair[0]), data.pair]),
        inside_logger=np.concatenate([np.full(n, data.inside_logger[0]), data.inside_logger]),
        panel_start_sd=IN_BALANCE_SD_PERCENT,
    )
