"""The signs of standing and of data: small pictures drawn for these pages.

Every sign of standing is a frame seen from the front with what happens in it: a level, a way out, a gap, a drop.
They differ in outline, so that they stay apart in black and white; the word always stands beside them.
"""

from __future__ import annotations

from functools import cache
from typing import Literal
from urllib.parse import quote

from dash import html

from isohume.analysis.results import DataName, Standing, StandingName
from isohume.dashboard import theme

Urgency = Literal["act", "soon", "calm", "unknown"]

URGENCY: dict[StandingName, Urgency] = {
    "damp risk": "act",
    "needs reconditioning": "act",
    "check seal": "soon",
    "leaving band": "soon",
    "steady": "calm",
    "cannot tell": "unknown",
}
_COLOUR: dict[Urgency, str] = {
    "act": theme.VERMILION,
    "soon": theme.ORANGE,
    "calm": theme.BLUISH_GREEN,
    "unknown": theme.QUIET,
}
_BOX = '<rect x="3" y="3" width="18" height="18" rx="1" fill="{fill}" stroke="{stroke}" stroke-width="2"{extra}/>'
# Two notches on either side mark the agreed band.
_NOTCHES = '<path d="M3 9h3M3 15h3M18 9h3M18 15h3" stroke="{stroke}" stroke-width="1.5"/>'


def _drawing(name: StandingName, direction: str | None) -> str:
    colour, ink = _COLOUR[URGENCY[name]], theme.INK
    outline = _BOX.format(fill="none", stroke=ink, extra="")
    notches = _NOTCHES.format(stroke=ink)
    if name == "damp risk":
        drop = "M12 5.5c2.6 3.7 4.3 6 4.3 8.3a4.3 4.3 0 0 1-8.6 0c0-2.3 1.7-4.6 4.3-8.3z"
        return _BOX.format(fill=colour, stroke=colour, extra="") + f'<path d="{drop}" fill="{theme.SHEET}"/>'
    if name == "needs reconditioning":
        top = 6 if direction == "too damp" else 16.5
        level = f'<rect x="4" y="{top}" width="16" height="{20 - top}" fill="{colour}"/>'
        return level + outline + notches
    if name == "check seal":
        frame = f'<path d="M21 8.5V4a1 1 0 0 0-1-1H4a1 1 0 0 0-1 1v16a1 1 0 0 0 1 1h16a1 1 0 0 0 1-1v-4.5" fill="none" stroke="{ink}" stroke-width="2"/>'  # noqa: E501 - one path
        wave = f'<path d="M8 12c1.6-3 3.2-3 4.8 0s3.2 3 4.8 0 3.2-3 4.9-.6" fill="none" stroke="{colour}" stroke-width="2.6" stroke-linecap="round"/>'  # noqa: E501 - one path
        return frame + wave
    if name == "leaving band":
        way = {"too damp": "M7 13.5 17 6M17 6h-4.4M17 6v4.4"}.get(
            direction or "", "M7 10.5 17 18M17 18h-4.4M17 18v-4.4"
        )
        return (
            outline
            + notches
            + f'<path d="{way}" fill="none" stroke="{colour}" stroke-width="2.6" stroke-linecap="round"/>'
        )
    if name == "steady":
        return outline + notches + f'<path d="M7.5 12h9" stroke="{colour}" stroke-width="3" stroke-linecap="round"/>'
    dashed = _BOX.format(fill="none", stroke=colour, extra=' stroke-dasharray="3.2 2.8"')
    return dashed + f'<circle cx="12" cy="12" r="1.8" fill="{colour}"/>'


_LEGIBLE_IN_A_URI = " =:/,.;'()"


def data_uri(svg: str) -> str:
    """Return an inline picture; nothing in it can run or load."""
    return f"data:image/svg+xml,{quote(svg, safe=_LEGIBLE_IN_A_URI)}"


@cache
def standing_uri(name: StandingName, direction: str | None) -> str:
    """Return the sign of a standing as an inline picture."""
    return data_uri(standing_svg(name, direction))


def standing_svg(name: StandingName, direction: str | None) -> str:
    """Return the sign of a standing as an SVG document, for papers."""
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">{_drawing(name, direction)}</svg>'


def standing_sign(standing: Standing, *, size: int = 24) -> html.Img:
    """Draw the sign of a standing; the word must stand beside it, so the sign itself is silent."""
    return html.Img(
        src=standing_uri(standing.name, standing.direction), width=size, height=size, alt="", className="sign"
    )


def standing_words(standing: Standing) -> str:
    """Name a standing with its direction: needs reconditioning, too dry."""
    return f"{standing.name}, {standing.direction}" if standing.direction else standing.name


# Four strokes: the record as a row of readings. (filled, hollow, missing)
_STROKES: dict[DataName, str] = {"sound": "ffff", "doubtful": "fhhf", "stale": "ffmm", "too little": "fmmm"}


@cache
def data_uri_of(name: DataName) -> str:
    """Return the sign of a record's quality as an inline picture."""
    parts = []
    for place, kind in enumerate(_STROKES[name]):
        x = 2 + 5 * place
        if kind == "f":
            parts.append(f'<rect x="{x}" y="2" width="3" height="12" fill="{theme.INK}"/>')
        elif kind == "h":
            parts.append(f'<rect x="{x + 0.5}" y="2.5" width="2" height="11" fill="none" stroke="{theme.INK}"/>')
        else:
            parts.append(f'<rect x="{x}" y="12" width="3" height="2" fill="{theme.ROOM_GREY}"/>')
    return data_uri(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 21 16">{"".join(parts)}</svg>')


def data_sign(name: DataName) -> html.Img:
    """Draw the sign of a record's quality; the word must stand beside it."""
    return html.Img(src=data_uri_of(name), width=21, height=16, alt="", className="sign")
