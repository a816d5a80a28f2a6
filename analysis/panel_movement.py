"""How a panel moved across the grain within the last year, in its frame and as it would have in the room."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from isohume.analysis.constants import DAY_HOURS, FAILURE_STRAIN, YIELD_STRAIN, YIELD_STRAIN_BRITTLE_GESSO
from isohume.analysis.frame import Cut, FrameFacts, Panel
from isohume.analysis.integrals import time_mean
from isohume.analysis.movement import (
    FIBRE_SATURATION_PERCENT,
    SheetMovement,
    WoodSpecies,
    cross_grain_strain,
    find_species,
    sheet_movement,
)
from isohume.analysis.moving_average import centred_mean
from isohume.analysis.plate import first_order_response, plate_time_constant
from isohume.analysis.readings import AirRecord, hourly
from isohume.analysis.sorption import emc_percent

SOLID_WOOD = "solid wood"
_YEAR, _DAY = pd.Timedelta(days=365), pd.Timedelta(hours=DAY_HOURS)
# A shorter course shows no season, and its movement would only reassure.
_FEWEST_DAYS = 30

STRAIN_NOTE = (
    f"Published limits for restrained wood, paint and glue: yield from {100 * YIELD_STRAIN:g} % strain, brittle gesso "
    f"{100 * YIELD_STRAIN_BRITTLE_GESSO:g} %, failure from {100 * FAILURE_STRAIN:g} % (Richard, Mecklenburg & Tumosa, "
    "Getty 1998). Sources conflict: with the handbook's movement ±7 %RH from 50 % reaches the yield strain in "
    "flat-sawn white oak, while the measurements behind the ±15 %RH rule found about half that movement. These are "
    "strains of a free panel beside a limit, not a prediction of damage"
)
RESTRAINED_NOTE = (
    "The panel is restrained: what it cannot move becomes stress, so a small movement is no reassurance. A "
    "conservator of panels has to judge it"
)
KEYS = (
    "movement_framed_mm",
    "movement_unframed_mm",
    "movement_since_conditioning_mm",
    "strain_framed_percent",
    "strain_unframed_percent",
    "yield_strain_percent",
    "movement_framed_low_mm",
    "movement_framed_high_mm",
    "movement_unframed_low_mm",
    "movement_unframed_high_mm",
    "movement_period_days",
)


class _UnknownError(Exception):
    """A fact is missing without which there is no movement; the message is the reason."""


@dataclass(frozen=True, slots=True)
class PanelMovement:
    """Figures under the keys `KEYS`, sentences about them, and reasons for what is missing."""

    figures: dict[str, Any] = field(default_factory=lambda: dict.fromkeys(KEYS))
    notes: tuple[str, ...] = ()
    whys: tuple[str, ...] = ()


def panel_movement(inside: AirRecord | None, outside: AirRecord | None, frame: FrameFacts) -> PanelMovement:
    """Compute the movement of the support across the grain.

    Parameters
    ----------
    inside, outside : AirRecord or None
    frame : FrameFacts
        Its panel needs support, species, cut and thickness; its width turns strain into millimetres.

    Returns
    -------
    PanelMovement
        Solid wood: the difference between the widest and the narrowest state, both courses over the hours that inside
        and room share in the last 365 days, each followed by the panel with its own first-order time through the
        thickness. Other supports: a published range per %RH times the range of the 24-hour means. None without
        species and cut, and none for supports without a published figure.
    """
    if frame.panel is None:
        return PanelMovement(whys=("No movement: the panel is not recorded.",))
    if inside is None or outside is None:
        missing = "inside the frame" if inside is None else "of the room"
        return PanelMovement(whys=(f"No movement: there is no usable record {missing}.",))
    try:
        if frame.panel.support != SOLID_WOOD:
            return _sheet(inside, outside, frame.panel)
        return _solid_wood(inside, outside, frame.panel, _conditioned_emc(inside, frame))
    except _UnknownError as reason:
        return PanelMovement(whys=(f"No movement: {reason}.",))


def movement_course_mm(inside: AirRecord, outside: AirRecord, frame: FrameFacts) -> pd.DataFrame | None:
    """Return the course behind the movement of a solid panel [mm], for a figure; None where there is none.

    Every 12 hours of the period of `panel_movement`, and at the widest and narrowest states; columns framed, unframed:
    width less the width at conditioning, or, where that is not known, less the first width in the frame.
    """
    panel = frame.panel
    if panel is None or panel.support != SOLID_WOOD or panel.width_mm is None:
        return None
    try:
        species, cut, framed, unframed = _followed(inside, outside, panel)
    except _UnknownError:
        return None
    start = _conditioned_emc(inside, frame)
    zero = float(framed.iloc[0]) if start is None else start
    kept = framed.index[:: int(DAY_HOURS) // 2]
    for course in (framed, unframed):
        kept = kept.union([course.idxmin(), course.idxmax(), course.index[-1]])
    return pd.DataFrame(
        {
            name: [
                panel.width_mm * cross_grain_strain(zero, float(mc), species=species, cut=cut) for mc in course[kept]
            ]
            for name, course in (("framed", framed), ("unframed", unframed))
        },
        index=kept,
    )


def _followed(
    inside: AirRecord, outside: AirRecord, panel: Panel
) -> tuple[WoodSpecies, Cut, pd.Series[float], pd.Series[float]]:
    """Return species, cut and the moisture content that the board follows, framed and unframed [% of dry mass]."""
    if not panel.species or panel.cut is None:
        raise _UnknownError("it needs the species of the wood and the cut (flat-sawn or quarter-sawn)")
    species = find_species(panel.species)
    if species is None:
        raise _UnknownError(f'"{panel.species}" is not in the published table of species')
    if panel.thickness_mm is None:
        raise _UnknownError("without the thickness the panel's own response is unknown")
    response = plate_time_constant(panel.thickness_mm, faces_open=panel.faces_open)
    framed, unframed = _common(*(first_order_response(_emc(air), response) for air in (inside, outside)))
    return species, panel.cut, framed, unframed


def _solid_wood(inside: AirRecord, outside: AirRecord, panel: Panel, conditioned_emc: float | None) -> PanelMovement:
    """Follow the moisture content of a board and turn it into movement and strain."""
    species, cut, framed, unframed = _followed(inside, outside, panel)
    figures: dict[str, Any] = dict.fromkeys(KEYS)
    for place, course in (("framed", framed), ("unframed", unframed)):
        strain = cross_grain_strain(float(course.min()), float(course.max()), species=species, cut=cut)
        figures[f"strain_{place}_percent"] = 100 * strain
        figures[f"movement_{place}_mm"] = None if panel.width_mm is None else panel.width_mm * strain
    if conditioned_emc is not None and panel.width_mm is not None:
        since = cross_grain_strain(conditioned_emc, float(framed.iloc[-1]), species=species, cut=cut)
        figures["movement_since_conditioning_mm"] = panel.width_mm * since
    figures |= {"yield_strain_percent": 100 * YIELD_STRAIN, "movement_period_days": len(framed) / DAY_HOURS}
    used = (
        f"{species.name}, {cut}: {100 * species.coefficient(cut):.3f} % of the width per 1 % moisture "
        f"content ({species.source}; {species.movement_status})"
    )
    notes = (used, species.note, species.disagreement(cut), STRAIN_NOTE)
    whys = () if panel.width_mm is not None else ("No movement in mm: the width across the grain is not recorded.",)
    return PanelMovement(figures=figures, notes=tuple(note for note in notes if note), whys=whys)


def _sheet(inside: AirRecord, outside: AirRecord, panel: Panel) -> PanelMovement:
    """Give the range of movement of plywood, hardboard and the like."""
    published = sheet_movement(panel.support)
    if published is None:
        raise _UnknownError(f"no published figure for {panel.support} was found")
    if panel.width_mm is None:
        raise _UnknownError("the width of the panel is not recorded")
    framed, unframed = _common(*(centred_mean(hourly(air.rh_percent), window=_DAY) for air in (inside, outside)))
    figures: dict[str, Any] = dict.fromkeys(KEYS) | {"movement_period_days": len(framed) / DAY_HOURS}
    for place, course in (("framed", framed), ("unframed", unframed)):
        low, high = _sheet_range_mm(course, panel.width_mm, published)
        figures |= {f"movement_{place}_low_mm": low, f"movement_{place}_high_mm": high}
    note = (
        f"{panel.support.capitalize()}: in the plane of the sheet, a range ({published.source}; {published.status}), "
        "from 24-hour means and without the sheet's own slowness, so rather too much for the room"
    )
    return PanelMovement(figures=figures, notes=(note,))


def _sheet_range_mm(rh: pd.Series[float], width_mm: float, published: SheetMovement) -> tuple[float, float]:
    change = float(rh.max() - rh.min())
    return width_mm * published.low * change / 100, width_mm * published.high * change / 100


def _emc(air: AirRecord) -> pd.Series[float]:
    """Return the equilibrium moisture content on the hourly grid, kept below fibre saturation."""
    rh, celsius = hourly(air.rh_percent), hourly(air.temperature_celsius)
    return emc_percent(rh, celsius.reindex(rh.index)).clip(upper=FIBRE_SATURATION_PERCENT)


def _conditioned_emc(inside: AirRecord, frame: FrameFacts) -> float | None:
    """Return the moisture content at conditioning, at the mean temperature inside."""
    celsius = time_mean(inside.temperature_celsius)
    if celsius is None or frame.conditioned_percent is None:
        return None
    return float(emc_percent(frame.conditioned_percent, celsius))


def _common(framed: pd.Series[float], unframed: pd.Series[float]) -> tuple[pd.Series[float], pd.Series[float]]:
    """Return both courses on the hours that they share in the last year of the first."""
    framed, unframed = framed.dropna(), unframed.dropna()
    shared = framed.index.intersection(unframed.index)
    if len(shared):
        shared = shared[shared >= framed.index[-1] - _YEAR]
    if len(shared) < _FEWEST_DAYS * DAY_HOURS:
        raise _UnknownError(
            f"inside and room share {len(shared) / DAY_HOURS:.0f} days of the last year, {_FEWEST_DAYS} are needed"
        )
    return framed.reindex(shared), unframed.reindex(shared)
