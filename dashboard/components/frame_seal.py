"""Whether the frame is still as tight as it was."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.analysis.results import SealFinding
from isohume.analysis.wording import seal_in_words
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result, section
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.figures.seal import seal_figure
from isohume.dashboard.formats import date, number
from isohume.dashboard.views import FrameView, Site

LEDE = (
    "Each date of the last year is tried as the day on which the leakage changed, and held against a frame that "
    "stayed as it was, against a logger whose reading stepped, and against an opening that nobody wrote down."
)


def seal(view: FrameView, site: Site) -> html.Section:
    """Show the seal check: the finding, the evidence date by date, and what would have shown."""
    found, scan, zone = view.assessment.seal, view.assessment.curves.seal_scan, site.time_zone
    parts: list[Any] = []
    if found.changed is None:
        parts.append(no_result(found.why, lead="Cannot say."))
    else:
        if found.date is not None:
            parts.append(key_figures(_figures(found, zone)))
        parts += [html.P(sentence, className="meaning") for sentence in seal_in_words(found, time_zone=zone)]
        if found.changed and found.why:
            parts.append(html.P(found.why, className="remark"))
    if found.changed is not True and found.smallest_detectable is not None:
        parts.append(html.P(_smallest_in_words(found), className="prose"))
    if scan is not None:
        parts += [
            graph(
                seal_figure(scan, found, zone=zone),
                description="Evidence for a change of the leakage at each date of the last year.",
            ),
            html.P(
                "Both lines must rise above their limits, and the factor must differ from 1 by more than the model’s "
                "own faults, before it counts as a change. Values under 1 are drawn at 1.",
                className="note",
            ),
            frame_table_links(view.facts.frame_id, "seal", "Seal check"),
        ]
    return section("seal", "Seal check", *parts, lede=LEDE)


def _figures(found: SealFinding, zone: str) -> list[KeyFigure]:
    interval = f"95 % interval {number(found.factor_low)} to {number(found.factor_high)}"
    return [
        KeyFigure("Changed around", date(found.date, zone), "the likeliest date"),
        KeyFigure("Leakage, times", number(found.factor), interval),
    ]


def _smallest_in_words(found: SealFinding) -> str:
    smallest = number(found.smallest_detectable)
    return (
        f"Had the leakage grown {smallest} times or more two months before the end of the record, it would have been "
        "found in four records like this out of five. A smaller change may be there unseen."
    )
