"""The record of one frame with the limits of the clauses it is held to, and the worst case of each."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.readings import RH, TEMPERATURE, AirRecord
from isohume.analysis.terms_judge import ClauseResult
from isohume.dashboard import theme
from isohume.dashboard.figures.record import outside_only
from isohume.dashboard.figures.time_axis import wall_clock_ms
from isohume.dashboard.thinning import FloatArray, Trace

N_BUCKETS = 700
HEIGHT, HEIGHT_WITH_TEMPERATURE = 320, 480
LABEL_PIXELS = 14
UNITS = {RH: "%RH", TEMPERATURE: "°C"}
TITLES = {RH: "Relative humidity [%]", TEMPERATURE: "Temperature [°C]"}
AIRS = {"room": "Room", "inside": "Inside"}
# Never closer than this: noise would look like weather.
SMALLEST_RANGE = {RH: 12.0, TEMPERATURE: 6.0}


def clause_limits_figure(
    inside: AirRecord | None,
    room: AirRecord | None,
    results: Sequence[ClauseResult],
    *,
    start: pd.Timestamp,
    end: pd.Timestamp,
    zone: str,
) -> go.Figure:
    """Draw humidity, and temperature where a clause limits it, against the clauses' own limits.

    Parameters
    ----------
    inside, room : AirRecord or None
    results : sequence of ClauseResult
        Clauses about a swing or a mean have no line of their own; their worst case is marked at its time.
    start, end : Timestamp
        The period.
    zone : str
        The site's time zone.
    """
    quantities = [RH]
    if any(one.clause.quantity == TEMPERATURE and one.clause.kind != "dew-point margin" for one in results):
        quantities.append(TEMPERATURE)
    figure = theme.new_figure(height=HEIGHT_WITH_TEMPERATURE if len(quantities) > 1 else HEIGHT)
    window = start.timestamp(), end.timestamp()
    domains = [[0.0, 1.0]] if len(quantities) == 1 else [[0.36, 1.0], [0.0, 0.26]]
    for place, quantity in enumerate(quantities):
        axis = "y" if place == 0 else f"y{place + 1}"
        mine = [one for one in results if one.clause.quantity == quantity]
        seen = _lines(figure, {"room": room, "inside": inside}, quantity, mine, axis=axis, window=window, zone=zone)
        limits = _limits(figure, mine, axis)
        _worst(figure, mine, axis, zone)
        shown = _range([*seen, np.array(limits)], SMALLEST_RANGE[quantity])
        _part_labels(figure, axis, shown, height=(domains[place][1] - domains[place][0]) * figure.layout.height)
        figure.update_layout(
            {
                f"yaxis{axis[1:]}": {
                    "title": {"text": TITLES[quantity]}, "domain": domains[place], "fixedrange": True, "anchor": "x",
                    "range": shown,
                }
            }
        )  # fmt: skip
    edges = wall_clock_ms(np.array(window), zone)
    figure.update_layout(xaxis={"type": "date", "fixedrange": True, "range": edges.tolist()})
    figure.update_layout(margin={"r": 76})
    return figure


def _lines(
    figure: go.Figure,
    airs: dict[str, AirRecord | None],
    quantity: str,
    results: Sequence[ClauseResult],
    *,
    axis: str,
    window: tuple[float, float],
    zone: str,
) -> list[FloatArray]:
    seen = []
    for air, record in airs.items():
        if record is None:
            continue
        seconds, values = Trace.of(record.readings[quantity]).window(*window, n_buckets=N_BUCKETS)
        times = wall_clock_ms(seconds, zone)
        colour, width = (theme.INSIDE_COLOUR, 2.0) if air == "inside" else (theme.ROOM_LINE_COLOUR, 1.1)
        name = AIRS[air]
        figure.add_scatter(
            x=times, y=values.astype(np.float32), mode="lines", name=name, legendgroup=name, connectgaps=False,
            line={"color": colour, "width": width}, yaxis=axis, showlegend=axis == "y",
            hovertemplate=f"%{{y:.1f}} {UNITS[quantity]}<extra>{name}</extra>",
        )  # fmt: skip
        seen.append(values)
        _outside(figure, times, values, [one for one in results if one.clause.air == air], axis)
    return seen


def _outside(
    figure: go.Figure, times: FloatArray, values: FloatArray, results: Sequence[ClauseResult], axis: str
) -> None:
    """Draw once more, heavier, what breaches a clause on the readings themselves."""
    ranges = [one.clause for one in results if one.clause.kind == "range" and not one.clause.averaging_hours]
    for clause in ranges:
        low = -np.inf if clause.low is None else clause.low
        high = np.inf if clause.high is None else clause.high
        beyond_times, beyond = outside_only(times, values, (low, high))
        if beyond_times.size:
            figure.add_scatter(
                x=beyond_times, y=beyond.astype(np.float32), mode="lines", name="Outside a limit", yaxis=axis,
                legendgroup="outside", showlegend=not any(trace.legendgroup == "outside" for trace in figure.data),
                line={"color": theme.OUTSIDE_BAND_COLOUR, "width": 3}, hoverinfo="skip",
            )  # fmt: skip


def _limits(figure: go.Figure, results: Sequence[ClauseResult], axis: str) -> list[float]:
    """Draw the limits of ranges, and say at the edge which they are."""
    drawn: dict[float, list[str]] = {}
    for one in results:
        if one.clause.kind == "range":
            for limit in (one.clause.low, one.clause.high):
                if limit is not None and one.clause.air not in drawn.setdefault(limit, []):
                    drawn[limit].append(one.clause.air)
    for limit, airs in drawn.items():
        colour = theme.INSIDE_COLOUR if "inside" in airs else theme.ROOM_COLOUR
        figure.add_shape(
            type="line", x0=0, x1=1, xref="paper", y0=limit, y1=limit, yref=axis, layer="below",
            line={"color": colour, "width": 1.2, "dash": "6px,4px"},
        )  # fmt: skip
        figure.add_annotation(
            x=1, y=limit, xref="paper", yref=axis, xanchor="left", yanchor="middle", xshift=4, showarrow=False,
            text=f"{limit:g} {' and '.join(airs)}", font={"color": theme.INK, "size": 12},
        )  # fmt: skip
    return list(drawn)


def _part_labels(figure: go.Figure, axis: str, shown: list[float] | None, *, height: float) -> None:
    """Move the labels of limits that lie close together apart; `height` [px] is that of the axis."""
    if shown is None:
        return
    per_unit = height / (shown[1] - shown[0])
    labels = sorted((one for one in figure.layout.annotations if one.yref == axis), key=lambda one: one.y)
    for below, above in pairwise(labels):
        overlap = LABEL_PIXELS - (above.y - below.y) * per_unit
        if overlap > 0:
            below.yshift, above.yshift = (below.yshift or 0) - overlap / 2, overlap / 2


def _worst(figure: go.Figure, results: Sequence[ClauseResult], axis: str, zone: str) -> None:
    """Mark the worst reading of every clause that is about readings, at its time."""
    known = [
        one for one in results
        if one.worst is not None and one.worst_utc is not None and one.clause.kind == "range"
    ]  # fmt: skip
    if not known:
        return
    figure.add_scatter(
        x=wall_clock_ms(np.array([one.worst_utc.timestamp() for one in known if one.worst_utc is not None]), zone),
        y=[one.worst for one in known], mode="markers", name="Worst case", yaxis=axis, legendgroup="worst",
        showlegend=not any(trace.legendgroup == "worst" for trace in figure.data),
        marker={"symbol": "diamond", "size": 9, "color": theme.SHEET,
                "line": {"width": 2, "color": [theme.OUTSIDE_BAND_COLOUR if one.verdict == "breached" else theme.INK
                                               for one in known]}},
        customdata=[theme.as_plot_text(f"{one.worst:.1f} {one.clause.unit}: {one.clause.in_words()}")
                    for one in known],
        hovertemplate="%{customdata}<extra>Worst case</extra>",
    )  # fmt: skip


def _range(series: Sequence[FloatArray], smallest: float) -> list[float] | None:
    whole = np.concatenate([np.asarray(one, dtype=np.float64) for one in series]) if series else np.empty(0)
    seen = whole[np.isfinite(whole)]
    if seen.size == 0:
        return None
    low, high = float(seen.min()), float(seen.max())
    slack = max((smallest - (high - low)) / 2, 0.08 * (high - low))
    return [low - slack, high + slack]
