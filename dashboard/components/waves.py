"""Buffering as a picture: the room's swing as one wave, what is left of it inside as another, to scale."""

from __future__ import annotations

import numpy as np
from dash import html

from isohume.analysis.results import Ratio
from isohume.dashboard import theme
from isohume.dashboard.components.glyphs import data_uri
from isohume.dashboard.thinning import FloatArray

WIDTH, HEIGHT = 320, 96
ROOM_AMPLITUDE = 40.0
POINTS_PER_CYCLE = 24


def waves(ratio: Ratio, *, cycles: float) -> html.Img:
    """Draw room and inside waves whose heights stand in the measured ratio; the 95 % interval as a veil."""
    measured = ratio.ratio or 1.0
    x = np.linspace(0, WIDTH, int(cycles * POINTS_PER_CYCLE) + 1)
    shape = np.sin(2 * np.pi * cycles * x / WIDTH)
    parts = [f'<path d="M0 {HEIGHT / 2}H{WIDTH}" stroke="{theme.HAIRLINE}"/>']
    if ratio.low and ratio.high:
        wide, narrow = _height(shape, ratio.low), _height(shape, ratio.high)
        veil = f"{_points(x, wide)} {_points(x[::-1], narrow[::-1])}"
        parts.append(f'<polygon points="{veil}" fill="{theme.INSIDE_COLOUR}" opacity=".22"/>')
    parts.append(_wave(x, _height(shape, 1.0), theme.ROOM_COLOUR, 1.5))
    parts.append(_wave(x, _height(shape, measured), theme.INSIDE_COLOUR, 2.5))
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}">{"".join(parts)}</svg>'
    return html.Img(src=data_uri(svg), width=WIDTH, height=HEIGHT, alt=_in_words(ratio), className="waves")


def _height(shape: FloatArray, ratio: float) -> FloatArray:
    return HEIGHT / 2 - ROOM_AMPLITUDE / max(ratio, ROOM_AMPLITUDE / (HEIGHT / 2)) * shape


def _points(x: FloatArray, y: FloatArray) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))


def _wave(x: FloatArray, y: FloatArray, colour: str, width: float) -> str:
    return f'<polyline points="{_points(x, y)}" fill="none" stroke="{colour}" stroke-width="{width}"/>'


def _in_words(ratio: Ratio) -> str:
    if ratio.ratio is None:
        return ""
    return f"The inside wave is drawn {1 / ratio.ratio:.0%} as high as the room’s."
