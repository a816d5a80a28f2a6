"""A small picture of the readings of one file: extremes of stretches of time, axes in the site's zone."""

from __future__ import annotations

import math
from typing import Any
from urllib.parse import quote
from xml.sax.saxutils import escape

import pandas as pd
from dash import html

from isohume.analysis.phrases import MONTHS, day
from isohume.dashboard import theme
from isohume.dashboard.formats import MISSING, count, moment, number

WIDTH, HEIGHT = 340, 104
LEFT, RIGHT, TOP, BOTTOM = 30, 4, 8, 18
MOST_TICKS = 4
STEPS = (1, 2, 5, 10, 20, 50)
# From the shortest span to the longest: up to so many days, ticks stand every so many.
DAY_STEPS = ((1.5, 0.25), (4, 1), (10, 2), (40, 7), (70, 14))
COLOURS = {"inside": theme.INSIDE_COLOUR, "room": theme.ROOM_COLOUR, "": theme.INK}


def readings_picture(one: dict[str, Any], zone: str) -> html.Figure:
    """Draw what one table of a received file holds."""
    pictures = [picture for picture in one["pictures"] if picture["n"]]
    unit = pictures[0]["unit"] if pictures else ""
    drawn = [picture for picture in pictures if picture["unit"] == unit]
    if not drawn:
        why = "Not readable before the question is answered." if one.get("unread") else "No reading."
        return html.Figure(html.Figcaption(why, className="row-note"), className="received-picture empty")
    sides = {channel: side_of(place) for place, channel, *_ in one.get("placed", [])}
    words = caption(drawn, zone)
    image = html.Img(src=address(drawn, sides, zone), alt=f"{one['name']}: {words}", width=WIDTH, height=HEIGHT)
    tentative = [html.Strong("Tentative: as the likeliest answer would have it. ")] if one["tentative"] else []
    return html.Figure(
        [image, html.Figcaption([*tentative, words], className="row-note")],
        className="received-picture tentative" if tentative else "received-picture",
    )


def side_of(place: str) -> str:
    """Return inside for a frame, room for a room, "" for neither."""
    return {"frame": "inside", "room": "room"}.get(place.partition(" ")[0], "")


def extremes(picture: dict[str, Any]) -> tuple[float, float]:
    """Return the smallest and the largest value of a channel."""
    held = [part for part in picture["parts"] if part[0] is not None]
    return min(part[0] for part in held), max(part[1] for part in held)


def caption(drawn: list[dict[str, Any]], zone: str) -> str:
    """Say what is drawn: quantity, extremes, number of readings, from when to when."""
    parts = []
    for picture in drawn:
        low, high = extremes(picture)
        name = f"{picture['channel']}: " if picture["channel"] else ""
        parts.append(f"{name}{number(low)} to {number(high)} {picture['unit']}, {count(picture['n'])} readings")
    first = min(pd.Timestamp(picture["first"]) for picture in drawn)
    last = max(pd.Timestamp(picture["last"]) for picture in drawn)
    return f"{'; '.join(parts)}; {moment(first, zone)} to {moment(last, zone)}"


def address(drawn: list[dict[str, Any]], sides: dict[str, str], zone: str) -> str:
    """Draw as SVG in an address; a stretch without a reading stays empty."""
    first = min(pd.Timestamp(picture["first"]).timestamp() for picture in drawn)
    last = max(first + 1, *(pd.Timestamp(picture["last"]).timestamp() for picture in drawn))
    low = min(extremes(picture)[0] for picture in drawn)
    high = max(extremes(picture)[1] for picture in drawn)
    step = next((step for step in STEPS if (high - low) / step <= 3), STEPS[-1])
    low, high = step * math.floor(low / step), step * math.floor(high / step + 1)

    def x(seconds: float) -> float:
        return LEFT + (seconds - first) / (last - first) * (WIDTH - LEFT - RIGHT)

    def y(value: float) -> float:
        return TOP + (high - value) / (high - low) * (HEIGHT - TOP - BOTTOM)

    parts = []
    for level in range(int(low), int(high) + 1, step):
        parts.append(f'<path d="M{LEFT} {y(level):.1f}H{WIDTH - RIGHT}" stroke="{theme.HAIRLINE}"/>')
        parts.append(f'<text x="{LEFT - 4}" y="{y(level) + 3.5:.1f}" text-anchor="end">{level}</text>')
    for seconds, words in ticks(first, last, zone):
        anchor = "start" if x(seconds) < LEFT + 20 else "end" if x(seconds) > WIDTH - 24 else "middle"
        parts.append(f'<path d="M{x(seconds):.1f} {HEIGHT - BOTTOM}v4" stroke="{theme.QUIET}"/>')
        parts.append(f'<text x="{x(seconds):.1f}" y="{HEIGHT - 4}" text-anchor="{anchor}">{escape(words)}</text>')
    for picture in drawn:
        colour = COLOURS[sides.get(picture["channel"], "")]
        parts.append(_bars(picture, x, y, colour))
    style = f'font-family="sans-serif" font-size="10" fill="{theme.QUIET}"'
    return "data:image/svg+xml," + quote(
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" {style}>{"".join(parts)}</svg>'
    )


def _bars(picture: dict[str, Any], x: Any, y: Any, colour: str) -> str:
    begin, end = (pd.Timestamp(picture[name]).timestamp() for name in ("first", "last"))
    width = max(end - begin, 1) / len(picture["parts"])
    path = "".join(
        f"M{x(begin + (place + 0.5) * width):.1f} {y(low) + 0.7:.1f}V{y(high) - 0.7:.1f}"
        for place, (low, high) in enumerate(picture["parts"])
        if low is not None
    )
    across = (x(end) - x(begin)) / len(picture["parts"])
    return f'<path d="{path}" stroke="{colour}" stroke-width="{max(1.6, across):.2f}" fill="none"/>'


def ticks(first: float, last: float, zone: str) -> list[tuple[float, str]]:
    """Return a few moments of the site's wall clock [s since 1970] within a span, and how they are written."""
    start = pd.Timestamp(first, unit="s", tz="UTC").tz_convert(zone)
    end = pd.Timestamp(last, unit="s", tz="UTC").tz_convert(zone)
    days = (last - first) / 86_400
    step = next((step for longest, step in DAY_STEPS if days <= longest), None)
    if step is not None and step < 1:
        grid = pd.date_range(start.ceil("h", ambiguous=False, nonexistent="shift_forward"), end, freq=_hours(days))
        return [(time.timestamp(), f"{time:%H:%M}") for time in grid[:MOST_TICKS]]
    if step is not None:
        grid = pd.date_range(start.normalize(), end, freq=pd.DateOffset(days=round(step)))
        return [(t.timestamp(), f"{t.day} {MONTHS[t.month - 1][:3]}") for t in grid if t >= start][: MOST_TICKS + 2]
    months = max(1, math.ceil(days / 30.4 / MOST_TICKS))
    grid = pd.date_range(start.normalize().replace(day=1), end, freq=pd.DateOffset(months=months))
    return [(t.timestamp(), f"{MONTHS[t.month - 1][:3]} {t.year}") for t in grid if t >= start]


def _hours(days: float) -> str:
    return f"{max(1, math.ceil(24 * days / MOST_TICKS))}h"


def dates(first: str, last: str, zone: str) -> str:
    """Write a period as its two dates."""
    if not first or first == "None":
        return MISSING
    return f"{day(pd.Timestamp(first), time_zone=zone)} to {day(pd.Timestamp(last), time_zone=zone)}"
