"""How a frame answers its room: a lasting step, and swings of different length."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.results import BufferingFinding, ExchangeFinding, Gain, Ratio
from isohume.dashboard import theme

SWINGS = {"1d": "a day", "7d": "a week", "30d": "a month", "1y": "a year"}
# The step that the picture shows: a room that falls and stays there.
STEP_FROM_PERCENT, STEP_TO_PERCENT = 50.0, 40.0


def measured_ratios(found: BufferingFinding) -> dict[str, Ratio]:
    """Return which measured ratio stands beside which modelled gain."""
    daily = found.daily_temperature_removed if found.daily_temperature_removed.ratio is not None else found.daily
    return {"1d": daily, "7d": found.weekly, "1y": found.seasonal}


def step_figure(curve: pd.DataFrame, found: ExchangeFinding) -> go.Figure:
    """Draw the inside after the room fell from 50 to 40 %RH and stayed there, with its 95 % interval.

    `curve` holds the share that has come in by days after the step: columns share, low, high.
    """
    days = curve.index.to_numpy(dtype=np.float64)
    fall = STEP_FROM_PERCENT - STEP_TO_PERCENT
    course, slow, fast = (STEP_FROM_PERCENT - fall * curve[name].to_numpy() for name in ("share", "low", "high"))
    figure = theme.new_figure(height=300)
    figure.add_scatter(
        x=[-days[-1] / 20, 0, 0, days[-1]],
        y=[STEP_FROM_PERCENT, STEP_FROM_PERCENT, STEP_TO_PERCENT, STEP_TO_PERCENT],
        mode="lines", name="Room", line={"color": theme.ROOM_COLOUR, "width": 1.4}, hoverinfo="skip",
    )  # fmt: skip
    figure.add_scatter(x=days, y=slow, mode="lines", line={"width": 0}, showlegend=False, hoverinfo="skip")
    figure.add_scatter(
        x=days, y=fast, mode="lines", line={"width": 0}, fill="tonexty", fillcolor=theme.INSIDE_VEIL,
        name="95 % interval", hoverinfo="skip",
    )  # fmt: skip
    figure.add_scatter(
        x=days, y=course, mode="lines", name="Inside", line={"color": theme.INSIDE_COLOUR, "width": 2.6},
        hovertemplate="%{y:.1f} %RH after %{x:.1f} days<extra></extra>",
    )  # fmt: skip
    half = found.half_time_days
    if half is not None:
        halfway = (STEP_FROM_PERCENT + STEP_TO_PERCENT) / 2
        dotted = {"color": theme.INK, "width": 1, "dash": "2px,3px"}
        figure.add_shape(type="line", x0=half, x1=half, y0=STEP_TO_PERCENT, y1=halfway, line=dotted)
        figure.add_shape(type="line", x0=0, x1=half, y0=halfway, y1=halfway, line=dotted)
        figure.add_annotation(
            x=half, y=halfway, text=f"half-time {half:.3g} days", showarrow=False, xanchor="left", yanchor="bottom",
            xshift=6, font={"size": 12, "color": theme.INK},
        )  # fmt: skip
    figure.update_layout(
        hovermode="closest",
        xaxis={
            "title": {"text": "Days after the room’s step"},
            "fixedrange": True,
            "range": [-days[-1] / 20, days[-1]],
        },
        yaxis={"title": {"text": "Relative humidity [%]"}, "fixedrange": True, "range": [39.2, 51]},
    )
    return figure


def gain_figure(gains: Mapping[str, Gain], measured: Mapping[str, Ratio] | None = None) -> go.Figure:
    """Draw each gain with its 95 % interval as a bar of what comes in, and beside it what was measured, 0 to 100 %.

    A measured ratio (room over inside) of r is drawn at 100/r.
    """
    shown = [(key, name, gains[key]) for key, name in reversed(SWINGS.items()) if key in gains]
    names = [f"Swing of {name}" for _, name, _ in shown]
    figure = theme.new_figure(height=92 + 40 * len(shown), bargap=0.5, hovermode="closest")
    figure.add_bar(
        x=[100.0] * len(shown), y=names, orientation="h", marker={"color": theme.HAIRLINE}, hoverinfo="skip",
        showlegend=False,
    )  # fmt: skip
    figure.add_bar(
        x=[100 * gain.gain for _, _, gain in shown],
        y=names,
        orientation="h",
        name="By the model",
        marker={"color": theme.INSIDE_COLOUR},
        error_x=_whiskers([(gain.gain, gain.low, gain.high) for _, _, gain in shown]),
        hovertemplate="%{y}: %{x:.1f} % comes in, by the model<extra></extra>",
    )
    # Larger ratios are smaller shares: the ends of the interval change places.
    seen: list[tuple[str, float, float | None, float | None]] = [
        (name, 1 / ratio.ratio, 1 / ratio.high if ratio.high else None, 1 / ratio.low if ratio.low else None)
        for key, name, _ in shown
        if (ratio := (measured or {}).get(key)) is not None and ratio.ratio
    ]
    if seen:
        figure.add_scatter(
            x=[100 * share for _, share, _, _ in seen],
            y=[f"Swing of {name}" for name, _, _, _ in seen],
            mode="markers",
            name="As measured",
            marker={"symbol": "diamond", "size": 11, "color": theme.SHEET, "line": {"color": theme.INK, "width": 2}},
            error_x=_whiskers([(share, low, high) for _, share, low, high in seen]),
            hovertemplate="%{y}: %{x:.1f} % of the room’s swing was measured inside<extra></extra>",
        )
    figure.update_layout(
        barmode="overlay",
        margin={"r": 32},
        xaxis={
            "range": [0, 100],
            "ticksuffix": " %",
            "title": {"text": "Share of the room’s swing that comes in"},
            "fixedrange": True,
        },
        yaxis={"showgrid": False, "fixedrange": True, "tickfont": {"color": theme.INK, "size": 13}},
    )
    return figure


def _whiskers(intervals: list[tuple[float, float | None, float | None]]) -> dict[str, Any]:
    return {
        "array": [100 * ((value if high is None else high) - value) for value, _, high in intervals],
        "arrayminus": [100 * (value - (value if low is None else low)) for value, low, _ in intervals],
        "color": theme.INK,
        "thickness": 1.5,
        "width": 5,
    }
