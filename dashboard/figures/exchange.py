"""How much of a room swing reaches the inside, for swings of different length."""

from __future__ import annotations

from collections.abc import Mapping

import plotly.graph_objects as go

from isohume.analysis.results import Gain
from isohume.dashboard import theme

SWINGS = {"1d": "a day", "7d": "a week", "30d": "a month", "1y": "a year"}


def gain_figure(gains: Mapping[str, Gain]) -> go.Figure:
    """Draw each gain with its 95 % interval as a bar of what comes in, 0 to 100 %."""
    shown = [(name, gains[key]) for key, name in reversed(SWINGS.items()) if key in gains]
    names = [f"Swing of {name}" for name, _ in shown]
    percent = [100 * gain.gain for _, gain in shown]
    above = [100 * ((gain.high or gain.gain) - gain.gain) for _, gain in shown]
    below = [100 * (gain.gain - (gain.low if gain.low is not None else gain.gain)) for _, gain in shown]
    figure = theme.new_figure(height=64 + 36 * len(shown), bargap=0.45, hovermode="closest")
    figure.add_bar(
        x=[100.0] * len(shown), y=names, orientation="h", marker={"color": theme.HAIRLINE}, hoverinfo="skip",
        showlegend=False,
    )  # fmt: skip
    figure.add_bar(
        x=percent,
        y=names,
        orientation="h",
        marker={"color": theme.INSIDE_COLOUR},
        error_x={"array": above, "arrayminus": below, "color": theme.INK, "thickness": 1.5, "width": 5},
        hovertemplate="%{y}: %{x:.0f} % comes in<extra></extra>",
        showlegend=False,
    )
    figure.update_layout(
        barmode="overlay",
        margin={"t": 8, "r": 32},
        xaxis={
            "range": [0, 100],
            "ticksuffix": " %",
            "title": {"text": "Share of the room’s swing that comes in"},
            "fixedrange": True,
        },
        yaxis={"showgrid": False, "fixedrange": True, "tickfont": {"color": theme.INK, "size": 13}},
    )
    return figure
