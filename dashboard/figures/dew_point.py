"""Dew point of the air inside and in the room: how cold a surface may be before it is wet."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from isohume.dashboard import theme
from isohume.dashboard.figures.time_axis import wall_clock_ms
from isohume.dashboard.views import Record

HEIGHT = 280
N_BUCKETS = 700


def dew_point_figure(record: Record, *, zone: str) -> go.Figure:
    """Draw both dew points and the inside temperature of the whole record."""
    figure = theme.new_figure(height=HEIGHT)
    span = record.span or (0.0, 1.0)
    for trace, name, colour, width, dash in (
        (record.inside_temperature, "Inside temperature", theme.INK, 1.0, "2px,2px"),
        (record.room_dew_point, "Dew point in the room", theme.ROOM_COLOUR, 1.2, "solid"),
        (record.inside_dew_point, "Dew point inside", theme.INSIDE_COLOUR, 2.0, "solid"),
    ):
        times, values = trace.window(*span, n_buckets=N_BUCKETS)
        figure.add_scatter(
            x=wall_clock_ms(times, zone),
            y=values.astype(np.float32),
            mode="lines",
            name=name,
            line={"color": colour, "width": width, "dash": dash},
            hovertemplate=f"%{{y:.1f}} °C<extra>{name}</extra>",
        )
    left, right = wall_clock_ms(np.array(span), zone)
    figure.update_layout(
        xaxis={"type": "date", "range": [left, right], "fixedrange": True, "hoverformat": "%-d %b %Y, %H:%M"},
        yaxis={"title": {"text": "Temperature [°C]"}, "fixedrange": True},
    )
    return figure
