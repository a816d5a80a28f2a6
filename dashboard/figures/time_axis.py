"""Times for the screen: Plotly knows no zones, so it is given the wall clock of the site as plain numbers."""

from __future__ import annotations

import numpy as np
import pandas as pd

from isohume.dashboard.thinning import FloatArray


def wall_clock_ms(seconds_utc: FloatArray, zone: str) -> FloatArray:
    """Turn UTC moments [s since 1970] into the wall clock of `zone` [ms, as if it were UTC], (n,) float64.

    In the repeated autumn hour the wall clock runs twice through the same numbers.
    """
    if seconds_utc.size == 0:
        return np.empty(0)
    utc = pd.DatetimeIndex(pd.to_datetime(np.round(seconds_utc).astype(np.int64), unit="s", utc=True))
    wall = utc.tz_convert(zone).tz_localize(None)
    return wall.as_unit("ms").asi8.astype(np.float64)


def seconds_from_wall_clock(text: str, zone: str) -> float:
    """Turn a time that Plotly reports back, such as `2026-03-01 10:30:00.5`, into UTC [s since 1970].

    The first of two equal autumn hours is meant; the missing spring hour counts forward.
    """
    wall = pd.Timestamp(text)
    return float(wall.tz_localize(zone, ambiguous=True, nonexistent="shift_forward").timestamp())
