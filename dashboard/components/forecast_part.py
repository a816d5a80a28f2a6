"""Where the inside is heading, and whether the frame is still as tight."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result, section
from isohume.dashboard.figures.forecast import forecast_figure
from isohume.dashboard.formats import MISSING, date, number, share
from isohume.dashboard.views import FrameView, Site


def forecast(view: FrameView, site: Site) -> html.Section:
    """Show the forecast and the seal check, or why there is none."""
    found, seal, zone = view.assessment.forecast, view.assessment.seal, site.time_zone
    parts: list[Any] = []
    if found.why and found.series is None:
        parts.append(no_result(found.why))
    else:
        parts.append(
            key_figures(
                [
                    KeyFigure(
                        "Leaves its band by", date(found.leave_by, zone), "half of the courses have left by then"
                    ),
                    KeyFigure("Earliest plausible", date(found.earliest_plausible, zone), "one course in ten"),
                    KeyFigure(
                        "Chance outside",
                        share(found.chance_outside_at_horizon),
                        f"within {number(found.horizon_days, 0)} days",
                    ),
                    KeyFigure(
                        "Expected back by", date(found.expected_back_by, zone), f"room: {found.room or MISSING}"
                    ),
                ]
            )
        )
        if found.series is not None:
            parts.append(
                graph(
                    forecast_figure(
                        found.series,
                        band=view.facts.band,
                        zone=zone,
                        dates={"earliest plausible": found.earliest_plausible, "leaves by": found.leave_by},
                    ),
                    description="Forecast of the inside: median and the range that holds 8 courses in 10.",
                )
            )
        if found.why:
            parts.append(html.P(found.why, className="remark"))
    parts.append(html.H3("Seal"))
    if seal.changed is None:
        parts.append(no_result(seal.why))
    elif seal.changed:
        parts.append(
            html.P(
                f"The leakage changed around {date(seal.date, zone)}, by a factor of {number(seal.factor)} "
                f"({number(seal.factor_low)} to {number(seal.factor_high)})."
            )
        )
    else:
        smallest = (
            f" A change of {number(seal.smallest_detectable)} times would have shown."
            if seal.smallest_detectable
            else ""
        )
        parts.append(html.P(f"No change of the leakage was found.{smallest}"))
    return section(
        "forecast", "Forecast", *parts, lede="Where the inside is heading, and whether the frame is still as tight."
    )
