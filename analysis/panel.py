"""What the support of a painting holds, how it moves, and the water between now and its conditioning."""

from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis.conditioning_water import water_to_move
from isohume.analysis.constants import WOOD_DIFFUSIVITY_M2_PER_S
from isohume.analysis.frame import FrameFacts, Panel
from isohume.analysis.integrals import time_mean
from isohume.analysis.panel_movement import RESTRAINED_NOTE, SOLID_WOOD, panel_movement
from isohume.analysis.plate import plate_time_constant
from isohume.analysis.readings import AirRecord
from isohume.analysis.sorption import emc_percent, rh_for_emc

_YEAR, _WEEK = pd.Timedelta(days=365), pd.Timedelta(days=7)
WATER_NOTE = (
    "Water goes to or from the board or buffer outside the frame, never to the panel, and by a qualified conservator; "
    "keep silica-gel dust and indicator salts off skin, lungs and objects"
)


def panel(inside: AirRecord | None, outside: AirRecord | None, *, frame: FrameFacts) -> dict[str, Any]:
    """Describe moisture and movement of the support.

    Parameters
    ----------
    inside, outside : AirRecord or None
        Air in the frame and in its room.
    frame : FrameFacts
        Panel, masses, and the RH it was conditioned at.

    Returns
    -------
    dict
        The last word of a key is its unit. *Now* is the mean of the last 7 days, *mean* that of the last 365. Movement
        is that of the last 365 days (see `panel_movement`). `notes` holds sentences; what is None has its reason in
        `why`.
    """
    contents, whys = _contents(inside, outside, frame)
    water, water_notes, water_whys = _water(inside, frame, contents["emc_inside_now_percent"])
    through, through_notes, through_whys = _through_thickness(frame.panel)
    movement = panel_movement(inside, outside, frame)
    restrained = (RESTRAINED_NOTE,) if frame.panel is not None and frame.panel.restrained else ()
    return {
        **contents,
        **water,
        **through,
        **movement.figures,
        "notes": (*restrained, *movement.notes, *through_notes, *water_notes),
        "why": " ".join((*whys, *water_whys, *through_whys, *movement.whys)),
    }


def _contents(
    inside: AirRecord | None, outside: AirRecord | None, frame: FrameFacts
) -> tuple[dict[str, float | None], list[str]]:
    """Return equilibrium moisture contents now, over the last year, and at conditioning [% of dry mass]."""
    whys = []
    contents: dict[str, float | None] = {}
    for place, named, air in (("inside", "inside the frame", inside), ("room", "of the room", outside)):
        now, mean = _mean_emc(air, _WEEK), _mean_emc(air, _YEAR)
        contents |= {f"emc_{place}_now_percent": now, f"emc_{place}_mean_percent": mean}
        if now is None:
            whys.append(f"No moisture content {named}: no usable record covers it.")
    conditioned = None
    celsius = None if inside is None else _mean(inside.temperature_celsius, _YEAR)
    if frame.conditioned_percent is None:
        whys.append("No moisture content at conditioning: its RH is not recorded.")
    elif celsius is not None:
        conditioned = float(emc_percent(frame.conditioned_percent, celsius))
    return contents | {"emc_conditioned_percent": conditioned}, whys


def _mean_emc(air: AirRecord | None, stretch: pd.Timedelta) -> float | None:
    """Return the mean equilibrium moisture content over the end of a record [% of dry mass]."""
    return None if air is None else _mean(emc_percent(air.rh_percent, air.temperature_celsius), stretch)


def _mean(series: pd.Series[float], stretch: pd.Timedelta) -> float | None:
    """Return the time mean over the end of a series, up to its newest usable value."""
    usable = series.dropna()
    return None if usable.empty else time_mean(usable[usable.index >= usable.index[-1] - stretch])


def _water(
    inside: AirRecord | None, frame: FrameFacts, emc_now: float | None
) -> tuple[dict[str, Any], tuple[str, ...], tuple[str, ...]]:
    """Return the water between now and conditioning, a note, and why there is none."""
    nothing = {"water_to_move_low_g": None, "water_to_move_high_g": None, "water_direction": None}
    if inside is None or emc_now is None or frame.conditioned_percent is None:
        return nothing, (), ("No amount of water: it needs the humidity now and at conditioning.",)
    celsius = _mean(inside.temperature_celsius, _WEEK)
    if celsius is None:
        return nothing, (), ("No amount of water: the inside temperature is missing.",)
    water = water_to_move(
        frame,
        rh_percent=float(rh_for_emc(emc_now, celsius)),
        target_percent=frame.conditioned_percent,
        temperature_celsius=celsius,
        uncertainty_percent=inside.uncertainty_percent,
    )
    if isinstance(water, str):
        return nothing, (), (water,)
    figures = {
        "water_to_move_low_g": water.low_g,
        "water_to_move_high_g": water.high_g,
        "water_direction": water.direction or None,
    }
    if not water.direction:
        return figures, (), ("No direction of the water: the difference lies within the logger's uncertainty.",)
    target = f"Water to {water.direction} to be back at {frame.conditioned_percent:g} %RH"
    return figures, (f"{target}: panel, board and lining in equilibrium with the air", WATER_NOTE), ()


def _through_thickness(facts: Panel | None) -> tuple[dict[str, float | None], tuple[str, ...], tuple[str, ...]]:
    """Return the panel's own response time, a note, and why there is none."""
    nothing: dict[str, float | None] = {"time_through_thickness_days": None}
    if facts is None or facts.thickness_mm is None:
        return nothing, (), ("No time through the thickness: the thickness of the panel is not recorded.",)
    if facts.support != SOLID_WOOD:
        return nothing, (), (f"No time through the thickness: no diffusion figure for {facts.support} was found.",)
    days = plate_time_constant(facts.thickness_mm, faces_open=facts.faces_open) / pd.Timedelta(days=1)
    faces = "the painted face taken as sealed" if facts.faces_open == 1 else "both faces open"
    note = (
        f"Time through the thickness: slowest mode of a plate, {faces}, D = {WOOD_DIFFUSIVITY_M2_PER_S:.0e} m²/s "
        "(spruce; Sánchez-Ferrer & Engelhardt 2026); paint and still air make it longer, moisture shorter"
    )
    return {"time_through_thickness_days": days}, (note,), ()
