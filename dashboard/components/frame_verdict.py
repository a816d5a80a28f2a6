"""The top of a frame's page: whose frame it is, what it needs and why, and how far its record can be trusted."""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc, html

from isohume.analysis.results import Reason
from isohume.dashboard.components.blocks import aria, facts
from isohume.dashboard.components.frame_row import frame_address, painting_words
from isohume.dashboard.components.glyphs import URGENCY, data_sign, standing_sign, standing_words
from isohume.dashboard.formats import band, date, days_ago, due, moment, number, share
from isohume.dashboard.views import FrameView, Site


def head(view: FrameView, site: Site) -> html.Div:
    """Name the painting and its frame, with the way to its neighbours."""
    neighbours = [
        dcc.Link(f"{sign}{frame_id}", href=frame_address(frame_id), title=f"{word} frame in the list")
        for frame_id, sign, word in ((view.previous_id, "← ", "Previous"), (view.next_id, "", "Next"))
        if frame_id
    ]
    if view.next_id:
        neighbours[-1].children = f"{view.next_id} →"
    return html.Div(
        [
            html.Nav(
                [dcc.Link("All frames", href="/frames"), html.Span(neighbours, className="neighbours")],
                className="crumbs",
                **aria(label="Neighbouring frames"),
            ),
            html.H1(painting_words(view.facts.painting) if view.facts.painting else view.facts.frame_id),
            facts(_wall_label(view, site)),
        ],
        className="page-head frame-head",
    )


def _wall_label(view: FrameView, site: Site) -> list[tuple[str, str]]:
    known = view.facts
    conditioned = number(known.conditioned_percent, 0, "%RH")
    if known.conditioned_on is not None and known.conditioned_percent is not None:
        conditioned += f" on {date(known.conditioned_on, site.time_zone)}"
    pairs = [
        ("Frame", known.frame_id),
        ("Room", view.room or "not known"),
        ("Band", band(known.band)),
        ("Conditioned at", conditioned if known.conditioned_percent is not None else "not known"),
        ("Now", known.lifecycle),
        ("Owner", known.owner),
    ]
    return [(name, value) for name, value in pairs if value]


def outdated(view: FrameView, site: Site) -> html.P | None:
    """Say that findings shown are those before the newest change."""
    if view.computed != "before":
        return None
    when = moment(view.assessment.as_of, site.time_zone)
    text = (
        f" These findings are of {when}, from before the newest change. They are computed anew; the record is current."
    )
    return html.P([html.Strong("Not up to date."), text], className="outdated")


def not_yet(view: FrameView, site: Site) -> html.Div:
    """Stand in the place of the verdict while there is none."""
    newest = f"Newest reading: {moment(view.newest_utc, site.time_zone)}. " if view.newest_utc is not None else ""
    text = f"{newest}Its record can be looked at meanwhile; the findings take some seconds."
    return html.Div(
        html.Section([html.H2("What it needs", className="over"), html.P("Being assessed", className="headline"),
                      html.P(text)], className="asks"),
        className="verdict unknown not-yet",
    )  # fmt: skip


def verdict(view: FrameView, site: Site) -> html.Div:
    """State standing and data side by side, each with all its reasons."""
    found, zone = view.assessment, site.time_zone
    standing, data = found.standing, found.data
    when = due(standing.by, site.now, zone)
    asks = html.Section(
        [
            html.H2("What it needs", className="over"),
            html.P(
                [
                    standing_sign(standing, size=44),
                    html.Span(standing_words(standing), className="standing"),
                    html.Span(when, className="due"),
                ],
                className="headline",
            ),
            html.Div(
                [
                    _reasons(standing.reasons),
                    html.Div([html.H3("Next step"), html.P(standing.next_step)], className="next-step")
                    if standing.next_step
                    else None,
                ],
                className="why-and-next",
            ),
        ],
        className="asks",
    )
    period = found.period
    newest = "Strip read" if view.estimated else "Last reading"
    trust = html.Section(
        [
            html.H2("How good the record is", className="over"),
            html.P([data_sign(data.name), html.Span(data.name, className="standing")], className="headline small"),
            _reasons(data.reasons),
            facts(
                [
                    (newest, f"{days_ago(view.newest_utc, site.now)}, {moment(view.newest_utc, zone)}")
                    if view.newest_utc is not None
                    else (newest, "none"),
                    ("Period", f"{date(period.start_utc, zone)} to {date(period.end_utc, zone)}"),
                    ("Covered", f"{share(period.coverage)} of its hours inside"),
                    ("Holds as of", moment(found.as_of, zone)),
                ]
            ),
        ],
        className="trust",
    )
    tags = (" estimated" if view.estimated else "") + (" before" if view.computed == "before" else "")
    return html.Div([asks, trust], className=f"verdict {URGENCY[standing.name]}{tags}")


def _reasons(reasons: Sequence[Reason]) -> html.Ul:
    # Each sentence holds the value found, its limit and the unit.
    return html.Ul([html.Li(reason.text) for reason in reasons], className="reasons")
