"""The parts of a frame's page about the object: panel movement and dew point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html

from isohume.analysis import phrases
from isohume.analysis.constants import FAILURE_STRAIN, YIELD_STRAIN, YIELD_STRAIN_BRITTLE_GESSO
from isohume.analysis.frame import Panel
from isohume.analysis.panel_movement import RESTRAINED_NOTE, STRAIN_NOTE
from isohume.dashboard import ids
from isohume.dashboard.components.blocks import KeyFigure, bar, graph, key_figures, no_result, section
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.figures.movement import movement_figure, strain_figure, warp_figure
from isohume.dashboard.formats import date, days, number, signed
from isohume.dashboard.views import FrameView, Site

Figures = Mapping[str, Any]
LEAD = "Not known."
STRAIN_LIMITS_PERCENT = {
    "brittle gesso": 100 * YIELD_STRAIN_BRITTLE_GESSO,
    "yield": 100 * YIELD_STRAIN,
    "failure from": 100 * FAILURE_STRAIN,
}


def panel(view: FrameView, site: Site) -> html.Section:
    """Show how much the support moves, framed and unframed, and the water between now and its conditioning."""
    found, known = view.assessment.panel, view.facts.panel
    described = _described(known) if known is not None else ""
    figures = [figure for figure in (_moisture(found), _since(found), _water(found), _through(found)) if figure]
    return section(
        "panel",
        "Panel",
        html.P(described, className="prose") if described else None,
        no_result(RESTRAINED_NOTE, lead="Held.") if known is not None and known.restrained else None,
        _movement(found),
        *_drawn(view, site),
        key_figures(figures) if figures else None,
        no_result(found["why"], lead=LEAD) if found.get("why") else None,
        _notes([note for note in found.get("notes", ()) if note != STRAIN_NOTE]),
        lede="What the support does across its grain: in this frame, and if it hung unframed in the same room.",
    )


def _drawn(view: FrameView, site: Site) -> list[Any]:
    """Draw the width through the year, its strain beside published limits, and what was measured of its warp."""
    found, course, zone = view.assessment.panel, view.assessment.curves.movement, site.time_zone
    parts: list[Any] = []
    if course is not None:
        parts += [
            graph(
                movement_figure(course, zone=zone, conditioned_percent=view.facts.conditioned_percent),
                description="Width of the panel across the grain through the year, framed and unframed.",
            ),
            frame_table_links(view.facts.frame_id, "panel", "Movement"),
        ]
    strains = {
        name: found[key]
        for name, key in (("In its frame", "strain_framed_percent"), ("Unframed", "strain_unframed_percent"))
        if found.get(key) is not None
    }
    if strains:
        parts += [
            html.H3("Strain beside published limits"),
            graph(
                strain_figure(strains, STRAIN_LIMITS_PERCENT),
                description="Largest free strain of the year, framed and unframed, beside published limits.",
            ),
            html.P(f"{STRAIN_NOTE}.", className="prose remark"),
        ]
    warps = [event for event in view.facts.events if event.kind == "warp measured" and event.warp_mm is not None]
    if warps:
        parts += [
            html.H3("Warp as measured"),
            graph(warp_figure(warps, zone=zone), description="Warp measurements of the panel over time."),
        ]
    return parts


def _described(known: Panel) -> str:
    size = f"{known.width_mm:g} mm across the grain" if known.width_mm is not None else ""
    thick = f"{known.thickness_mm:g} mm thick" if known.thickness_mm is not None else ""
    held = "held (cradled, battened or framed tight)" if known.restrained else ""
    parts = [known.support, known.species or "", known.cut or "", size, thick, known.coating, held]
    text = ", ".join(part for part in parts if part)
    return f"{text[:1].upper()}{text[1:]}."


def _movement(found: Figures) -> Any:
    framed, unframed = found.get("movement_framed_mm"), found.get("movement_unframed_mm")
    if framed is None and unframed is None:
        return None
    longest = max(value for value in (framed, unframed) if value is not None)
    period = f"largest less smallest width in {number(found.get('movement_period_days'), 0)} days"
    bars = [
        bar(name, value, longest, words=_millimetres(found, key), kind=kind)
        for name, key, value, kind in (
            ("In its frame", "framed", framed, "inside"),
            ("Unframed in the room", "unframed", unframed, "room"),
        )
        if value is not None
    ]
    return html.Div([html.Dl(bars, className="bars"), html.P(f"Movement: {period}.", className="note")])


def _millimetres(found: Figures, side: str) -> str:
    low, high = found.get(f"movement_{side}_low_mm"), found.get(f"movement_{side}_high_mm")
    interval = f" ({number(low, 1)} to {number(high, 1)})" if low is not None and high is not None else ""
    strain = found.get(f"strain_{side}_percent")
    share_of_width = f", {number(strain, 2)} % of the width" if strain is not None else ""
    return f"{number(found.get(f'movement_{side}_mm'), 1, 'mm')}{interval}{share_of_width}"


def _moisture(found: Figures) -> KeyFigure | None:
    now = found.get("emc_inside_now_percent")
    conditioned = found.get("emc_conditioned_percent")
    against = (
        f"{number(conditioned, 1, '%')} as conditioned" if conditioned is not None else "of dry mass, last 7 days"
    )
    return None if now is None else KeyFigure("Moisture content", number(now, 1, "%"), against)


def _since(found: Figures) -> KeyFigure | None:
    moved = found.get("movement_since_conditioning_mm")
    return None if moved is None else KeyFigure("Since conditioning", signed(moved, 1, "mm"), "change of width")


def _water(found: Figures) -> KeyFigure | None:
    low, high, direction = (found.get(f"water_{key}") for key in ("to_move_low_g", "to_move_high_g", "direction"))
    if low is None or high is None:
        return None
    amount = f"{number(low, 0)} to {number(high, 0, 'g')}"
    return KeyFigure("Water to move", amount, f"{direction}, by the board or buffer" if direction else "no direction")


def _through(found: Figures) -> KeyFigure | None:
    time = found.get("time_through_thickness_days")
    return None if time is None else KeyFigure("Through the thickness", days(time), "time constant of the wood alone")


def _notes(notes: Sequence[str]) -> html.Details | None:
    if not notes:
        return None
    listed = html.Ul([html.Li(f"{note.rstrip('. ')}.") for note in notes], className="prose notes")
    return html.Details([html.Summary("What these figures rest on"), listed])


def dew_point(view: FrameView, site: Site) -> html.Section:
    """Show how far surfaces are from condensation, and how long the air was damp."""
    found, zone = view.assessment.dew_point, site.time_zone
    figures = []
    for place, name in (("inside", "inside"), ("room", "in the room")):
        newest = found.get(f"dew_point_{place}_celsius")
        if newest is not None:
            highest = number(found.get(f"highest_dew_point_{place}_celsius"), 1, "°C")
            when = date(found.get(f"highest_dew_point_{place}_utc"), zone)
            figures.append(
                KeyFigure(f"Dew point {name}", number(newest, 1, "°C"), f"newest; highest {highest}, {when}")
            )
    covered = found.get("inside_covered_hours")
    for limit in (65, 75):
        damp = found.get(f"inside_above_{limit}_percent_rh_hours")
        if damp is not None and covered is not None:
            of_all = f"inside, of {phrases.hours(covered)} covered"
            figures.append(KeyFigure(f"Above {limit} %RH", phrases.hours(damp), of_all))
    margin = found.get("lowest_margin_kelvin")
    if margin is not None:
        when = f"of the coldest measured surface, {date(found.get('lowest_margin_utc'), zone)}"
        figures.append(KeyFigure("Smallest margin", number(margin, 1, "K"), when))
    return section(
        "dew-point",
        "Dew point and damp",
        key_figures(figures) if figures else None,
        no_result(found["why"], lead=LEAD) if found.get("why") else None,
        html.Div(html.P("Reading …", className="reading"), id=ids.FRAME_DEW_POINT),
        lede="A surface colder than the dew point of the air beside it gets wet. Drawn from hourly means.",
    )
