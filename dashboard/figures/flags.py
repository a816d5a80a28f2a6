"""Flagged readings under the record: one lane for the inside, one for the room, with words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from isohume.analysis.readings import FlagRun
from isohume.dashboard import theme
from isohume.dashboard.figures.time_axis import wall_clock_ms
from isohume.ingest.flags import FLAG_TABLE

LANES = {"inside": (1.0, theme.INSIDE_COLOUR), "room": (0.0, theme.ROOM_COLOUR)}
# Between humidity and temperature.
DOMAIN = [0.222, 0.258]
# More runs than this in one window would be a smear: the longest are drawn.
MOST_RUNS = 400
MEANINGS = {facts.name: facts for facts in FLAG_TABLE.values()}


def draw_flags(
    figure: go.Figure, flags: Sequence[tuple[str, FlagRun]], *, window: tuple[float, float], zone: str
) -> None:
    """Add the runs of flagged readings that meet `window` [s since 1970] to a figure with a time axis."""
    start, end = window
    for side, (height, colour) in LANES.items():
        seen = [
            run
            for where, run in flags
            if where == side and run.start_utc.timestamp() <= end and run.end_utc.timestamp() >= start
        ]
        seen = sorted(
            sorted(seen, key=lambda run: run.n_readings, reverse=True)[:MOST_RUNS], key=lambda r: r.start_utc
        )
        if not seen:
            continue
        edges = np.array([[run.start_utc.timestamp(), run.end_utc.timestamp()] for run in seen]).ravel()
        times = np.insert(wall_clock_ms(edges, zone), np.arange(2, edges.size, 2), np.nan)
        words = [flag_words(run) for run in seen for _ in range(3)][: times.size]
        figure.add_scatter(
            x=times,
            y=np.where(np.isnan(times), np.nan, height),
            yaxis="y4",
            mode="lines+markers",
            name=f"Flagged, {side}",
            line={"color": colour, "width": 5},
            marker={"symbol": "line-ns", "size": 9, "line": {"color": colour, "width": 2}},
            customdata=words,
            hovertemplate=f"%{{customdata}}<extra>Flagged, {side}</extra>",
        )
    figure.update_layout(
        yaxis4={"domain": DOMAIN, "range": [-0.7, 1.7], "visible": False, "fixedrange": True, "anchor": "x"}
    )


def flag_words(run: FlagRun) -> str:
    """Say which flag stands beside how many readings, and whether they count."""
    facts = MEANINGS.get(run.name)
    counted = "" if facts is None else ", left out" if facts.excludes else ", counted"
    n_readings = f"{run.n_readings} {'reading' if run.n_readings == 1 else 'readings'}"
    return f"{run.name}: {n_readings}{counted}"
