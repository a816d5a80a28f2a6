"""How much water lies between the moisture a frame holds and the one it was conditioned to."""

from __future__ import annotations

from dataclasses import dataclass

from isohume.analysis.frame import FrameFacts
from isohume.analysis.sorption import emc_percent
from isohume.analysis.tables import table

_GRAMS_PER_KILOGRAM = 1000.0
# Board and paper take up 0.8-1.3 g per kg and 1 %RH (from memory); the packaged value is the middle of that range.
_BOARD_SPREAD = (0.8 / 1.05, 1.3 / 1.05)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterToMove:
    """Water to add (to the drier frame) or to take away, as a range."""

    low_g: float
    high_g: float
    direction: str  # add, take away; empty where the difference lies within the logger's uncertainty


def water_to_move(
    frame: FrameFacts,
    *,
    rh_percent: float,
    target_percent: float,
    temperature_celsius: float,
    uncertainty_percent: float,
) -> WaterToMove | str:
    """Compute the water between the present humidity of a frame and the one wanted.

    Parameters
    ----------
    frame : FrameFacts
        Masses of the panel (as weighed), of the board and of the wood lining (dry).
    rh_percent, target_percent : float [%RH]
        Where it is, where it should be.
    temperature_celsius : float [°C]
        Of the inside.
    uncertainty_percent : float [%RH]
        Expanded uncertainty of `rh_percent`; it widens the range.

    Returns
    -------
    WaterToMove or str
        Σ mass × ΔEMC over panel, board and lining. Wood from three quarters of the sorption equation (Thomson's
        practical 1.2 g per kg and %RH against the equation's 1.6; from memory) to all of it; board from 0.8 to
        1.3 g per kg and %RH. Or why there is none: a mass that is not known.
    """
    masses = {
        "panel": None if frame.panel is None else frame.panel.mass_kg,
        "board": frame.construction.board_kg,
        "wood lining": frame.construction.wood_lining_kg,
    }
    unknown = [name for name, mass in masses.items() if mass is None]
    if unknown:
        return f"No amount of water: the mass of the {' and of the '.join(unknown)} is not recorded."
    capacities = {row["material"]: float(row["capacity_g_per_kg_per_percent"]) for row in table("buffer_materials")}
    practice = capacities["wood in practice"] / capacities["wood whole mass active"]
    board = masses["board"] or 0.0
    wood = (masses["panel"] or 0.0) / (1 + emc_percent(rh_percent, temperature_celsius) / 100)
    wood += masses["wood lining"] or 0.0
    per_board_percent = capacities["cotton paper or board"] * board

    def grams(difference: float, wood_share: float, board_share: float) -> float:
        near = target_percent - difference
        content = emc_percent(target_percent, temperature_celsius) - emc_percent(near, temperature_celsius)
        return abs(_GRAMS_PER_KILOGRAM * wood * wood_share * content / 100) + abs(
            per_board_percent * board_share * difference
        )

    difference = target_percent - rh_percent
    sign = 1.0 if difference >= 0 else -1.0
    least = sign * max(0.0, abs(difference) - uncertainty_percent)
    most = sign * min(abs(difference) + uncertainty_percent, target_percent if sign > 0 else 100 - target_percent)
    return WaterToMove(
        low_g=grams(least, practice, _BOARD_SPREAD[0]),
        high_g=grams(most, 1.0, _BOARD_SPREAD[1]),
        direction="" if least == 0 else "add" if difference > 0 else "take away",
    )
