"""The last twelve months of one frame as a small drawing for paper: inside, room and band."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np

from isohume.dashboard.theme import INK, INSIDE_COLOUR, QUIET
from isohume.dashboard.thinning import FloatArray
from isohume.dashboard.views import SmallPicture

WIDTH, HEIGHT = 150, 44
LEFT = 17  # room for the two figures of the scale
ROOM_FILL = "#DAD6CC"
LEAST_SPAN_PERCENT = 20.0
Scale = Callable[[float], float]  # from %RH to a height in the drawing


def small_picture_svg(picture: SmallPicture, band: tuple[float, float] | None) -> str:
    """Draw the picture; the scale spans what is shown, at least 20 %RH."""
    shown = [values[np.isfinite(values)] for values in (picture.inside, picture.room_low, picture.room_high)]
    known = np.concatenate([*shown, np.array(band or ())])
    if not known.size:
        known = np.array([40.0, 60.0])
    lowest, highest = float(known.min()), float(known.max())
    middle, half = (lowest + highest) / 2, max(highest - lowest, LEAST_SPAN_PERCENT) / 2
    low, high = 5 * math.floor((middle - half) / 5), 5 * math.ceil((middle + half) / 5)

    def y(percent: float) -> float:
        return 2.0 + (high - percent) / (high - low) * (HEIGHT - 4)

    n_weeks = picture.inside.size
    step = (WIDTH - LEFT) / n_weeks
    x = np.asarray(LEFT + step * (np.arange(n_weeks) + 0.5), dtype=np.float64)
    parts = [_area(x, picture.room_low, picture.room_high, y, step)]
    if band is not None:
        parts += [
            f'<path d="M{LEFT} {y(limit):.1f}H{WIDTH}" stroke="{INK}" stroke-width=".5" stroke-dasharray="2.5 2"/>'
            for limit in band
        ]
    parts.append(_line(x, picture.inside, y))
    parts += [
        f'<text x="{LEFT - 3}" y="{y(limit) + shift:.1f}" text-anchor="end" font-family="Source Sans Pro" '
        f'font-size="6.5" fill="{QUIET}">{limit:g}</text>'
        for limit, shift in ((high, 5.0), (low, 0.0))
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}">'
        f"{''.join(parts)}</svg>"
    )


def _runs(known: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """Return begin and end of every run of known weeks: a gap stays a gap."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], known, [False])).astype(int)))
    return [(int(a), int(b)) for a, b in pairwise(edges)][::2]


def _line(x: FloatArray, values: FloatArray, y: Scale) -> str:
    return "".join(
        f'<path d="M{"L".join(f"{x[k]:.1f} {y(values[k]):.1f}" for k in range(first, last))}" fill="none" '
        f'stroke="{INSIDE_COLOUR}" stroke-width="1.3" stroke-linejoin="round" stroke-linecap="round"/>'
        for first, last in _runs(np.isfinite(values))
    )


def _area(x: FloatArray, low: FloatArray, high: FloatArray, y: Scale, step: float) -> str:
    paths = []
    for first, last in _runs(np.isfinite(low) & np.isfinite(high)):
        weeks = range(first, last)
        edge = step / 2 if last - first == 1 else 0.0  # a lone week is as wide as a week
        upper = [f"{x[k] + edge * sign:.1f} {y(high[k]):.1f}" for k in weeks for sign in ((-1, 1) if edge else (0,))]
        lower = [f"{x[k] + edge * sign:.1f} {y(low[k]):.1f}" for k in weeks for sign in ((-1, 1) if edge else (0,))]
        paths.append(f'<path d="M{"L".join([*upper, *reversed(lower)])}Z" fill="{ROOM_FILL}"/>')
    return "".join(paths)
