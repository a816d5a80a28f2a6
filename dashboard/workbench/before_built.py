"""A frame before it is built: what it is made of, in the words of the command, and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, get_args

import pandas as pd

from isohume.analysis.construction import FrameDesign, buffer_materials
from isohume.analysis.excursions import hours_outside
from isohume.analysis.frame import Cut, FrameFacts, Panel
from isohume.analysis.movement import wood_species
from isohume.analysis.panel_movement import PanelMovement, panel_movement
from isohume.analysis.readings import AirRecord, hourly
from isohume.analysis.results import BandFinding
from isohume.analysis.tables import table
from isohume.dashboard.planning import Planned, design_of, work_out
from isohume.dashboard.workbench.climate import Climate, NoClimateError, choices, first_choice, of_typed
from isohume.dashboard.workbench.fields import Choice, Number, Typed
from isohume.dashboard.workbench.part import CannotReckonError, Context, Group

N_BOARDS = 2
SHEETS = ("glazing", "backing", "barrier")
# Of a panel and a wood lining: what a frame's wood takes up in practice.
WOOD = "wood in practice"
NO_SHEET = ""
PANEL_MATERIALS = frozenset({"wood whole mass active", WOOD})


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """All that is reckoned of a design in a climate; what is not, says why."""

    planned: Planned
    climate: Climate | None
    why_no_year: str = ""
    outside_band: BandFinding | None = None
    movement: PanelMovement | None = None


def groups(context: Context) -> tuple[Group, ...]:
    """Return the fields."""
    boards = tuple(row["material"] for row in buffer_materials() if row["material"] not in PANEL_MATERIALS)
    materials = tuple((name, name) for name in boards)
    sheets = ((NO_SHEET, "vapour-tight"), *((row["material"], row["material"]) for row in sheet_rows()))
    species = (("", "not known"), *((name, name) for name in wood_species()))
    cuts = (("", "not known"), *((cut, cut) for cut in get_args(Cut)))
    return (
        Group(
            title="The closed frame",
            fields=(
                Number(name="air", label="Air volume", unit="litres", low=0.01, high=10_000, needed=True),
                Number(
                    name="exchange", label="Air changes", unit="per day", low=0, high=50, needed=True,
                    note="tight frames: 0.01 to 0.5",
                ),
                Number(name="celsius", label="Its temperature", unit="°C", low=-10, high=45, needed=True),
                Number(name="lining", label="Wood lining", unit="kg", low=0, high=1000),
            ),
        ),
        Group(
            title="Boards and other buffers, dry mass",
            rows="amount-of",
            fields=tuple(
                field
                for place in range(1, N_BOARDS + 1)
                for field in (
                    Number(name=f"board{place}", label=f"Buffer {place}", unit="kg", low=0, high=1000),
                    Choice(
                        name=f"board{place}_of", label=f"Material {place}", choices=materials,
                        default="cotton paper or board",
                    ),
                )
            ),
        ),
        Group(
            title="Sheets that let vapour through",
            rows="sheets",
            fields=tuple(
                field
                for name in SHEETS
                for field in (
                    Choice(name=name, label=name.capitalize(), choices=sheets, default=NO_SHEET),
                    Number(name=f"{name}_mm", label="Thick", unit="mm", low=0.01, high=100),
                    Number(name=f"{name}_m2", label="Area", unit="m²", low=0.0001, high=50),
                )
            ),
        ),
        Group(
            title="The panel",
            fields=(
                Number(name="panel", label="Mass", unit="kg", low=0, high=500),
                Number(name="panel_mm", label="Thickness", unit="mm", low=0.1, high=200),
                Choice(name="species", label="Species", choices=species, wide=True),
                Choice(name="cut", label="Cut", choices=cuts),
                Number(name="panel_wide_mm", label="Width across the grain", unit="mm", low=1, high=5000),
            ),
        ),
        Group(
            title="The room and what is wanted",
            note="The four figures are used for a climate that you type; it is driest and coldest in mid January.",
            fields=(
                Choice(
                    name="room", label="Room", choices=choices(context), default=first_choice(context), wide=True
                ),
                Number(name="rh_mean", label="Yearly mean", unit="%RH", low=0, high=100),
                Number(name="rh_swing", label="and swing, ±", unit="%RH", low=0, high=50),
                Number(name="t_mean", label="Yearly mean", unit="°C", low=-20, high=45),
                Number(name="t_swing", label="and swing, ±", unit="°C", low=0, high=25),
                Number(name="low", label="Band, lowest", unit="%RH", low=0, high=100),
                Number(name="high", label="Band, highest", unit="%RH", low=0, high=100),
                Number(
                    name="minimum", label="Winter minimum", unit="%RH", low=1, high=99,
                    note="wanted lowest 7-day mean",
                ),
                Number(
                    name="conditioned", label="Conditioned at", unit="%RH", low=1, high=99,
                    note="empty: the year it settles into",
                ),
            ),
        ),
    )  # fmt: skip


def sheet_rows() -> list[dict[str, str]]:
    """Return the tabulated sheets that let vapour through."""
    return [row for row in table("vapour_resistance") if row["mu"] or row["s_d_m"]]


def example(context: Context) -> dict[str, str]:
    """Fill in a frame for a small oak panel, in the first room that was measured for long."""
    return {
        "air": "3", "exchange": "0.3", "celsius": "20", "lining": "0", "board1": "0.4",
        "board1_of": "cotton paper or board", "board2_of": "silica gel conventional density",
        "backing": "polycarbonate sheet", "backing_mm": "4", "backing_m2": "0.15", "panel": "0.9", "panel_mm": "9",
        "species": "Oak, white (Quercus alba)", "cut": "quarter-sawn", "panel_wide_mm": "320",
        "room": first_choice(context), "rh_mean": "48", "rh_swing": "12", "t_mean": "20", "t_swing": "2",
        "low": "42", "high": "58", "minimum": "45",
    }  # fmt: skip


def design(typed: Typed) -> FrameDesign:
    """Build the design, as `isohume plan` would from the same figures.

    Raises
    ------
    ValueError
        A sheet lacks its thickness or area.
    """
    boards = [
        f"{mass!r}:{typed.text(f'board{place}_of')}"
        for place in range(1, N_BOARDS + 1)
        if (mass := typed.number(f"board{place}"))
    ]
    boards += [f"{mass!r}:{WOOD}" for name in ("lining", "panel") if (mass := typed.number(name))]
    sheets = []
    for name in SHEETS:
        if not (material := typed.text(name)):
            continue
        thick, area = typed.number(f"{name}_mm"), typed.number(f"{name}_m2")
        if thick is None or area is None:
            raise ValueError(f"The {name} needs its thickness in mm and its area in m².")
        sheets.append(f"{material}:{thick!r}:{area!r}")
    return design_of(typed.amount("air"), typed.amount("exchange"), boards, sheets, typed.number("panel_mm"))


def band(typed: Typed) -> tuple[float, float] | None:
    """Return the band, None where it is not typed.

    Raises
    ------
    ValueError
        The low limit does not lie below the high one.
    """
    low, high = typed.number("low"), typed.number("high")
    if low is None or high is None:
        return None
    if not low < high:
        raise ValueError("The band's lowest must lie below its highest.")
    return low, high


def worked(context: Context, typed: Typed) -> Worked:
    """Work out everything that the typed figures allow.

    Raises
    ------
    CannotReckonError
        The design is none.
    """
    celsius = typed.amount("celsius")
    try:
        built, limits = design(typed), band(typed)
        planned = work_out(built, temperature_celsius=celsius)
    except ValueError as error:
        raise CannotReckonError(str(error)) from None
    if planned.half_time.half_time_days is None:
        why = "A year through a frame needs its half-time, which cannot be given."
        return Worked(planned=planned, climate=None, why_no_year=why)
    try:
        climate = of_typed(context, typed)
        planned = work_out(
            built,
            temperature_celsius=celsius,
            room=climate.air,
            conditioned_percent=typed.number("conditioned"),
            winter_minimum_percent=typed.number("minimum"),
        )
    except NoClimateError as error:
        return Worked(planned=planned, climate=None, why_no_year=str(error))
    except ValueError as error:  # the record does not make a year
        return Worked(planned=planned, climate=climate, why_no_year=str(error))
    if planned.year is None:
        raise TypeError("With a room there is a year.")
    return Worked(
        planned=planned,
        climate=climate,
        outside_band=None
        if limits is None
        else hours_outside(planned.year.rh_percent, low=limits[0], high=limits[1], uncertainty_percent=0.0),
        movement=_movement(planned.year.rh_percent, climate, typed),
    )


def _movement(inside: pd.Series[float], climate: Climate, typed: Typed) -> PanelMovement:
    """Let the panel follow the planned year, and the room's: by how much the frame stills it."""
    celsius = hourly(climate.air.temperature_celsius).reindex(inside.index).interpolate(limit_direction="both")
    readings = pd.DataFrame({"rh_percent": inside, "temperature_celsius": celsius})
    cuts: dict[str, Any] = {cut: cut for cut in get_args(Cut)}
    panel = Panel(
        species=typed.text("species") or None,
        cut=cuts.get(typed.text("cut")),
        width_mm=typed.number("panel_wide_mm"),
        thickness_mm=typed.number("panel_mm"),
    )
    framed = replace(climate.air, readings=readings)
    return panel_movement(_record(framed), climate.air, FrameFacts(panel=panel))


def _record(air: AirRecord) -> AirRecord:
    readings = air.readings.astype("float64")
    readings.index = pd.DatetimeIndex(readings.index, name="time_utc")
    return replace(air, readings=readings)
