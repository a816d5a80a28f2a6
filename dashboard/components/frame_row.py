"""One frame in the list of all frames: what assets/frames.js draws its row from."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from dash import html

from isohume.dashboard.components.glyphs import URGENCY, data_uri_of, standing_uri, standing_words
from isohume.dashboard.components.picture import drawing_uri, in_words
from isohume.dashboard.formats import band, days_ago, due
from isohume.dashboard.urgency import asks_for_hands
from isohume.dashboard.views import FrameSummary, Site

NEVER_SECONDS = 1e11  # later than any date


def frame_address(frame_id: str) -> str:
    """Return the address of a frame's page; an id may hold any character."""
    return f"/frame/{quote(frame_id, safe='')}"


def title_and_support(painting: str) -> tuple[str, str]:
    """Part a painting's title from what follows its first comma (support, date)."""
    title, comma, rest = painting.partition(",")
    return title, f"{comma}{rest}"


def painting_words(painting: str) -> list[html.Em | html.Span]:
    """Set a painting's title in italics, the rest upright."""
    title, support = title_and_support(painting)
    return [html.Em(title), html.Span(support, className="support")] if support else [html.Em(title)]


def group_of(frame: FrameSummary) -> str:
    """Return the group a frame is listed in."""
    if frame.computed == "never":
        return "waiting"
    if frame.needs_decision:
        return "decision"
    return "changed" if frame.changed else "calm"


def row_document(frame: FrameSummary, site: Site, *, place: int) -> dict[str, Any]:
    """Return everything the list says and sorts by; `place` is the frame's place in the order of urgency."""
    title, support = title_and_support(frame.painting)
    reason, doubts = (found.reasons[0].text if found.reasons else "" for found in (frame.standing, frame.data))
    if frame.needs_decision and not asks_for_hands(frame.standing):
        reason, doubts = doubts, reason  # it is the record that asks
    words, zone = standing_words(frame.standing), site.time_zone
    when = due(frame.standing.by, site.now, zone)
    if frame.computed != "now":
        words = "being assessed" if frame.computed == "never" else words
        when = "" if frame.computed == "never" else "being assessed anew"
    newest = "strip read" if frame.estimated else "last reading"
    notes = [frame.room or "no room given", band(frame.band)]
    return {
        "id": frame.frame_id,
        "address": frame_address(frame.frame_id),
        "group": group_of(frame),
        "tier": URGENCY[frame.standing.name],
        "place": place,
        "title": title,
        "support": support,
        "standing": words,
        "standing_name": frame.standing.name,
        "sign": standing_uri(frame.standing.name, frame.standing.direction),
        "due": when,
        "due_at": NEVER_SECONDS if frame.standing.by is None else frame.standing.by.timestamp(),
        "reason": reason,
        "room": frame.room,
        "notes": [*notes, "estimated from strip and room"] if frame.estimated else notes,
        "picture": drawing_uri(frame.picture, band=frame.band, estimated=frame.estimated),
        "picture_words": in_words(frame.picture, zone=zone, estimated=frame.estimated),
        "estimated": frame.estimated,
        "waiting": frame.computed != "now",
        "data": "unknown" if frame.computed == "never" else frame.data.name,
        "data_sign": data_uri_of(frame.data.name),
        "doubts": doubts,
        "newest": "" if frame.computed == "never" else f"{newest} {days_ago(frame.newest_utc, site.now)}",
        "newest_at": 0.0 if frame.newest_utc is None else frame.newest_utc.timestamp(),
        "told": f"{frame.frame_id} {frame.painting} {frame.room} {words} {frame.data.name}".lower(),
    }
