"""The record of one frame as inline SVG: for a page that must open anywhere, without scripts."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

import numpy as np
import pandas as pd

from isohume.analysis.phrases import MONTHS, day
from isohume.analysis.readings import RH, AirRecord
from isohume.dashboard import theme
from isohume.dashboard.thinning import FloatArray, Trace

WIDTH, HEIGHT = 960, 320
LEFT, RIGHT, TOP, BOTTOM = 48, 12, 28, 28
N_BUCKETS = 440
GRID_STEP_PERCENT = 10
MOST_MONTH_LABELS = 14


def record_svg(
    inside: AirRecord | None, outside: AirRecord | None, *, band: tuple[float, float] | None, time_zone: str
) -> str:
    """Draw relative humidity inside and in the room against time, with the band.

    Returns
    -------
    str
        One `<svg>` element, empty text when neither side has a usable reading. A gap stays a gap.
    """
    sides = [
        (name, Trace.of(record.readings[RH]), colour, width)
        for name, record, colour, width in (
            ("room", outside, theme.ROOM_COLOUR, 1.0),
            ("inside", inside, theme.INSIDE_COLOUR, 1.8),
        )
        if record is not None
    ]
    sides = [side for side in sides if side[1].seconds.size > 1]
    if not sides:
        return ""
    start = min(float(trace.seconds[0]) for _, trace, _, _ in sides)
    end = max(float(trace.seconds[-1]) for _, trace, _, _ in sides)
    lowest = min([min(band or (100.0,)), *(float(trace.quantity.min()) for _, trace, _, _ in sides)])
    highest = max([max(band or (0.0,)), *(float(trace.quantity.max()) for _, trace, _, _ in sides)])
    low = GRID_STEP_PERCENT * math.floor(lowest / GRID_STEP_PERCENT)
    high = GRID_STEP_PERCENT * math.floor(highest / GRID_STEP_PERCENT + 1)

    def x(seconds: FloatArray) -> FloatArray:
        return LEFT + (seconds - start) / (end - start) * (WIDTH - LEFT - RIGHT)

    def y(percent: FloatArray) -> FloatArray:
        return TOP + (high - percent) / (high - low) * (HEIGHT - TOP - BOTTOM)

    parts = []
    if band is not None:
        bottom, top = y(np.array(band))
        parts.append(
            f'<rect x="{LEFT}" y="{top:.1f}" width="{WIDTH - LEFT - RIGHT}" height="{bottom - top:.1f}" '
            f'fill="{theme.BAND_COLOUR}" opacity=".14"/>'
        )
    for percent in np.arange(low, high + 1, GRID_STEP_PERCENT):
        line = float(y(np.array([percent]))[0])
        parts.append(
            f'<path d="M{LEFT} {line:.1f}H{WIDTH - RIGHT}" stroke="{theme.HAIRLINE}"/>'
            f'<text x="{LEFT - 6}" y="{line + 4:.1f}" text-anchor="end">{percent:.0f}</text>'
        )
    parts += [
        f'<text x="{place:.1f}" y="{HEIGHT - 8}" text-anchor="middle">{escape(label)}</text>'
        for place, label in _month_labels(start, end, time_zone, x)
    ]
    parts.append(f'<text x="{LEFT - 6}" y="{TOP - 10}" text-anchor="end">%RH</text>')
    for name, trace, colour, width in sides:
        times, thinned = trace.window(start, end, n_buckets=N_BUCKETS)
        parts.append(
            f'<path d="{_path(x(times), y(thinned))}" fill="none" stroke="{colour}" stroke-width="{width}" '
            f'stroke-linejoin="round"><title>{name}</title></path>'
        )
    parts += [
        f'<path d="M{LEFT + 90 * place} 14h22" stroke="{colour}" stroke-width="2.5"/>'
        f'<text x="{LEFT + 90 * place + 28}" y="18">{name}</text>'
        for place, (name, _, colour, _) in enumerate(reversed(sides))
    ]
    title = "Relative humidity in %RH, inside the frame and in its room" + (
        "" if band is None else f", with the band of {band[0]:g}–{band[1]:g} %RH"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{title}" '
        f'font-size="12" fill="{theme.QUIET}"><title>{title}</title>{"".join(parts)}</svg>'
    )


def _path(x: FloatArray, y: FloatArray) -> str:
    """Write a line that lifts its pen at every NaN."""
    steps, pen_down = [], False
    for across, down in zip(x.tolist(), y.tolist(), strict=True):
        if np.isnan(down):
            pen_down = False
            continue
        steps.append(f"{'L' if pen_down else 'M'}{across:.1f} {down:.1f}")
        pen_down = True
    return "".join(steps)


def _month_labels(
    start: float, end: float, time_zone: str, x: Callable[[FloatArray], FloatArray]
) -> list[tuple[float, str]]:
    first, last = (pd.Timestamp(edge, unit="s", tz="UTC").tz_convert(time_zone) for edge in (start, end))
    months = pd.date_range(first.normalize(), last, freq="MS")
    months = months[months >= first]
    if months.empty:
        months = pd.DatetimeIndex([first])
    every = -(-len(months) // MOST_MONTH_LABELS)
    chosen = months[::every]

    def label(one: pd.Timestamp) -> str:
        return f"{MONTHS[one.month - 1]} {one.year}" if one.day == 1 else day(one, time_zone=time_zone)

    seconds = np.array([moment.timestamp() for moment in chosen])
    return list(zip(x(seconds).tolist(), [label(one) for one in chosen], strict=True))
