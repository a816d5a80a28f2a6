"""What is shown of a frame before it is built."""

from __future__ import annotations

import math
from typing import Any

from dash import html

from isohume.dashboard import planning
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result
from isohume.dashboard.figures.planned_year import WEEK, planned_year_figure
from isohume.dashboard.formats import date, days, number, share
from isohume.dashboard.workbench.before_built import Worked, band, example, groups, worked
from isohume.dashboard.workbench.fields import Typed
from isohume.dashboard.workbench.part import Context, Part, Sheets


def result(context: Context, typed: Typed, _picked: str) -> list[Any]:
    """Show half-time, year, winter minimum and panel; what cannot be reckoned says why."""
    found = worked(context, typed)
    half = found.planned.half_time
    head = [no_result(half.why, lead="No half-time.")] if half.half_time_days is None else []
    return [*head, key_figures(_exchange_figures(found)), *_year(found, typed, context), _words(found)]


def _exchange_figures(found: Worked) -> list[KeyFigure]:
    half, permeation = found.planned.half_time, found.planned.permeation_air_exchange_per_day
    at = f"at {number(half.temperature_celsius, 1, '°C')}"
    figures = [
        KeyFigure(
            "Takes up", number(half.capacity_g_per_percent, 2, "g per %RH"), "air, boards, lining and panel together"
        ),
        KeyFigure("Exchanges", f"{half.conductance_g_per_day_per_percent:.2g} g a day", f"per %RH to its room, {at}"),
        KeyFigure(
            "Through its sheets",
            number(permeation, 2, "a day"),
            "air changes of the same vapour; no tracer gas sees it",
        ),
    ]
    if half.half_time_days is None:
        return figures
    return [KeyFigure("Half-time", days(half.half_time_days), f"{half.half_time_days:.3g} days, {at}"), *figures]


def _year(found: Worked, typed: Typed, context: Context) -> list[Any]:
    year, climate, zone = found.planned.year, found.climate, context.site.time_zone
    if year is None or climate is None:
        return [no_result(found.why_no_year, lead="No year.")]
    limits = band(typed)
    first, last = (date(time, zone) for time in (year.rh_percent.index[0], year.rh_percent.index[-1]))
    covered = "no record: a smooth year" if climate.typed else f"{share(year.room_coverage)} of its hours measured"
    figures = [
        KeyFigure(word, number(percent, 1, "%RH"), f"7 days, {date(until - WEEK, zone)} to {date(until, zone)}")
        for word, percent, until in (
            ("Winter minimum", year.lowest7d_percent, year.lowest7d_until),
            ("Dampest week", year.highest7d_percent, year.highest7d_until),
        )
    ]
    if found.outside_band is not None:
        outside = found.outside_band
        figures.append(
            KeyFigure(
                "Within the band", share(outside.share_within),
                f"{number(outside.hours_below, 0)} h below, {number(outside.hours_above, 0)} h above "
                f"{outside.low:g}–{outside.high:g} %RH",
            )
        )  # fmt: skip
    figures.append(KeyFigure("Room", climate.name if not climate.typed else "typed", f"{first} to {last}; {covered}"))
    figure = planned_year_figure(
        year, climate.air.rh_percent, band=limits, wanted_percent=typed.number("minimum"), zone=zone
    )
    told = (
        f"Relative humidity through the year of {climate.name}, {first} to {last}: reckoned inside, daily means, from "
        f"{year.rh_percent.min():.0f} to {year.rh_percent.max():.0f} %RH; driest seven days until "
        f"{date(year.lowest7d_until, zone)}."
    )
    return [
        html.H3("A year of the room through it"),
        key_figures(figures),
        graph(figure, description=told),
        *_winter(found),
        *_panel(found),
    ]


