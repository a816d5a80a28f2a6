"""A frame before it is built, as the command and the page put it: parts as written, figures as sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from isohume.analysis.build_up import BuildUp, BuildUpDepths, build_up
from isohume.analysis.construction import (
    Buffer,
    DesignHalfTime,
    FrameDesign,
    Sheet,
    buffer_materials,
    design_half_time,
    sheet_resistance_m,
)
from isohume.analysis.exchange.tracer import TracerDecay, air_exchange_from_two_readings
from isohume.analysis.planned_year import PlannedYear, board_for_winter_minimum, loosest_air_exchange, planned_year
from isohume.analysis.plate import plate_time_constant
from isohume.analysis.readings import AirRecord
from isohume.analysis.tables import table

CAUTION = (
    "One reservoir stands for the frame: an estimate before it is built, to be checked by logging once it is. Which "
    "board, glazing and sealing suit a painting is for a qualified conservator to say."
)
# Of the board that a winter minimum asks for.
EXTRA_BOARD = "cotton paper or board"
_DAY_SECONDS = 86400
_SHEET_PARTS, _BUILD_UP_PARTS, _TRACER_PARTS = 3, 6, 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """Everything worked out of one design."""

    half_time: DesignHalfTime
    permeation_air_exchange_per_day: float | None
    year: PlannedYear | None = None
    winter_minimum_percent: float | None = None
    extra_board_kg: float | None = None
    loosest_air_exchange_per_day: float | None = None
    depths: BuildUpDepths | None = None


def design_of(
    air_volume_litres: float,
    air_exchange_per_day: float,
    boards: Sequence[str],
    sheets: Sequence[str],
    panel_thickness_mm: float | None,
) -> FrameDesign:
    """Build a design from its parts as written: boards as KG:MATERIAL, sheets as MATERIAL:MM:M2.

    Raises
    ------
    ValueError
        A part is not of its form, or a quantity is impossible.
    KeyError
        A material is not tabulated.
    """
    buffers = []
    for text in boards:
        mass, _, material = text.partition(":")
        buffers.append(Buffer(mass_kg=_number(mass, text), capacity_g_per_kg_per_percent=capacity_of(material)))
    layers = []
    for text in sheets:
        parts = text.split(":")
        if len(parts) != _SHEET_PARTS:
            raise ValueError(f"{text!r}: expected MATERIAL:MM:M2, such as 'acrylic sheet:3:0.2'.")
        resistance = sheet_resistance_m(parts[0], _number(parts[1], text))
        layers.append(Sheet(area_m2=_number(parts[2], text), s_d_m=resistance))
    response = None if panel_thickness_mm is None else plate_time_constant(panel_thickness_mm).total_seconds()
    return FrameDesign(
        air_volume_litres=air_volume_litres,
        air_exchange_per_day=air_exchange_per_day,
        buffers=tuple(buffers),
        sheets=tuple(layers),
        panel_response_days=None if response is None else response / _DAY_SECONDS,
    )


def depths_of(text: str) -> BuildUpDepths:
    """Work out collar and screw from `rebate,frame,glazing,spacer,panel,backing` [mm].

    Raises
    ------
    ValueError
        Not six numbers, or impossible ones.
    """
    numbers = [_number(part, text) for part in text.split(",")]
    if len(numbers) != _BUILD_UP_PARTS:
        raise ValueError(f"{text!r}: expected six depths in mm: rebate,frame,glazing,spacer,panel,backing.")
    names = ("rebate_mm", "frame_mm", "glazing_mm", "spacer_mm", "panel_mm", "backing_mm")
    return build_up(BuildUp(**dict(zip(names, numbers, strict=True))))


def tracer_decay_of(text: str) -> TracerDecay:
    """Work out the air exchange from `start,end,room,days`, three concentrations in one unit.

    Raises
    ------
    ValueError
        Not four numbers, or no decay.
    """
    numbers = [_number(part, text) for part in text.split(",")]
    if len(numbers) != _TRACER_PARTS:
        raise ValueError(f"{text!r}: expected four numbers: concentration at start, end and in the room, days.")
    start, end, room, days = numbers
    return air_exchange_from_two_readings(start, end, background=room, days=days)


def tracer_in_words(decay: TracerDecay) -> list[str]:
    """Return what a tracer's decay says, and what it does not see."""
    return [f"The tracer decayed at {decay.air_exchange_per_day:.3g} air changes a day. {decay.warning}"]


def capacity_of(material: str) -> float:
    """Return the moisture capacity of a tabulated material [g/kg per %RH].

    Raises
    ------
    KeyError
        It is not tabulated; the message lists what is.
    """
    known = {row["material"]: float(row["capacity_g_per_kg_per_percent"]) for row in buffer_materials()}
    if material not in known:
        raise KeyError(f"No moisture capacity is tabulated for {material!r}. Known: {'; '.join(known)}.")
    return known[material]


def work_out(
    design: FrameDesign,
    *,
    temperature_celsius: float,
    room: AirRecord | None = None,
    conditioned_percent: float | None = None,
    winter_minimum_percent: float | None = None,
    depths: BuildUpDepths | None = None,
) -> Planned:
    """Work out one design: half-time, and with a room its year and what a winter minimum asks for.

    Raises
    ------
    ValueError
        The room's record does not make a year, or the design has no half-time.
    """
    year = extra = loosest = None
    if room is not None:
        year = planned_year(design, room, conditioned_percent=conditioned_percent)
        if winter_minimum_percent is not None:
            extra = board_for_winter_minimum(
                design,
                room,
                wanted_percent=winter_minimum_percent,
                capacity_g_per_kg_per_percent=capacity_of(EXTRA_BOARD),
                conditioned_percent=conditioned_percent,
            )
            loosest = loosest_air_exchange(
                design, room, wanted_percent=winter_minimum_percent, conditioned_percent=conditioned_percent
            )
    air = design.air_volume_litres
    return Planned(
        half_time=design_half_time(design, temperature_celsius=temperature_celsius),
        permeation_air_exchange_per_day=design.permeation_air_exchange_per_day(temperature_celsius) if air else None,
        year=year,
        winter_minimum_percent=winter_minimum_percent,
        extra_board_kg=extra,
        loosest_air_exchange_per_day=loosest,
        depths=depths,
    )


