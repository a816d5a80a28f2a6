"""What to add to a logger's readings, by humidity, as found over saturated salts."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from isohume.analysis.salts import SaltPoint
from isohume.dashboard import theme
from isohume.ingest.archive.calibration import SaltCheck

HEIGHT = 260


def salt_check_figure(points: Sequence[SaltPoint], checks: Sequence[SaltCheck]) -> go.Figure:
    """Draw the correction [%RH] against what the logger showed, with the uncertainty of each salt."""
    pairs = sorted(zip(points, checks, strict=True), key=lambda pair: pair[1].as_found_percent)
    shown = [check.as_found_percent for _, check in pairs]
    shifts = [point.rh_percent - check.as_found_percent for point, check in pairs]
    # Beyond the outermost points the nearest correction holds.
    across, along = [0.0, *shown, 100.0], [shifts[0], *shifts, shifts[-1]]
    figure = theme.new_figure(height=HEIGHT, dragmode=False, hovermode="closest")
    figure.add_scatter(
        x=across, y=along, mode="lines", name="Correction", hoverinfo="skip",
        line={"color": theme.INSIDE_COLOUR, "width": 2},
    )  # fmt: skip
    figure.add_scatter(
        x=shown, y=shifts, mode="markers", name="Salt, with its uncertainty (k = 2)",
        marker={"symbol": "square", "size": 9, "color": theme.INK},
        error_y={"type": "data", "array": [point.uncertainty_percent for point, _ in pairs], "color": theme.INK},
        customdata=[[point.salt] for point, _ in pairs],
        hovertemplate="%{customdata[0]}: shown %{x:.1f}, add %{y:.1f} %RH<extra></extra>",
    )  # fmt: skip
    figure.add_hline(0, line={"color": theme.ROOM_GREY, "width": 1, "dash": "2px,3px"})
    figure.update_layout(
        xaxis={"title": {"text": "Logger showed [%RH]"}, "range": [0, 100], "fixedrange": True},
        yaxis={"title": {"text": "To add [%RH]"}, "fixedrange": True},
    )
    return figure
