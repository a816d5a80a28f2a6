"""One frame in the list of all frames."""

from __future__ import annotations

from urllib.parse import quote

from dash import dcc, html

from isohume.dashboard.components.glyphs import URGENCY, data_sign, standing_sign, standing_words
from isohume.dashboard.components.picture import small_picture
from isohume.dashboard.formats import band, days_ago, due
from isohume.dashboard.urgency import asks_for_hands
from isohume.dashboard.views import FrameSummary, Site


def frame_address(frame_id: str) -> str:
    """Return the address of a frame's page; an id may hold any character."""
    return f"/frame/{quote(frame_id, safe='')}"


def painting_words(painting: str) -> list[html.Em | html.Span]:
    """Set a painting's title in italics; what follows its first comma (support, date) upright."""
    title, comma, rest = painting.partition(",")
    return [html.Em(title), html.Span(f"{comma}{rest}", className="support")] if rest else [html.Em(title)]


def frame_row(frame: FrameSummary, site: Site) -> html.Li:
    """Build the row; the painting's name is its link and covers all of it."""
    words = standing_words(frame.standing)
    reason, doubts = (found.reasons[0].text if found.reasons else "" for found in (frame.standing, frame.data))
    if frame.needs_decision and not asks_for_hands(frame.standing):
        reason, doubts = doubts, reason  # it is the record that asks
    kind = "strip read" if frame.estimated else "last reading"
    when = due(frame.standing.by, site.now, site.time_zone)
    return html.Li(
        [
            html.Div(
                [
                    standing_sign(frame.standing, size=30),
                    html.Div([html.Span(words, className="standing"), html.Span(when, className="due")]),
                ],
                className="row-standing",
            ),
            html.Div(
                [
                    html.H3(
                        dcc.Link(
                            [html.Span(f"{frame.frame_id} ", className="frame-id"), *painting_words(frame.painting)],
                            href=frame_address(frame.frame_id),
                        )
                    ),
                    html.P(reason, className="reason"),
                ],
                className="row-words",
            ),
            html.Div(
                [
                    small_picture(frame.picture, band=frame.band, zone=site.time_zone, estimated=frame.estimated),
                    html.P(
                        [
                            html.Span(frame.room or "no room given"),
                            html.Span(band(frame.band)),
                            *([html.Span("estimated from strip and room")] if frame.estimated else []),
                        ],
                        className="row-note",
                    ),
                ],
                className="row-picture",
            ),
            html.Div(
                [
                    html.P([data_sign(frame.data.name), f" record {frame.data.name}"], title=doubts),
                    html.P(f"{kind} {days_ago(frame.newest_utc, site.now)}", className="row-note"),
                ],
                className="row-record",
            ),
        ],
        className=f"frame-row {URGENCY[frame.standing.name]}{' estimated' if frame.estimated else ''}",
    )