def document(planned: Planned) -> dict[str, Any]:
    """Return the plan as a JSON document; what was not asked for is null."""
    found, year, depths = planned.half_time, planned.year, planned.depths
    return {
        "schema": "isohume.plan.1",
        "half_time_days": found.half_time_days,
        "why": found.why,
        "temperature_celsius": found.temperature_celsius,
        "capacity_g_per_percent": found.capacity_g_per_percent,
        "conductance_g_per_day_per_percent": found.conductance_g_per_day_per_percent,
        "permeation_air_exchange_per_day": planned.permeation_air_exchange_per_day,
        "year": None
        if year is None
        else {
            "half_time_days": year.half_time_days,
            "lowest7d_percent": year.lowest7d_percent,
            "highest7d_percent": year.highest7d_percent,
            "room_coverage": year.room_coverage,
        },
        "winter_minimum_percent": planned.winter_minimum_percent,
        "extra_board_kg": planned.extra_board_kg,
        "loosest_air_exchange_per_day": planned.loosest_air_exchange_per_day,
        "build_up": None
        if depths is None
        else {
            "package_mm": depths.package_mm,
            "collar_mm": depths.collar_mm,
            "spare_mm": depths.spare_mm,
            "longest_screw_mm": depths.longest_screw_mm,
            "notes": list(depths.notes),
        },
    }


def in_words(planned: Planned, *, typed_climate: bool = False) -> list[str]:
    """Return the plan as sentences; a `typed_climate` is no record, and has no hours measured."""
    found = planned.half_time
    celsius = found.temperature_celsius
    said = [
        found.why
        if found.half_time_days is None
        else f"Half-time {found.half_time_days:.3g} days at {celsius:g} °C: it takes up "
        f"{found.capacity_g_per_percent:.2f} g of water per %RH and exchanges "
        f"{found.conductance_g_per_day_per_percent:.4f} g a day per %RH of difference to its room."
    ]
    permeation = planned.permeation_air_exchange_per_day
    if permeation is not None and permeation > 0.001:
        said.append(
            f"Its sheets let through as much vapour as {permeation:.2f} air changes a day would; a test with a tracer "
            "gas does not see that."
        )
    if planned.year is not None:
        year = planned.year
        where = (
            "In the climate typed"
            if typed_climate
            else f"In the room's recorded year ({year.room_coverage:.0%} of its hours measured)"
        )
        said.append(
            f"{where} the 7-day mean inside runs "
            f"from {year.lowest7d_percent:.1f} to {year.highest7d_percent:.1f} %RH, with a half-time of "
            f"{year.half_time_days:.3g} days at the room's mean temperature."
        )
    if planned.winter_minimum_percent is not None:
        said += winter_in_words(planned)
    if planned.depths is not None:
        said += _depths(planned.depths)
    return [*said, CAUTION]


def known_materials() -> str:
    """Return the tabulated materials with figures, source and status."""
    lines = ["Buffers, g of water per kg and %RH:"]
    lines += [
        f"  {row['material']}: {row['capacity_g_per_kg_per_percent']} ({row['source']}; {row['status']})"
        for row in buffer_materials()
    ]
    lines.append("Glazing and backing:")
    for row in table("vapour_resistance"):
        figure = f"s_d {row['s_d_m']} m" if row["s_d_m"] else f"μ {row['mu']}" if row["mu"] else "vapour-tight"
        lines.append(f"  {row['material']}: {figure} ({row['source']}; {row['status']})")
    return "\n".join(lines)


def winter_in_words(planned: Planned) -> list[str]:
    """Return what the wanted winter minimum asks for: by board, and by sealing."""
    wanted = f"a lowest 7-day mean of {planned.winter_minimum_percent:g} %RH"
    board, exchange = planned.extra_board_kg, planned.loosest_air_exchange_per_day
    by_board = (
        f"No board alone gives {wanted}: a slow frame settles at the mean of its room."
        if board is None
        else f"It already keeps {wanted}."
        if board == 0
        else f"{board:.2f} kg more {EXTRA_BOARD} would give {wanted}."
    )
    by_sealing = (
        f"No tightness alone gives {wanted}."
        if exchange is None
        else f"With its buffers as they are, at most {exchange:.3g} air changes a day keep it."
    )
    return [by_board, by_sealing]


def _depths(depths: BuildUpDepths) -> list[str]:
    collar = (
        f"The rebate takes the package, {depths.spare_mm:g} mm to spare."
        if depths.collar_mm == 0
        else f"The package of {depths.package_mm:g} mm needs a collar {depths.collar_mm:g} mm deep."
    )
    screw = (
        ""
        if depths.longest_screw_mm is None
        else f"Longest screw {depths.fixing}: {depths.longest_screw_mm:g} mm under its head, its tip 9.5 mm from the "
        "face (common practice)."
    )
    return [text for text in (collar, screw, *depths.notes) if text]


def _number(text: str, whole: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{whole!r}: {text!r} is not a number. Write decimals with a point.") from None
