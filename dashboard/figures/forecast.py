"""Where the inside is heading: the median of the courses and the range that holds eight in ten."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.readings import seconds_utc
from isohume.dashboard import theme
from isohume.dashboard.figures.record import humidity_range
from isohume.dashboard.figures.time_axis import wall_clock_ms


def forecast_figure(
    series: pd.DataFrame, *, band: tuple[float, float] | None, zone: str, dates: Mapping[str, pd.Timestamp | None]
) -> go.Figure:
    """Draw the fan of `series` (daily UTC index; columns median, low10, high90 [%RH]) and name some `dates` in it."""
    times = wall_clock_ms(seconds_utc(pd.DatetimeIndex(series.index)), zone)
    figure = theme.new_figure(height=300)
    low, median, high = (series[name].to_numpy(dtype=np.float32) for name in ("low10", "median", "high90"))
    figure.add_scatter(x=times, y=high, mode="lines", line={"width": 0}, showlegend=False, name="90 % lie below")
    figure.add_scatter(
        x=times, y=low, mode="lines", line={"width": 0}, fill="tonexty", fillcolor="rgba(204,121,167,0.25)",
        name="Eight courses in ten",
    )  # fmt: skip
    figure.add_scatter(
        x=times, y=median, mode="lines", line={"color": theme.FORECAST_COLOUR, "width": 2.5, "dash": "dash"},
        name="Median course",
    )  # fmt: skip
    known = sorted((date, name) for name, date in dates.items() if date is not None)
    middle = (times[0] + times[-1]) / 2 if times.size else 0.0
    for place, (date, name) in enumerate(known):
        at = wall_clock_ms(np.array([date.timestamp()]), zone)[0]
        line = {"color": theme.INK, "width": 1, "dash": "2px,3px"}
        figure.add_shape(type="line", x0=at, x1=at, y0=0, y1=1, yref="paper", line=line)
        # Names stand in steps under each other, on the side where there is room.
        to_right = at <= middle
        figure.add_annotation(
            x=at, y=1, yref="paper", xanchor="left" if to_right else "right", yanchor="top",
            xshift=4 if to_right else -4, yshift=-15 * place, showarrow=False, text=name,
            font={"size": 12, "color": theme.INK}, bgcolor="rgba(252,251,248,0.8)",
        )  # fmt: skip
    if band is not None:
        figure.add_hrect(*band, fillcolor=theme.BAND_COLOUR, opacity=0.1, line_width=0, layer="below")
    figure.update_layout(
        xaxis={"type": "date", "fixedrange": True},
        yaxis={
            "title": {"text": "Relative humidity [%]"},
            "fixedrange": True,
            "range": humidity_range([low, high], band),
        },
    )
    figure.update_traces(hovertemplate="%{y:.1f} %RH")
    return figure
