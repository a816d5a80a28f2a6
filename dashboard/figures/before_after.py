"""Half-times before and after hands were at a frame, with their intervals."""

from __future__ import annotations

from typing import Any

import numpy as np
import plotly.graph_objects as go

from isohume.analysis.before_after import Intervention, SideOfEvent
from isohume.dashboard import theme

SIDES = ("After", "Before")
ROOM_BESIDE = 1.7


def before_after_figure(found: Intervention) -> go.Figure | None:
    """Draw the half-time of both sides on one scale, tighter to the right; None where neither is known or bounded."""
    sides = {"Before": found.before, "After": found.after}
    known = {name: side for name, side in sides.items() if side is not None and _ends(side)}
    if not known:
        return None
    figure = theme.new_figure(height=170, hovermode="closest")
    for name in SIDES:
        if name not in known:
            continue
        side, colour = known[name], theme.INSIDE_COLOUR if name == "After" else theme.ROOM_COLOUR
        ends = _ends(side)
        low = side.half_time_low if side.half_time_low is not None else min(ends) / 3
        high = side.half_time_high if side.half_time_high is not None else max(ends) * 3
        is_open = side.half_time_low is None or side.half_time_high is None
        figure.add_scatter(
            x=[low, high], y=[name, name], mode="lines", showlegend=False, hoverinfo="skip",
            line={"color": colour, "width": 8, "dash": "2px,5px" if is_open else "solid"}, opacity=0.35,
        )  # fmt: skip
        if side.half_time_days is not None:
            marker: Any = {"size": 14, "color": colour, "line": {"color": theme.SHEET, "width": 2}}
            figure.add_scatter(
                x=[side.half_time_days], y=[name], mode="markers+text", marker=marker, showlegend=False,
                text=[f"{side.half_time_days:.3g} days"], textposition="top center", cliponaxis=False,
                hovertemplate="%{x:.3g} days<extra></extra>",
            )  # fmt: skip
    every = [end for trace in figure.data for end in trace.x]
    reach = [np.log10(min(every) / ROOM_BESIDE), np.log10(max(every) * ROOM_BESIDE)]
    figure.update_layout(
        margin={"t": 16},
        xaxis={"type": "log", "range": reach, "title": {"text": "Half-time [days], 95 % interval"},
               "fixedrange": True, "tickvals": [place for place in _TICKS if reach[0] <= np.log10(place) <= reach[1]]},
        yaxis={"fixedrange": True, "showgrid": False, "tickfont": {"color": theme.INK, "size": 13},
               "categoryorder": "array", "categoryarray": list(SIDES), "range": [-0.6, 1.8]},
    )  # fmt: skip
    return figure


_TICKS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 50, 70, 100, 200, 300, 500, 1000, 2000, 5000)


def _ends(side: SideOfEvent) -> list[float]:
    return [end for end in (side.half_time_low, side.half_time_days, side.half_time_high) if end]
