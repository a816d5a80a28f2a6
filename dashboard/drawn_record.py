"""The readings of one frame made ready to be drawn; each quantity is worked out when a figure first asks for it."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import pandas as pd

from isohume.analysis.moving_average import centred_mean
from isohume.analysis.psychrometrics import dew_point_celsius
from isohume.analysis.readings import RH, TEMPERATURE, AirRecord, FlagRun, hourly
from isohume.dashboard.thinning import Clock, Trace

MONTH = pd.Timedelta(days=30)
NOTHING = Trace(seconds=np.empty(0), quantity=np.empty(0), bridge_seconds=0.0)


class DrawnRecord:
    """Implements `isohume.dashboard.views.Record` over two air records."""

    def __init__(self, inside: AirRecord | None, outside: AirRecord | None) -> None:
        self._inside, self._outside = inside, outside

    @cached_property
    def _inside_clock(self) -> Clock | None:
        return None if self._inside is None else Clock.of(pd.DatetimeIndex(self._inside.readings.index))

    @cached_property
    def _outside_clock(self) -> Clock | None:
        return None if self._outside is None else Clock.of(pd.DatetimeIndex(self._outside.readings.index))

    @cached_property
    def inside_rh(self) -> Trace:
        """Humidity inside [%RH]."""
        return _trace(self._inside, RH, self._inside_clock)

    @cached_property
    def room_rh(self) -> Trace:
        """Humidity of the room [%RH]."""
        return _trace(self._outside, RH, self._outside_clock)

    @cached_property
    def inside_temperature(self) -> Trace:
        """Temperature inside [°C]."""
        return _trace(self._inside, TEMPERATURE, self._inside_clock)

    @cached_property
    def room_temperature(self) -> Trace:
        """Temperature of the room [°C]."""
        return _trace(self._outside, TEMPERATURE, self._outside_clock)

    @cached_property
    def inside_dew_point(self) -> Trace:
        """Dew point inside, from hourly means [°C]."""
        return _dew_point(self._inside)

    @cached_property
    def room_dew_point(self) -> Trace:
        """Dew point of the room, from hourly means [°C]."""
        return _dew_point(self._outside)

    @cached_property
    def inside_mean30d(self) -> Trace:
        """Centred 30-day mean inside [%RH]."""
        return _mean(self._inside)

    @cached_property
    def room_mean30d(self) -> Trace:
        """Centred 30-day mean of the room [%RH]."""
        return _mean(self._outside)

    @cached_property
    def flags(self) -> tuple[tuple[str, FlagRun], ...]:
        """Which flags stand beside readings, and when: side (inside, room) and run."""
        sides = (("inside", self._inside), ("room", self._outside))
        return tuple((side, run) for side, air in sides if air is not None for run in air.flag_runs)

    @property
    def span(self) -> tuple[float, float] | None:
        """First and last moment of the inside, of the room where there is no inside [s since 1970]."""
        for trace in (self.inside_rh, self.room_rh):
            if trace.seconds.size:
                return float(trace.seconds[0]), float(trace.seconds[-1])
        return None


def _trace(air: AirRecord | None, column: str, clock: Clock | None) -> Trace:
    return NOTHING if air is None else Trace.of(air.readings[column], clock=clock)


def _dew_point(air: AirRecord | None) -> Trace:
    if air is None:
        return NOTHING
    rh, temperature = hourly(air.rh_percent), hourly(air.temperature_celsius)
    if rh.empty or temperature.empty:
        return NOTHING
    return Trace.of(dew_point_celsius(rh, temperature.reindex(rh.index)))


def _mean(air: AirRecord | None) -> Trace:
    if air is None:
        return NOTHING
    hours = hourly(air.rh_percent)
    return NOTHING if hours.empty else Trace.of(centred_mean(hours, window=MONTH))
