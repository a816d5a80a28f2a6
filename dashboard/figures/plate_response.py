"""How far a panel has followed a change of humidity, through its thickness."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from isohume.analysis.plate import plate_step_response, plate_time_constant
from isohume.dashboard import theme

HEIGHT = 300
N_POINTS = 121
# The slower of the two curves is drawn until it has all but arrived.
TIME_CONSTANTS_SHOWN = 4.0


def plate_response_figure(thickness_mm: float, *, faces_open: int) -> go.Figure:
    """Draw the share of the change that a panel has followed, with one face sealed and with both open.

    Parameters
    ----------
    thickness_mm : float [mm]
    faces_open : 1 or 2
        The case that holds for this panel, drawn heavier.
    """
    longest = plate_time_constant(thickness_mm, faces_open=1).total_seconds() / 86400 * TIME_CONSTANTS_SHOWN
    elapsed = longest * np.linspace(0, 1, N_POINTS) ** 2  # close at first, where the curve is steep
    figure = theme.new_figure(height=HEIGHT, dragmode=False)
    cases: tuple[tuple[int, str, str], ...] = ((1, "one face sealed", "solid"), (2, "both faces open", "dash"))
    for faces, name, dash in cases:
        share = plate_step_response(elapsed, thickness_mm=thickness_mm, faces_open=2 if faces == 2 else 1)
        mine = faces == faces_open
        figure.add_scatter(
            x=elapsed, y=100 * share, mode="lines", name=f"{name}{' (this panel)' if mine else ''}",
            line={"color": theme.INSIDE_COLOUR if mine else theme.ROOM_COLOUR, "width": 2.6 if mine else 1.4,
                  "dash": dash},
            hovertemplate="%{y:.0f} %",
        )  # fmt: skip
    figure.update_layout(
        xaxis={
            "title": {"text": "Days after the change"}, "fixedrange": True, "rangemode": "tozero",
            "hoverformat": ".1f",
        },
        yaxis={"title": {"text": "Share of the change [%]"}, "fixedrange": True, "range": [0, 102]},
    )  # fmt: skip
    return figure
