"""Charts for paper: vector pictures that read in greyscale, the same bytes for the same data.

No text that people typed is drawn here; the template sets titles and captions.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

import matplotlib as mpl
import numpy as np
import pandas as pd
from matplotlib import font_manager
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from isohume.analysis.phrases import MONTHS
from isohume.analysis.readings import RH, AirRecord
from isohume.dashboard.papers.typeset import FONTS
from isohume.dashboard.theme import BAND_COLOUR, INK, INSIDE_COLOUR, QUIET, ROOM_LINE_COLOUR
from isohume.dashboard.thinning import Trace

FONT = "Source Sans Pro"
WIDTH_INCHES = 6.6
N_BUCKETS = 900  # more than a printed line can show
DAYS_BY_HOUR = 4  # a record shorter than this is ticked by hours
MOST_DAYS_BY_DAY = 130  # a longer one by months
_DAY = 86_400.0
STYLE = {
    "font.family": FONT,
    "font.size": 8.5,
    "svg.fonttype": "none",  # text stays text
    "svg.hashsalt": "isohume",  # the same identifiers in every run
    "axes.edgecolor": QUIET,
    "axes.linewidth": 0.6,
    "axes.labelcolor": QUIET,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "text.parse_math": False,
    "path.simplify": False,
}
# The settings of a chart are the process's: one thread draws at a time.
_DRAWING = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The period that a chart shows, and the zone of the dates on its axis."""

    start: pd.Timestamp
    end: pd.Timestamp
    time_zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A pair of limits to draw, either of which may be missing."""

    low: float | None
    high: float | None


def record_chart(
    inside: AirRecord | None,
    room: AirRecord | None,
    span: Span,
    *,
    quantity: str,
    limits: Limits | None = None,
    events: Sequence[pd.Timestamp] = (),
    strips: Sequence[tuple[pd.Timestamp, float]] = (),
    height_inches: float = 2.5,
) -> str:
    """Draw one quantity inside and in the room over a period.

    Parameters
    ----------
    inside, room : AirRecord or None
        Readings; a gap stays a gap, extremes survive thinning.
    span : Span
        The whole width of the chart.
    quantity : {"rh_percent", "temperature_celsius"}
        What is drawn.
    limits : Limits or None
        Drawn as dashed lines with a pale band between.
    events : sequence of Timestamp
        Marked on the upper edge, numbered in order.
    strips : sequence of (Timestamp, float)
        Readings of a paper strip inside [%RH], drawn as diamonds.

    Returns
    -------
    str
        An SVG document; its text stays text.
    """
    with _DRAWING, mpl.rc_context(_style()):
        figure = Figure(figsize=(WIDTH_INCHES, height_inches), layout="constrained")
        axes = figure.subplots()
        values = [
            _line(axes, record, quantity, span, **pen)
            for record, pen in (
                (room, {"color": ROOM_LINE_COLOUR, "linewidth": 0.7, "zorder": 2, "label": "room"}),
                (inside, {"color": INSIDE_COLOUR, "linewidth": 1.5, "zorder": 3, "label": "inside"}),
            )
            if record is not None
        ]
        if strips:
            times, read = zip(*strips, strict=True)
            seconds = [moment.timestamp() for moment in times]
            axes.plot(seconds, read, "D", color=INSIDE_COLOUR, markersize=4, markerfacecolor="white", zorder=4)
            values.append(np.array(read, dtype=np.float64))
        if limits is not None:
            _draw_limits(axes, limits)
        _draw_events(axes, events)
        _scale(axes, values, limits)
        axes.set_ylabel("Relative humidity (%)" if quantity == RH else "Temperature (°C)")
        _time_axis(axes, span)
        return _svg(figure)


def _style() -> Any:  # the names of settings are a type of their own
    _register_fonts()
    return STYLE


@cache
def _register_fonts() -> None:
    for path in sorted(FONTS.glob("*.otf")):
        font_manager.fontManager.addfont(str(path))


def _line(axes: Axes, record: AirRecord, quantity: str, span: Span, **pen: Any) -> np.ndarray[Any, Any]:
    start, end = span.start.timestamp(), span.end.timestamp()
    times, values = Trace.of(record.readings[quantity]).window(start, end, n_buckets=N_BUCKETS)
    axes.plot(times, values, solid_joinstyle="round", solid_capstyle="round", **pen)
    return values


def _draw_limits(axes: Axes, limits: Limits) -> None:
    if limits.low is not None and limits.high is not None:
        axes.axhspan(limits.low, limits.high, color=BAND_COLOUR, alpha=0.10, linewidth=0, zorder=0)
    for value in (limits.low, limits.high):
        if value is not None:
            axes.axhline(value, color=INK, linewidth=0.7, dashes=(5, 3), zorder=1)


def _draw_events(axes: Axes, events: Sequence[pd.Timestamp]) -> None:
    for number, moment in enumerate(events, start=1):
        axes.axvline(moment.timestamp(), color=QUIET, linewidth=0.6, dashes=(1, 2), zorder=1)
        axes.annotate(
            str(number), (moment.timestamp(), 1), xycoords=("data", "axes fraction"), xytext=(0, 2),
            textcoords="offset points", ha="center", va="bottom", fontsize=7.5, color=INK,
        )  # fmt: skip


def _scale(axes: Axes, values: Sequence[np.ndarray[Any, Any]], limits: Limits | None) -> None:
    known = [value for value in values if np.isfinite(value).any()]
    shown = [float(np.nanmin(value)) for value in known] + [float(np.nanmax(value)) for value in known]
    if limits is not None:
        shown += [value for value in (limits.low, limits.high) if value is not None]
    if not shown:
        shown = [0.0, 100.0]
    margin = max(0.05 * (max(shown) - min(shown)), 0.5)
    axes.set_ylim(min(shown) - margin, max(shown) + margin)
    axes.grid(axis="y", color="#E4E2DB", linewidth=0.5, zorder=0)
    axes.set_axisbelow(True)
    for edge in ("top", "right", "left"):
        axes.spines[edge].set_visible(False)
    axes.tick_params(axis="y", length=0)


def _time_axis(axes: Axes, span: Span) -> None:
    """Put ticks where days, weeks or months begin on the wall of the site."""
    first, last = span.start.tz_convert(span.time_zone), span.end.tz_convert(span.time_zone)
    axes.set_xlim(span.start.timestamp(), span.end.timestamp())
    ticks = time_ticks(first, last)
    axes.set_xticks([moment.timestamp() for moment, _ in ticks], [label for _, label in ticks])
    axes.tick_params(axis="x", length=2.5, width=0.6)


def time_ticks(first: pd.Timestamp, last: pd.Timestamp) -> list[tuple[pd.Timestamp, str]]:
    """Return ticks and their labels for a period in the site's zone; at most about twelve.

    The year stands at the first tick and wherever it changes.
    """
    days = (last - first).total_seconds() / _DAY
    # On the clock of the wall, whose days are not all 24 hours long.
    begin, end = first.tz_localize(None), last.tz_localize(None)
    midnight = begin.normalize()
    if days <= DAYS_BY_HOUR:
        walls = pd.date_range(midnight, end, freq="12h")
    elif days <= MOST_DAYS_BY_DAY:
        step = next(step for step in (1, 2, 7, 14) if days / step <= 13 or step == 14)
        walls = pd.date_range(midnight if midnight == begin else midnight + pd.Timedelta(days=1), end, freq=f"{step}D")
    else:
        step = next(step for step in (1, 2, 3, 6, 12) if days / 30.4 / step <= 14 or step == 12)
        walls = pd.date_range(midnight.replace(day=1), end, freq=f"{step}MS")
    moments = [
        wall.tz_localize(first.tz, ambiguous=False, nonexistent="shift_forward") for wall in walls if wall >= begin
    ]
    by_month = days > MOST_DAYS_BY_DAY
    labels = []
    for before, moment in pairwise([None, *moments]):
        if moment is None:
            continue
        year = f"\n{moment.year}" if before is None or before.year != moment.year else ""
        hour = f" {moment:%H:%M}" if days <= DAYS_BY_HOUR else ""
        day = "" if by_month else f"{moment.day} "
        labels.append(f"{day}{MONTHS[moment.month - 1]}{hour}{year}")
    return list(zip(moments, labels, strict=True))


def _svg(figure: Figure) -> str:
    buffer = io.BytesIO()
    figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": None}, transparent=True)
    return buffer.getvalue().decode()
