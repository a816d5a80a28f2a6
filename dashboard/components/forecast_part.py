"""Where the inside is heading."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.analysis.results import ForecastFinding
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result, section
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.figures.forecast import forecast_figure
from isohume.dashboard.formats import MISSING, date, number, share
from isohume.dashboard.views import FrameView, Site

LEDE = (
    "Where the inside is heading if nobody opens the frame: many courses of the room, each let into the frame as it "
    "was found to answer. Whatever hands, heating or the weather do otherwise is not foreseen."
)
FAN_HOLDS = 0.8


def forecast(view: FrameView, site: Site) -> html.Section:
    """Show the forecast, or why there is none."""
    found, zone = view.assessment.forecast, site.time_zone
    if found.why and found.series is None:
        return section("forecast", "Forecast", no_result(found.why), lede=LEDE)
    parts: list[Any] = [key_figures(_figures(found, zone))]
    if found.series is not None:
        parts += [
            graph(
                forecast_figure(
                    found.series,
                    band=view.facts.band,
                    zone=zone,
                    dates={
                        "earliest plausible": None if found.is_outside_now else found.earliest_plausible,
                        "leaves by": None if found.is_outside_now else found.leave_by,
                        "expected back": found.expected_back_by,
                    },
                ),
                description="Forecast of the inside: median and the range that holds 8 courses in 10.",
            ),
            frame_table_links(view.facts.frame_id, "forecast", "Forecast"),
        ]
    parts.append(html.P(back_test_in_words(found), className="prose"))
    if found.room:
        parts.append(html.P(f"Courses of the room: {found.room}.", className="remark"))
    if found.why:
        parts.append(html.P(found.why, className="remark"))
    return section("forecast", "Forecast", *parts, lede=LEDE)


def _figures(found: ForecastFinding, zone: str) -> list[KeyFigure]:
    horizon = f"within {number(found.horizon_days, 0)} days"
    not_within = f"not {horizon}"
    leaves = KeyFigure("Leaves its band by", date(found.leave_by, zone), "half of the courses have left by then")
    earliest = KeyFigure("Earliest plausible", date(found.earliest_plausible, zone), "one course in ten")
    chance = KeyFigure("Chance outside", share(found.chance_outside_at_horizon), horizon)
    if found.is_outside_now:
        return [KeyFigure("Now", "outside its band", "mean of the last 7 days"), *_back(found, zone)]
    figures = [
        leaves
        if found.leave_by is not None
        else KeyFigure(leaves.label, MISSING, f"half of the courses {not_within}"),
        earliest
        if found.earliest_plausible is not None
        else KeyFigure(earliest.label, MISSING, f"one course in ten {not_within}"),
        chance,
    ]
    return figures + _back(found, zone)


def _back(found: ForecastFinding, zone: str) -> list[KeyFigure]:
    if found.expected_back_by is not None:
        return [KeyFigure("Expected back by", date(found.expected_back_by, zone), "the median course")]
    soon = "not within 30 days" if found.is_outside_now else ""
    return [KeyFigure("Expected back by", MISSING, soon)] if soon else []


def back_test_in_words(found: ForecastFinding) -> str:
    """Say how the forecast did on the frame's own past."""
    if found.back_test_share_in_80 is None:
        return (
            "It could not be tried on this frame’s own past: that needs a longer record, with two or more starts that "
            "lie apart."
        )
    held = share(found.back_test_share_in_80)
    text = (
        f"Tried on this frame’s own past, without sight of what came, the range of 8 courses in 10 held {held} of it"
    )
    if found.back_test_share_in_80 < FAN_HOLDS - 0.15:
        return f"{text}: less than it should. Take the dates as too sure."
    return f"{text}; {share(FAN_HOLDS)} is what it should hold."
