"""A month at a glance: how the frames stand, what changed, what is due, planned and done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import pandas as pd
from dash import html

from isohume.dashboard.components.blocks import aria, no_result, section, table
from isohume.dashboard.components.frame_row import frame_address
from isohume.dashboard.components.glyphs import data_uri_of, standing_uri, standing_words
from isohume.dashboard.components.month_data import event_without_date
from isohume.dashboard.formats import count, date
from isohume.dashboard.papers.review import Review
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.urgency import DATA_ORDER, STANDING_ORDER

# What falls due later than this after the review is left to the tables.
AHEAD = pd.Timedelta(days=62)
PLURALS = {"file": "files", "calibration": "calibrations", "battery": "batteries"}
MOST_ROWS = 100  # of a table drawn on the server


def glance(review: Review) -> html.Section:
    """Count the frames by what they need, and say what changed and what is overdue."""
    standings = Counter((one.summary.standing.name, one.summary.standing.direction) for one in review.frames)
    records = Counter(one.summary.data.name for one in review.frames)
    order = sorted(standings, key=lambda key: (STANDING_ORDER.index(key[0]), key[1] or ""))
    tiles = [
        _tile(standing_uri(name, direction), standings[name, direction], f"{name}, {direction}" if direction else name)
        for name, direction in order
    ]
    record_tiles = [
        _tile(data_uri_of(name), records[name], f"record {name}", small=True) for name in DATA_ORDER if records[name]
    ]
    return html.Section(
        [
            html.H2("At a glance", id="glance-title"),
            html.Ul(tiles, className="month-tiles"),
            html.Ul(record_tiles, className="month-tiles small"),
            html.Ul([html.Li(line) for line in sentences(review)], className="month-sentences"),
        ],
        id="glance",
        className="month-glance",
        **aria(labelledby="glance-title"),
    )


def _tile(uri: str, n: int, words: str, *, small: bool = False) -> html.Li:
    size: Any = {"width": 21, "height": 16} if small else {"width": 30, "height": 30}
    return html.Li(
        [
            html.Img(src=uri, alt="", className="sign", **size),
            html.Span(count(n), className="value"),
            html.Span(words),
        ]
    )


def sentences(review: Review) -> list[str]:
    """Say in a few lines what a reviewer asks first."""
    n, needs = len(review.frames), sum(one.summary.needs_decision for one in review.frames)
    changed = [one for one in review.frames if one.changed]
    overdue = Counter(one.kind for one in review.due if one.is_overdue)
    asks = {0: "none needs a decision", 1: "one needs a decision"}.get(needs, f"{count(needs)} need a decision")
    lines = [f"{count(n)} frame{'' if n == 1 else 's'}: {asks}."]
    if review.compared_with:
        how = "" if review.compared_is_signed else ", which was looked at but not signed"
        ids = ", ".join(one.summary.frame_id for one in changed[:8])
        more = f" and {count(len(changed) - 8)} more" if len(changed) > 8 else ""
        told = f"{count(len(changed))} changed ({ids}{more})" if changed else "None changed"
        lines.append(f"{told} since the review of {month_in_words(review.compared_with)}{how}.")
    else:
        lines.append("There is no earlier review to compare with: changes are counted from the next one on.")
    named = [f"{count(n)} {kind if n == 1 else PLURALS[kind]}" for kind, n in sorted(overdue.items())]
    lines.append(f"Overdue: {', '.join(named)}." if named else "No file, calibration or battery is overdue.")
    return lines


def work(review: Review) -> html.Section:
    """List what is due, what is planned (drawn from the decisions), and what hands did."""
    return section(
        "work",
        "Due, planned, done",
        html.H3("Due"),
        *due_part(review),
        html.H3("Planned"),
        html.Div(id="month-planned"),
        html.H3("Done in the month"),
        *done_part(review),
    )


def due_part(review: Review) -> list[Any]:
    """List frames with a date, then files, calibrations and batteries; the earliest first."""
    zone, until = review.time_zone, review.as_of + AHEAD
    rows: list[tuple[pd.Timestamp, list[Any]]] = []
    for one in review.frames:
        by = one.summary.standing.by
        if by is not None:
            rows.append(
                (by, [_when(by, review), _frame_link(one.summary.frame_id), standing_words(one.summary.standing)])
            )
    listed = [(pd.Timestamp(one.due).tz_convert("UTC"), one) for one in review.due]
    near = [(when, one) for when, one in listed if when <= until]
    rows += [(when, [_when(when, review), one.place, html.Span(one.text, className="long")]) for when, one in near]
    rows.sort(key=lambda row: row[0])
    later = len(listed) - len(near)
    after = f" {count(later)} later ones stand in the tables." if later else ""
    left = len(rows) - MOST_ROWS
    after += f" {count(left)} more stand in the tables." if left > 0 else ""
    if not rows:
        return [no_result(f"Nothing falls due before {date(until, zone)}.{after}", lead="Nothing.")]
    caption = f"Due until {date(until, zone)}, the earliest first.{after}"
    return [table(("When", "Where", "What"), [row for _by, row in rows[:MOST_ROWS]], caption=caption)]


def _when(when: pd.Timestamp, review: Review) -> Any:
    text = date(when, review.time_zone)
    return html.Strong(f"{text}, overdue") if when <= review.as_of else text


def done_part(review: Review) -> list[Any]:
    """List the events of the month with whoever recorded doing them."""
    events = sorted(
        ((event, one.summary.frame_id) for one in review.frames for event in one.events),
        key=lambda pair: (pair[0].time_utc, pair[1]),
    )
    if not events:
        return [no_result("No event is recorded for this month.", lead="Nothing.")]
    rows = [
        [
            date(event.time_utc, review.time_zone),
            _frame_link(frame_id),
            html.Span(event_without_date(event), className="long"),
            event.by or "not recorded",
        ]
        for event, frame_id in events[:MOST_ROWS]
    ]
    more = f" {count(len(events) - MOST_ROWS)} more stand in the paper." if len(events) > MOST_ROWS else ""
    return [table(("When", "Frame", "What", "By whom"), rows, caption=f"Events of the month, in order.{more}")]


def _frame_link(frame_id: str) -> html.A:
    return html.A(frame_id, href=frame_address(frame_id))


def exports(month: str, number: int, what: Sequence[tuple[str, str]]) -> html.P:
    """Offer the paper and the tables."""
    asked = f"?number={number}" if number > 1 else ""
    links = [html.A(words, href=f"/month/{month}/{name}{asked}") for name, words in what]
    return html.P(links, className="month-exports")
