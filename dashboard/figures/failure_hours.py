"""How long each frame holds when its room has failed: from the earliest to the likely hour, soonest on top."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from isohume.dashboard import theme
from isohume.dashboard.papers.failure import HOURS_PER_DAY, FrameInFailure

MOST_FRAMES = 40
ROW_PX, EDGES_PX = 26, 96


def failure_figure(frames: Sequence[FrameInFailure]) -> go.Figure:
    """Draw the frames that leave their band: earliest and likely [days after the failure], a line between."""
    leaving = [one for one in frames if one.holds.hours_earliest is not None][:MOST_FRAMES]
    names = [theme.as_plot_text(one.facts.frame_id) for one in leaving]
    first = [(one.holds.hours_earliest or 0.0) / HOURS_PER_DAY for one in leaving]
    likely = [None if one.holds.hours_likely is None else one.holds.hours_likely / HOURS_PER_DAY for one in leaving]
    reach = max([*first, *(end for end in likely if end is not None), 1.0])
    horizon = max((one.holds.horizon_hours / HOURS_PER_DAY for one in leaving), default=0.0)
    figure = theme.new_figure(height=EDGES_PX + ROW_PX * max(len(leaving), 2), dragmode=False, hovermode="closest")
    for name, start, end in zip(names, first, likely, strict=True):
        figure.add_scatter(
            x=[start, horizon if end is None else end], y=[name, name], mode="lines", showlegend=False,
            hoverinfo="skip",
            line={"color": theme.INSIDE_COLOUR, "width": 3, "dash": "dot" if end is None else "solid"},
        )  # fmt: skip
    figure.add_scatter(
        x=first, y=names, mode="markers", name="Earliest: one course in ten has left",
        marker={"symbol": "diamond", "size": 11, "color": theme.OUTSIDE_BAND_COLOUR},
        hovertemplate="%{y}: earliest after %{x:.1f} days<extra></extra>",
    )  # fmt: skip
    known = [(name, end) for name, end in zip(names, likely, strict=True) if end is not None]
    figure.add_scatter(
        x=[end for _, end in known], y=[name for name, _ in known], mode="markers", name="Likely: every second course",
        marker={"symbol": "circle-open", "size": 11, "color": theme.INK, "line": {"width": 2}},
        hovertemplate="%{y}: likely after %{x:.1f} days<extra></extra>",
    )  # fmt: skip
    figure.update_layout(
        xaxis={
            "title": {"text": "Days after the failure"}, "fixedrange": True, "showgrid": True,
            "range": [-0.025 * reach, 1.04 * reach],
        },
        yaxis={"autorange": "reversed", "fixedrange": True, "type": "category", "showgrid": False},
    )  # fmt: skip
    return figure
