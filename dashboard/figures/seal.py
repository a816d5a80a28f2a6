"""The seal check: what each date of the last year says for a leakage that changed then."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.readings import seconds_utc
from isohume.analysis.results import SealFinding
from isohume.analysis.seal.thresholds import LEAST_BEYOND_RIVALS, LEAST_LOG_LIKELIHOOD_RATIO
from isohume.dashboard import theme
from isohume.dashboard.figures.time_axis import wall_clock_ms

# Evidence runs from nothing to hundreds: below 1 it is drawn as 1.
LEAST_DRAWN = 1.0


def seal_figure(scan: pd.DataFrame, found: SealFinding, *, zone: str) -> go.Figure:
    """Draw the evidence for a change of the leakage by its date, beside what a finding needs.

    `scan` has a UTC index and the columns of `isohume.analysis.curves.Curves.seal_scan`.
    """
    times = wall_clock_ms(seconds_utc(pd.DatetimeIndex(scan.index)), zone)
    figure = theme.new_figure(height=280)
    for name, column, colour, width, dash in (
        ("Against a sound frame", "log_likelihood_ratio", theme.INSIDE_COLOUR, 2.4, "solid"),
        ("With the nearest other cause granted", "beyond_rivals", theme.FORECAST_COLOUR, 1.6, "dash"),
    ):
        figure.add_scatter(
            x=times,
            y=np.maximum(scan[column].to_numpy(), LEAST_DRAWN),
            customdata=scan[column].to_numpy().round(1),
            mode="lines+markers",
            marker={"size": 4},
            name=name,
            line={"color": colour, "width": width, "dash": dash},
            hovertemplate=f"%{{customdata}}<extra>{name}</extra>",
        )
    for limit, text in (
        (LEAST_LOG_LIKELIHOOD_RATIO, f"a finding needs {LEAST_LOG_LIKELIHOOD_RATIO:g}"),
        (LEAST_BEYOND_RIVALS, f"and {LEAST_BEYOND_RIVALS:g} with other causes granted"),
    ):
        figure.add_hline(limit, line={"color": theme.INK, "width": 1, "dash": "2px,4px"})
        figure.add_annotation(
            x=0, xref="paper", xanchor="left", y=np.log10(limit), yanchor="bottom", showarrow=False, text=text,
            font={"size": 12, "color": theme.QUIET},
        )  # fmt: skip
    if found.date is not None:
        at = wall_clock_ms(np.array([found.date.timestamp()]), zone)[0]
        figure.add_shape(
            type="line", x0=at, x1=at, y0=0, y1=1, yref="paper",
            line={"color": theme.OUTSIDE_BAND_COLOUR if found.changed else theme.INK, "width": 1.5},
        )  # fmt: skip
    highest = max(float(scan["log_likelihood_ratio"].max()), 3 * LEAST_LOG_LIKELIHOOD_RATIO)
    figure.update_layout(
        xaxis={"type": "date", "fixedrange": True, "hoverformat": "%-d %b %Y"},
        yaxis={
            "type": "log",
            "range": [0, np.log10(1.3 * highest)],
            "title": {"text": "Evidence [log likelihood ratio]"},
            "fixedrange": True,
            "tickvals": [1, 3, 10, 30, 100, 300, 1000],
        },
    )
    return figure