def _winter(found: Worked) -> list[Any]:
    """Answer the question asked backwards: how much board, or how tight."""
    planned = found.planned
    if planned.winter_minimum_percent is None:
        return []
    board, loosest = planned.extra_board_kg, planned.loosest_air_exchange_per_day
    more = "none alone" if board is None else "none needed" if board == 0 else number(board, 2, "kg")
    figures = [
        KeyFigure("More board", more, planning.EXTRA_BOARD),
        KeyFigure(
            "Tight enough",
            "not alone" if loosest is None else f"≤ {loosest:.3g} a day",
            "air changes, buffers as they are",
        ),
    ]
    return [
        html.H3(f"For a winter minimum of {planned.winter_minimum_percent:g} %RH"),
        key_figures(figures),
        html.P(" ".join(planning.winter_in_words(planned)), className="prose"),
    ]


def _panel(found: Worked) -> list[Any]:
    movement = found.movement
    if movement is None:
        return []
    framed, unframed = movement.figures["movement_framed_mm"], movement.figures["movement_unframed_mm"]
    if framed is None or unframed is None:
        return [html.H3("The panel"), no_result(" ".join(movement.whys), lead="No movement.")]
    period = f"widest to narrowest in {movement.figures['movement_period_days']:.0f} days"
    return [
        html.H3("The panel across the grain"),
        key_figures(
            [
                KeyFigure("In this frame", number(framed, 2, "mm"), period),
                KeyFigure("Unframed in the room", number(unframed, 2, "mm"), period),
            ]
        ),
        html.Details(
            [
                html.Summary("How the movement is reckoned"),
                html.Ul([html.Li(note) for note in movement.notes], className="notes"),
            ]
        ),
    ]


def _words(found: Worked) -> html.Details:
    typed_climate = found.climate is not None and found.climate.typed
    sentences = planning.in_words(found.planned, typed_climate=typed_climate)
    listed = html.Ul([html.Li(text) for text in sentences], className="notes")
    return html.Details([html.Summary("In words, as the command says it"), listed], className="workbench-words")


def sheets(context: Context, typed: Typed) -> Sheets:
    """Return the figures, and the year by day, for a spreadsheet."""
    found = worked(context, typed)
    planned, half = found.planned, found.planned.half_time
    figures: list[tuple[str, float | str | None, str]] = [
        ("half-time", half.half_time_days, f"days at {half.temperature_celsius:g} °C {half.why}".strip()),
        ("capacity", half.capacity_g_per_percent, "g per %RH"),
        ("conductance", half.conductance_g_per_day_per_percent, "g per day and %RH"),
        ("exchange through sheets", planned.permeation_air_exchange_per_day, "air changes per day"),
    ]
    year = planned.year
    if year is None:
        return {"figures": (["reckoned, not measured", "value", "unit"], figures)}
    measured = found.climate is not None and not found.climate.typed
    figures += [
        ("lowest 7-day mean", year.lowest7d_percent, f"%RH, 7 days to {year.lowest7d_until:%Y-%m-%dT%H:%MZ}"),
        ("highest 7-day mean", year.highest7d_percent, f"%RH, 7 days to {year.highest7d_until:%Y-%m-%dT%H:%MZ}"),
        ("room measured", year.room_coverage if measured else None, "share of hours"),
        ("wanted winter minimum", planned.winter_minimum_percent, "%RH"),
        ("more board for it", planned.extra_board_kg, f"kg {planning.EXTRA_BOARD}"),
        ("loosest air exchange for it", planned.loosest_air_exchange_per_day, "air changes per day"),
    ]  # fmt: skip
    zone = context.site.time_zone
    air = year.rh_percent if found.climate is None else found.climate.air.rh_percent
    inside, room = (series.tz_convert(zone).resample("D").mean() for series in (year.rh_percent, air))
    rows = [
        [f"{day:%Y-%m-%d}", round(float(reckoned), 2), None if math.isnan(outside) else round(float(outside), 2)]
        for day, reckoned, outside in zip(inside.index, inside, room.reindex(inside.index), strict=True)
    ]
    heads = [f"day ({zone})", "inside as reckoned, daily mean %RH", "room, daily mean %RH"]
    return {"year": (heads, rows), "figures": (["reckoned, not measured", "value", "unit"], figures)}


PART = Part(
    key="climate",
    title="Climate",
    lede="What the frame is made of decides how slowly it follows its room, and what winter leaves of it.",
    groups=groups,
    example=example,
    result=result,
    sheets=sheets,
)
