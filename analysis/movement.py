"""How wood moves across the grain when its moisture content changes, by species and cut."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from isohume.analysis.frame import Cut
from isohume.analysis.tables import table

# Wood Handbook Eq. 13-2 holds between these moisture contents; Eq. 13-3 outside, up to fibre saturation.
LINEAR_FROM_PERCENT, LINEAR_TO_PERCENT = 6.0, 14.0
FIBRE_SATURATION_PERCENT = 30.0
# Two published tables that give movements this far apart are said to disagree.
DISAGREEMENT = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class WoodSpecies:
    """One row of the published movement tables.

    Coefficients are the change of width per width and 1 % moisture content, at 10 % moisture content; shrinkage is
    from green to ovendry.
    """

    name: str
    botanical_name: str
    radial_per_percent_mc: float
    tangential_per_percent_mc: float
    movement_status: str  # verified, or computed from the shrinkage
    shrinkage_radial_percent: float
    shrinkage_tangential_percent: float
    shrinkage_status: str
    source: str
    note: str

    def coefficient(self, cut: Cut) -> float:
        """Return the movement across the width: tangential for flat-sawn boards, radial for quarter-sawn ones."""
        return self.tangential_per_percent_mc if cut == "flat-sawn" else self.radial_per_percent_mc

    def shrinkage_percent(self, cut: Cut) -> float:
        """Return the shrinkage across the width from green to ovendry."""
        return self.shrinkage_tangential_percent if cut == "flat-sawn" else self.shrinkage_radial_percent

    def coefficient_from_shrinkage(self, cut: Cut) -> float:
        """Return the coefficient that the shrinkage implies at 10 % moisture content: 1/(3000/S - 20)."""
        return 1 / (100 * FIBRE_SATURATION_PERCENT / self.shrinkage_percent(cut) - 20)

    def disagreement(self, cut: Cut) -> str:
        """Say by how much the movement and the shrinkage table differ; empty where they agree within a tenth."""
        ratio = self.coefficient_from_shrinkage(cut) / self.coefficient(cut)
        if abs(ratio - 1) <= DISAGREEMENT:
            return ""
        amount = f"{abs(100 * (ratio - 1)):.0f} % {'more' if ratio > 1 else 'less'}"
        return (
            f"Two published tables disagree for {self.name}: shrinkage implies {amount} movement than the movement "
            "coefficient used here."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetMovement:
    """Published range of the linear movement of a support that is not solid wood, % of length per 1 %RH."""

    low: float
    high: float
    source: str
    status: str


@cache
def wood_species() -> dict[str, WoodSpecies]:
    """Return the published species by name."""
    return {
        row["species"]: WoodSpecies(
            name=row["species"],
            botanical_name=row["botanical_name"],
            radial_per_percent_mc=float(row["radial_per_percent_mc"]),
            tangential_per_percent_mc=float(row["tangential_per_percent_mc"]),
            movement_status=row["movement_status"],
            shrinkage_radial_percent=float(row["shrinkage_radial_percent"]),
            shrinkage_tangential_percent=float(row["shrinkage_tangential_percent"]),
            shrinkage_status=row["shrinkage_status"],
            source=row["source"],
            note=row["note"],
        )
        for row in table("wood_movement")
    }


def find_species(name: str) -> WoodSpecies | None:
    """Find a species by its name in the table, or by a botanical name that only one row carries; None if unknown."""
    wanted = name.strip().casefold()
    for species in wood_species().values():
        if species.name.casefold() == wanted:
            return species
    botanical = [species for species in wood_species().values() if species.botanical_name.casefold() == wanted]
    return botanical[0] if len(botanical) == 1 else None


def sheet_movement(support: str) -> SheetMovement | None:
    """Find the published range of a support that is not solid wood; None where no figure was found."""
    for row in table("sheet_movement"):
        if row["support"] == support.strip().casefold():
            return SheetMovement(
                low=float(row["strain_percent_per_percent_rh_low"]),
                high=float(row["strain_percent_per_percent_rh_high"]),
                source=row["source"],
                status=row["status"],
            )
    return None


def cross_grain_strain(from_mc_percent: float, to_mc_percent: float, *, species: WoodSpecies, cut: Cut) -> float:
    """Compute the free change of width per width when the moisture content changes.

    Parameters
    ----------
    from_mc_percent, to_mc_percent : float [% of dry mass]
        Uniform through the board, 0 to 30.
    species, cut
        Flat-sawn boards move tangentially across their width, quarter-sawn ones radially.

    Returns
    -------
    float [-]
        Positive when the board widens. Within 6 to 14 % moisture content by the movement coefficient (Eq. 13-2), else
        by the shrinkage (Eq. 13-3).

    Raises
    ------
    ValueError
        A moisture content outside 0 to 30 %.

    References
    ----------
    USDA Wood Handbook, FPL-GTR-190 (2010), Eq. 13-2 (verified) and 13-3 (form from memory, confirmed by its numbers).
    """
    for content in (from_mc_percent, to_mc_percent):
        if not 0 <= content <= FIBRE_SATURATION_PERCENT:
            raise ValueError(f"Moisture content {content:g} %: movement is given between 0 and 30 % of dry mass.")
    change = to_mc_percent - from_mc_percent
    if (
        LINEAR_FROM_PERCENT
        <= min(from_mc_percent, to_mc_percent)
        <= max(from_mc_percent, to_mc_percent)
        <= (LINEAR_TO_PERCENT)
    ):
        return species.coefficient(cut) * change
    return change / (
        100 * FIBRE_SATURATION_PERCENT / species.shrinkage_percent(cut) - FIBRE_SATURATION_PERCENT + from_mc_percent
    )


def cross_grain_movement_mm(
    width_mm: float, from_mc_percent: float, to_mc_percent: float, *, species: WoodSpecies, cut: Cut
) -> float:
    """Compute the free change of width of a board [mm]; see `cross_grain_strain`.

    Examples
    --------
    >>> white_fir = wood_species()["Fir, white"]
    >>> round(cross_grain_movement_mm(232, 8, 11, species=white_fir, cut="flat-sawn"), 1)
    1.7
    """
    return width_mm * cross_grain_strain(from_mc_percent, to_mc_percent, species=species, cut=cut)
