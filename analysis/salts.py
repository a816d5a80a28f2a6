"""Fixed points of humidity over saturated salt solutions, for checking loggers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from isohume.analysis.tables import table


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltPoint:
    """Relative humidity over one saturated salt solution at one temperature."""

    salt: str
    temperature_celsius: float
    rh_percent: float
    uncertainty_percent: float  # expanded, from memory of the same publication
    status: str  # of the RH: verified, or memory where the published table was not seen


def salts() -> tuple[str, ...]:
    """Return the names of the tabulated salts, driest first."""
    return tuple(dict.fromkeys(row["salt"] for row in table("salt_fixed_points")))


def salt_point(salt: str, temperature_celsius: float) -> SaltPoint:
    """Return the equilibrium humidity over a saturated salt solution with excess solid.

    Parameters
    ----------
    salt : str
        A name from `salts()`, in any case, or the formula.
    temperature_celsius : float [°C]
        Within the tabulated range of the salt (at most 0 to 40 °C).

    Returns
    -------
    SaltPoint
        From the published polynomial; for sodium bromide, which has none here, between the table's 5-degree steps.

    Raises
    ------
    ValueError
        No such salt, or a temperature outside its table.

    References
    ----------
    Greenspan (1977), J. Res. NBS 81A:89-96. Wexler & Hasegawa (1954) differ for sodium chloride by up to 0.6 %RH.

    Examples
    --------
    >>> round(salt_point("sodium chloride", 20.0).rh_percent, 2)
    75.48
    """
    wanted = salt.casefold()
    rows = [row for row in table("salt_fixed_points") if wanted in {row["salt"].casefold(), row["formula"].casefold()}]
    if not rows:
        raise ValueError(f'No fixed point of "{salt}" is tabulated. Choose one of: {", ".join(salts())}.')
    celsius, percent, uncertainty = (
        np.array([float(row[name]) for row in rows])
        for name in ("temperature_celsius", "rh_percent", "uncertainty_percent")
    )
    if not celsius[0] <= temperature_celsius <= celsius[-1]:
        raise ValueError(
            f"{rows[0]['salt']} at {temperature_celsius:g} °C: "
            f"tabulated from {celsius[0]:g} to {celsius[-1]:g} °C only."
        )
    nearest = rows[int(np.abs(celsius - temperature_celsius).argmin())]
    rh_percent = float(np.interp(temperature_celsius, celsius, percent))
    for row in table("salt_polynomials"):
        if row["salt"] == nearest["salt"]:
            rh_percent = sum(float(row[f"a{power}"]) * temperature_celsius**power for power in range(4))
    return SaltPoint(
        salt=nearest["salt"],
        temperature_celsius=temperature_celsius,
        rh_percent=rh_percent,
        uncertainty_percent=float(np.interp(temperature_celsius, celsius, uncertainty)),
        status=nearest["status"],
    )
