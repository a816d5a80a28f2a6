"""The small picture of a frame's last 12 months: the room as a cloud, the inside as a line, the band as a stripe."""

from __future__ import annotations

import numpy as np

from isohume.dashboard import theme
from isohume.dashboard.components.glyphs import data_uri
from isohume.dashboard.formats import date
from isohume.dashboard.thinning import FloatArray
from isohume.dashboard.views import SmallPicture

WIDTH, HEIGHT = 312, 64
# All small pictures share one scale, so that frames compare at a glance; what lies beyond runs along the edge.
LOWEST_PERCENT, HIGHEST_PERCENT = 22.0, 85.0
# The interval of an inside that is only estimated.
_HATCH = (
    '<pattern id="h" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    f'<rect width="1.6" height="6" fill="{theme.INSIDE_COLOUR}" opacity=".45"/></pattern>'
)


def _y(percent: FloatArray) -> FloatArray:
    clipped = np.clip(percent, LOWEST_PERCENT, HIGHEST_PERCENT)
    return (HIGHEST_PERCENT - clipped) / (HIGHEST_PERCENT - LOWEST_PERCENT) * HEIGHT


def _runs(usable: np.ndarray) -> list[np.ndarray]:
    places = np.flatnonzero(usable)
    return np.split(places, np.flatnonzero(np.diff(places) > 1) + 1) if places.size else []


def _points(x: FloatArray, y: FloatArray) -> str:
    return " ".join(f"{a:.0f},{b:.1f}" for a, b in zip(x, y, strict=True))


def _line(x: FloatArray, percent: FloatArray, run: np.ndarray, style: str) -> str:
    if run.size == 1:
        return f'<circle cx="{x[run[0]]:.0f}" cy="{_y(percent[run])[0]:.1f}" r="1.5" fill="{theme.INSIDE_COLOUR}"/>'
    return f'<polyline points="{_points(x[run], _y(percent[run]))}" {style}/>'


def drawing(picture: SmallPicture, *, band: tuple[float, float] | None, estimated: bool) -> str:
    """Return the picture as SVG text."""
    n = picture.inside.size
    x = (np.arange(n) + 0.5) / n * WIDTH
    parts = []
    if band is not None:
        top, bottom = _y(np.array([band[1], band[0]]))
        parts.append(
            f'<rect y="{top:.1f}" width="{WIDTH}" height="{bottom - top:.1f}" fill="{theme.BAND_COLOUR}"'
            ' opacity=".13"/>'
            f'<path d="M0 {top:.1f}H{WIDTH}M0 {bottom:.1f}H{WIDTH}" stroke="{theme.BAND_COLOUR}" opacity=".55"/>'
        )
    for run in _runs(np.isfinite(picture.room_low) & np.isfinite(picture.room_high)):
        high, low = _points(x[run], _y(picture.room_high[run])), _points(x[run][::-1], _y(picture.room_low[run][::-1]))
        parts.append(
            f'<polygon points="{high} {low}" fill="{theme.ROOM_COLOUR}" opacity=".3" stroke="{theme.ROOM_COLOUR}"'
            ' stroke-width="1" stroke-linejoin="round"/>'
        )
    if picture.inside_low is not None and picture.inside_high is not None:
        parts.append(_HATCH)
        for run in _runs(np.isfinite(picture.inside_low) & np.isfinite(picture.inside_high)):
            ends = (
                _points(x[run], _y(picture.inside_high[run])),
                _points(x[run][::-1], _y(picture.inside_low[run][::-1])),
            )
            parts.append(f'<polygon points="{" ".join(ends)}" fill="url(#h)"/>')
    dashes = ' stroke-dasharray="4 3"' if estimated else ""
    style = f'fill="none" stroke="{theme.INSIDE_COLOUR}" stroke-width="2" stroke-linejoin="round"{dashes}'
    parts += [_line(x, picture.inside, run, style) for run in _runs(np.isfinite(picture.inside))]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" preserveAspectRatio="none">'
        f"{''.join(parts)}</svg>"
    )


def in_words(picture: SmallPicture, *, zone: str, estimated: bool) -> str:
    """Say what the picture shows, for those who hear the page."""
    inside = picture.inside[np.isfinite(picture.inside)]
    if inside.size == 0:
        return "No usable inside readings in the last 12 months."
    kind = "Estimated inside" if estimated else "Inside"
    return (
        f"{kind}, weekly means of the 12 months to {date(picture.end_utc, zone)}: "
        f"{inside.min():.0f} to {inside.max():.0f} %RH, last {inside[-1]:.0f} %RH."
    )


def drawing_uri(picture: SmallPicture, *, band: tuple[float, float] | None, estimated: bool = False) -> str:
    """Return the picture as an inline image."""
    return data_uri(drawing(picture, band=band, estimated=estimated))
