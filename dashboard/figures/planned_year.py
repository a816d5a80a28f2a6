"""The year of a room through a frame that is not built: daily means, the band, the lowest week."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.planned_year import PlannedYear
from isohume.analysis.readings import seconds_utc
from isohume.dashboard import theme
from isohume.dashboard.figures.record import humidity_range
from isohume.dashboard.figures.time_axis import wall_clock_ms
from isohume.dashboard.thinning import FloatArray

HEIGHT = 360
WEEK = pd.Timedelta(days=7)


def planned_year_figure(
    year: PlannedYear,
    room_rh_percent: pd.Series[float],
    *,
    band: tuple[float, float] | None,
    wanted_percent: float | None,
    zone: str,
) -> go.Figure:
    """Draw a planned year against the room's, as daily means; a gap in the room's record stays open.

    Parameters
    ----------
    year : PlannedYear
    room_rh_percent : Series [%RH]
        As recorded or typed.
    band : tuple or None [%RH]
    wanted_percent : float or None [%RH]
        The wanted winter minimum.
    zone : str
        Of the site: its days are meant.
    """
    figure = theme.new_figure(height=HEIGHT)
    drawn: list[FloatArray] = []
    for name, series, colour, width, dash in (
        ("Room, daily mean", room_rh_percent, theme.ROOM_COLOUR, 1.3, "solid"),
        ("Inside as reckoned", year.rh_percent, theme.INSIDE_COLOUR, 2.4, "dash"),
    ):
        daily = series.tz_convert(zone).resample("D").mean()
        noon = pd.DatetimeIndex(daily.index) + pd.Timedelta(hours=12)
        values = daily.to_numpy(dtype=np.float32)
        drawn.append(np.asarray(daily, dtype=np.float64))
        figure.add_scatter(
            x=wall_clock_ms(seconds_utc(noon), zone), y=values, mode="lines", name=name, connectgaps=False,
            line={"color": colour, "width": width, "dash": dash}, hovertemplate="%{y:.1f} %RH",
        )  # fmt: skip
    if band is not None:
        figure.add_hrect(*band, fillcolor=theme.BAND_COLOUR, opacity=0.1, line_width=0, layer="below")
        for limit in band:
            figure.add_hline(limit, line={"color": theme.BAND_COLOUR, "width": 1}, opacity=0.7, layer="below")
    if wanted_percent is not None:
        figure.add_hline(wanted_percent, line={"color": theme.INK, "width": 1, "dash": "2px,4px"})
        figure.add_annotation(
            x=0, xref="paper", xanchor="left", y=wanted_percent, yanchor="top", showarrow=False,
            text=f"wanted minimum {wanted_percent:g} %RH", font={"size": 12, "color": theme.INK},
            bgcolor="rgba(252,251,248,.85)",
        )  # fmt: skip
    _weeks(figure, year, zone)
    figure.update_layout(
        xaxis={"type": "date", "fixedrange": True, "hoverformat": "%-d %b %Y"},
        yaxis={
            "title": {"text": "Relative humidity [%]"},
            "fixedrange": True,
            "range": humidity_range(drawn, band),
        },
        dragmode=False,
    )
    return figure


def _weeks(figure: go.Figure, year: PlannedYear, zone: str) -> None:
    """Mark the driest and the dampest seven days at their middle."""
    ends = [year.lowest7d_until, year.highest7d_until]
    middles = np.array([(end - WEEK / 2).timestamp() for end in ends])
    values = [year.lowest7d_percent, year.highest7d_percent]
    figure.add_scatter(
        x=wall_clock_ms(middles, zone), y=values, mode="markers+text", name="Driest and dampest 7 days",
        text=[f"{value:.1f}" for value in values], textposition=["bottom center", "top center"],
        textfont={"size": 12, "color": theme.INK}, showlegend=False, hoverinfo="skip",
        marker={"symbol": ["triangle-up", "triangle-down"], "size": 9, "color": theme.INK},
    )  # fmt: skip
