"""Did it help: the record before and after hands were at the frame."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.analysis import phrases
from isohume.analysis.before_after import Intervention, SideOfEvent
from isohume.analysis.wording_events import CHANGE
from isohume.dashboard.components.blocks import graph, no_result, section, table
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.figures.before_after import before_after_figure
from isohume.dashboard.figures.record import event_words
from isohume.dashboard.formats import MISSING, date, days, number, signed
from isohume.dashboard.views import FrameView, Site

NAME = "Did it help"
LEDE = "The record before and after the newest opening, reconditioning, new buffer, seal repair or move."
NOTHING_DONE = (
    "No opening, reconditioning, new buffer, seal repair or move is registered within the record. Add what was done "
    "under Events, and the record before and after it is compared here."
)


def helped(view: FrameView, site: Site) -> html.Section:
    """Compare before and after for each judged event, or say that nothing was done."""
    found = view.assessment.interventions
    if not found:
        return section("helped", NAME, no_result(NOTHING_DONE, lead="Nothing to compare."), lede=LEDE)
    parts: list[Any] = [part for one in found for part in _one(one, view, site)]
    return section("helped", NAME, *parts, frame_table_links(view.facts.frame_id, "helped", NAME), lede=LEDE)


def _one(found: Intervention, view: FrameView, site: Site) -> list[Any]:
    zone = site.time_zone
    told_as = {(event.time_utc, event.kind): event for event in view.facts.events}  # rooms by their names
    words = event_words(told_as.get((found.event.time_utc, found.event.kind), found.event))
    head = html.H3(f"{found.event.kind.capitalize()}, {date(found.event.time_utc, zone)}")
    told = html.P(f"{CHANGE[found.half_time_change]} {found.why}".strip(), className="meaning")
    details = html.P(words, className="prose note") if words != found.event.kind else None
    sides = [(name, side) for name, side in (("Before", found.before), ("After", found.after)) if side is not None]
    if not sides:
        return [head, details, told]
    figure = before_after_figure(found)
    rows = [[name, *(html.Span(text(side, zone), className="long") for _, side in sides)] for name, text in _ROWS]
    return [
        head,
        details,
        told,
        graph(figure, description="Half-time before and after, with intervals.") if figure is not None else None,
        table(["", *(name for name, _ in sides)], rows, caption="Half-time and drift with 95 % intervals"),
        *(html.P(f"{name}: {side.why}", className="remark") for name, side in sides if side.why),
    ]


def _half_time(side: SideOfEvent, _zone: str) -> str:
    if side.half_time_days is not None:
        if side.half_time_low is None or side.half_time_high is None:
            return days(side.half_time_days)
        return f"{days(side.half_time_days)} ({days(side.half_time_low)} to {days(side.half_time_high)})"
    bounds = (("at least", side.half_time_low), ("at most", side.half_time_high))
    told = [f"{word} {days(bound)}" for word, bound in bounds if bound is not None]
    return ", ".join(told) or "cannot be told"


def _drift(side: SideOfEvent, _zone: str) -> str:
    slope = signed(side.slope_percent_per_30d, 1, "%RH in 30 days")
    if side.slope_low is None or side.slope_high is None:
        return slope
    return f"{slope} ({signed(side.slope_low)} to {signed(side.slope_high)})"


def _outside(side: SideOfEvent, _zone: str) -> str:
    return (
        MISSING if side.hours_outside_per_month is None else f"{phrases.hours(side.hours_outside_per_month)} a month"
    )


_ROWS = (
    ("Half-time", _half_time),
    ("Outside the band", _outside),
    ("Drift, last 60 days of it", _drift),
    ("Mean", lambda side, _zone: number(side.mean_percent, 1, "%RH")),
    ("Period", lambda side, zone: f"{date(side.start_utc, zone)} to {date(side.end_utc, zone)}"),
    ("Covered", lambda side, _zone: phrases.hours(side.hours_covered)),
)
