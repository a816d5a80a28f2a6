"""Reconditioning: how much water lies between a frame's present humidity and the one wanted, and how long it takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd
from dash import html

from isohume.analysis.conditioning_water import WaterToMove, water_to_move
from isohume.analysis.frame import Construction, FrameFacts, Panel
from isohume.analysis.integrals import covered_hours, time_mean
from isohume.analysis.panel import WATER_NOTE
from isohume.analysis.panel_movement import RESTRAINED_NOTE, SOLID_WOOD
from isohume.analysis.readings import AirRecord
from isohume.analysis.sorption import emc_percent, rh_for_emc
from isohume.dashboard.components.blocks import KeyFigure, facts, key_figures, no_result, table
from isohume.dashboard.formats import MISSING, date, number, share
from isohume.dashboard.workbench import panel_time
from isohume.dashboard.workbench.fields import Choice, Number, Typed, written
from isohume.dashboard.workbench.part import Context, Group, Part, Sheets

WEEK = pd.Timedelta(days=7)
WEEK_HOURS = 168.0
SUPPORTS = (SOLID_WOOD, "plywood", "hardboard", "canvas board", "paper board")
# Name of the field, name of the part, and what its mass is.
MASSES = (("panel", "panel", "as weighed"), ("board", "board", "dry"), ("lining", "wood lining", "dry"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """What the inside of a frame is now: means of the last seven days of its record."""

    rh_percent: float
    temperature_celsius: float
    uncertainty_percent: float
    until: pd.Timestamp
    hours_covered: float


def groups(_context: Context) -> tuple[Group, ...]:
    """Return the fields."""
    return (
        Group(
            title="The humidity inside",
            fields=(
                Number(
                    name="now", label="Present", unit="%RH", low=1, high=99, needed=True, note="mean of a week"
                ),
                Number(name="wanted", label="Wanted", unit="%RH", low=1, high=99, needed=True),
                Number(name="celsius", label="Temperature", unit="°C", low=-1, high=45, needed=True),
                Number(
                    name="u", label="Logger, ±", unit="%RH", low=0, high=20, needed=True,
                    note="uncertainty, k = 2",
                ),
            ),
        ),
        Group(
            title="What holds the water",
            note="0 where there is none; empty where nobody knows.",
            fields=tuple(
                Number(name=name, label=f"{part.capitalize()}, {how}", unit="kg", low=0, high=1000)
                for name, part, how in MASSES
            ),
        ),
        Group(
            title="The panel",
            fields=(
                Number(name="thick", label="Thickness", unit="mm", low=0.1, high=200),
                Choice(
                    name="support", label="Support", choices=tuple((one, one) for one in SUPPORTS), default=SOLID_WOOD
                ),
                Choice(
                    name="faces", label="Open to the air", default="1", wide=True,
                    choices=(("1", "one face, the painted one sealed"), ("2", "both faces")),
                ),
            ),
        ),
    )  # fmt: skip


def example(_context: Context) -> dict[str, str]:
    """Fill in a small panel that has dried in winter."""
    return {
        "now": "41.5", "wanted": "50", "celsius": "20", "u": "2", "panel": "0.9", "board": "0.4", "lining": "0",
        "thick": "9", "faces": "1", "support": SOLID_WOOD,
    }  # fmt: skip


def picks(context: Context) -> tuple[tuple[str, str], ...]:
    """Offer the frames of the archive."""
    if context.archive is None:
        return ()
    return tuple(
        (row["id"], f"{row['id']} · {row['painting']}" if row["painting"] else row["id"])
        for row in context.archive.records("frames")
        if row["lifecycle"] != "retired"
    )


def filled(context: Context, frame_id: str) -> dict[str, str]:
    """Fill the fields from a frame: its panel, its masses, what it was conditioned to, and its last week inside."""
    if context.archive is None:
        return {}
    frame = context.archive.frame_facts(frame_id)
    present = present_of(context, frame_id)
    panel = frame.panel or Panel(support=SOLID_WOOD)
    numbers = {
        "now": None if present is None else round(present.rh_percent, 1),
        "wanted": frame.conditioned_percent,
        "celsius": None if present is None else round(present.temperature_celsius, 1),
        "u": 3.0 if present is None else present.uncertainty_percent,
        "panel": panel.mass_kg,
        "board": frame.construction.board_kg,
        "lining": frame.construction.wood_lining_kg,
        "thick": panel.thickness_mm,
    }
    texts = {name: "" if value is None else written(value) for name, value in numbers.items()}
    support = panel.support if panel.support in SUPPORTS else SOLID_WOOD
    return texts | {"faces": str(panel.faces_open), "support": support}


def present_of(context: Context, frame_id: str) -> Present | None:
    """Return the present inside of a frame; None where no logger has read for a while, or ever.

    The humidity is the one with which wood would hold the mean moisture content of the week, as on the frame's page.
    """
    if context.archive is None:
        return None
    air = context.archive.inside_record(frame_id, end=(context.site.now + pd.Timedelta(seconds=1)).to_pydatetime())
    return None if air is None else _last_week(air)


def _last_week(air: AirRecord) -> Present | None:
    contents = emc_percent(air.rh_percent, air.temperature_celsius).dropna()
    if contents.empty:
        return None
    until = pd.Timestamp(contents.index[-1])
    week = contents[contents.index >= until - WEEK]
    mean = time_mean(week)
    celsius = time_mean(air.temperature_celsius.reindex(week.index))
    if mean is None or celsius is None:
        return None
    return Present(
        rh_percent=float(rh_for_emc(mean, celsius)),
        temperature_celsius=celsius,
        uncertainty_percent=air.uncertainty_percent,
        until=until,
        hours_covered=covered_hours(week),
    )


def water(typed: Typed, *, only: str | None = None) -> WaterToMove | str:
    """Return the water to move, of all parts or of one alone; or why there is none."""
    masses = {name: typed.number(name) if only in {None, name} else 0.0 for name, _, _ in MASSES}
    frame = FrameFacts(
        panel=Panel(mass_kg=masses["panel"]),
        construction=Construction(board_kg=masses["board"], wood_lining_kg=masses["lining"]),
    )
    return water_to_move(
        frame,
        rh_percent=typed.amount("now"),
        target_percent=typed.amount("wanted"),
        temperature_celsius=typed.amount("celsius"),
        uncertainty_percent=typed.amount("u"),
    )


def result(context: Context, typed: Typed, picked: str) -> list[Any]:
    """Show the water and the time; what cannot be reckoned says why."""
    return [
        *_frame(context, picked),
        *_water(typed),
        html.H3("Time through the thickness"),
        *panel_time.shown(typed.number("thick"), typed.text("faces"), typed.text("support")),
    ]


def _frame(context: Context, picked: str) -> list[Any]:
    if not picked or context.archive is None:
        return []
    frame, present, zone = context.archive.frame_facts(picked), present_of(context, picked), context.site.time_zone
    inside = (
        "no usable reading inside"
        if present is None
        else f"{number(present.rh_percent, 1, '%RH')}, 7 days to {date(present.until, zone)}, "
        f"{share(min(present.hours_covered / WEEK_HOURS, 1))} covered"
    )
    conditioned = number(frame.conditioned_percent, 1, "%RH")
    told = facts(
        [
            ("Frame", html.A(f"{frame.frame_id}, {frame.painting}".rstrip(", "), href=f"/frame/{frame.frame_id}")),
            ("Inside", inside),
            ("Conditioned", f"{conditioned} on {date(frame.conditioned_on, zone)}"),
            ("Opened by", frame.opened_by or "nobody is named: ask before anything is done"),
        ]
    )
    restrained = [html.P(f"{RESTRAINED_NOTE}.", className="remark")] if frame.panel and frame.panel.restrained else []
    return [told, *restrained]


def _water(typed: Typed) -> list[Any]:
    whole, celsius = water(typed), typed.amount("celsius")
    contents = [float(emc_percent(typed.amount(name), celsius)) for name in ("now", "wanted")]
    emc = KeyFigure(
        "Moisture of the wood", f"{contents[0]:.1f} → {contents[1]:.1f} %", "of dry mass, in equilibrium with the air"
    )
    rows = [part_row(typed, name, part, how) for name, part, how in MASSES]
    parts = table(
        ["Part", "Mass", "Least", "Most"], rows, caption=f"Water of each part, at {celsius:g} °C", numeric=(1, 2, 3)
    )
    if isinstance(whole, str):
        return [no_result(whole, lead=""), key_figures([emc]), parts]
    way = f"from {typed.amount('now'):g} to {typed.amount('wanted'):g} %RH"
    span = f"{whole.low_g:.1f} to {whole.high_g:.1f} g"
    figure = (
        KeyFigure(f"Water to {whole.direction}", span, way)
        if whole.direction
        else KeyFigure("Water to move", f"0 to {whole.high_g:.1f} g", "no direction: within the logger’s uncertainty")
    )  # fmt: skip
    return [key_figures([figure, emc]), parts]


def part_row(typed: Typed, name: str, part: str, how: str) -> list[str]:
    """Return one part with its mass and its own range of water."""
    mass = typed.number(name)
    if mass is None:
        return [part, "not known", MISSING, MISSING]
    own = water(typed, only=name)
    if isinstance(own, str):
        raise TypeError("With one known mass there is an amount of water.")
    sign = "+" if own.direction == "add" else "\N{MINUS SIGN}" if own.direction else ""
    least, most = (f"{sign if grams >= 0.05 else ''}{grams:.1f} g" for grams in (own.low_g, own.high_g))
    return [part, f"{mass:g} kg {how}", least, most]


def sheets(_context: Context, typed: Typed) -> Sheets:
    """Return the water by part, and the course through the thickness."""
    heads = ["part (reckoned, not measured)", "mass kg", "least g", "most g", "direction"]
    rows: list[list[str | float | None]] = []
    for name, part, how in (*MASSES, ("", "whole frame", "")):
        found = water(typed, only=name or None)
        mass = typed.number(name) if name else None
        named = f"{part}, {how}" if how else part
        if isinstance(found, str):
            rows.append([named, mass, None, None, found])
        else:
            rows.append([named, mass, round(found.low_g, 2), round(found.high_g, 2), found.direction or "none"])
    thickness = typed.number("thick")
    if thickness is None or typed.text("support") != SOLID_WOOD:
        return {"water": (heads, rows)}
    return {"water": (heads, rows), "thickness": panel_time.sheet(thickness)}


CAUTIONS = (
    f"{WATER_NOTE}.",
    "Who may open a frame stands with the frame; the owner’s and lender’s instructions come first.",
    "A range is no dose: give less than its least, close, wait, and log before giving more.",
)
PART = Part(
    key="water",
    title="Water and time",
    lede="How much water lies between the humidity inside now and the one wanted, and how long a panel follows.",
    groups=groups,
    example=example,
    result=result,
    sheets=sheets,
    picks=picks,
    filled=filled,
    picks_label="Fill in from a frame",
)
