"""Before a frame is built: its hygrometric half-time from what it is made of.

Two properties decide. The capacity C, the water the frame takes up per 1 %RH, is that of its air and of everything in
it that buffers. The conductance G, the water it exchanges per day and per 1 %RH of difference to the room, is that of
air exchange through gaps and of permeation through sheets. The half-time is ln 2 · C/G. Thomson's 4·M·B/N is the
value of the same relation at 20 °C without permeation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from isohume.analysis.psychrometrics import saturation_concentration_g_per_m3, saturation_vapour_pressure_pa
from isohume.analysis.tables import table

# Permeability of still air to vapour, about 2.0e-10 kg/(m·s·Pa) at room temperature: from memory.
AIR_PERMEABILITY = 2.0e-10
_SECONDS_PER_DAY, _GRAMS_PER_KILOGRAM = 86400.0, 1000.0
# One reservoir stands for the frame only while the panel keeps up with its air.
SLOWEST_PANEL_SHARE = 3.0
REFERENCE_CELSIUS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Buffer:
    """Something in the frame that takes up water."""

    mass_kg: float  # dry mass that the air reaches
    capacity_g_per_kg_per_percent: float

    @property
    def capacity_g_per_percent(self) -> float:
        """Water taken up per 1 %RH [g]."""
        return self.mass_kg * self.capacity_g_per_kg_per_percent


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A glazing or backing that lets vapour through."""

    area_m2: float
    s_d_m: float | None  # vapour-equivalent air layer; None: vapour-tight


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameDesign:
    """A frame on paper."""

    air_volume_litres: float
    air_exchange_per_day: float
    buffers: tuple[Buffer, ...] = ()
    sheets: tuple[Sheet, ...] = ()
    panel_response_days: float | None = None  # the panel's own diffusion time constant at 20 °C

    def __post_init__(self) -> None:
        """Refuse quantities that no frame can have."""
        amounts = {
            "air volume": self.air_volume_litres,
            "air exchange": self.air_exchange_per_day,
            "panel response time": self.panel_response_days or 0.0,
            **{f"mass of buffer {n}": buffer.mass_kg for n, buffer in enumerate(self.buffers, 1)},
            **{f"area of sheet {n}": sheet.area_m2 for n, sheet in enumerate(self.sheets, 1)},
        }
        for name, amount in amounts.items():
            if not (math.isfinite(amount) and amount >= 0):
                raise ValueError(f"{name.capitalize()}: {amount:g} is not possible. Give zero or more.")
        if any(sheet.s_d_m is not None and not sheet.s_d_m > 0 for sheet in self.sheets):
            raise ValueError("A sheet's s_d must be greater than 0 m; leave it out for a vapour-tight sheet.")

    def capacity_g_per_percent(self, temperature_celsius: float = REFERENCE_CELSIUS) -> float:
        """Return C, the water taken up per 1 %RH [g]."""
        air = self.air_volume_litres / 1000 * float(saturation_concentration_g_per_m3(temperature_celsius)) / 100
        return air + sum(buffer.capacity_g_per_percent for buffer in self.buffers)

    def conductance_g_per_day_per_percent(self, temperature_celsius: float = REFERENCE_CELSIUS) -> float:
        """Return G, the water exchanged per day and 1 %RH of difference [g/day]."""
        volume = self.air_volume_litres / 1000
        leakage = self.air_exchange_per_day * volume * float(saturation_concentration_g_per_m3(temperature_celsius))
        per_area = sum(sheet.area_m2 / sheet.s_d_m for sheet in self.sheets if sheet.s_d_m is not None)
        pressure = float(saturation_vapour_pressure_pa(temperature_celsius))
        permeation = _GRAMS_PER_KILOGRAM * _SECONDS_PER_DAY * pressure * AIR_PERMEABILITY * per_area
        return (leakage + permeation) / 100

    def permeation_air_exchange_per_day(self, temperature_celsius: float = REFERENCE_CELSIUS) -> float:
        """Return the air exchange that would carry as much vapour as the sheets do [per day]; a gas tracer misses it.

        Raises
        ------
        ValueError
            The frame has no air.
        """
        if self.air_volume_litres == 0:
            raise ValueError("A frame without air has no air exchange: give its air volume in litres.")
        per_percent = self.conductance_g_per_day_per_percent(temperature_celsius) * 100
        volume = self.air_volume_litres / 1000
        carried_per_exchange = volume * float(saturation_concentration_g_per_m3(temperature_celsius))
        return per_percent / carried_per_exchange - self.air_exchange_per_day


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignHalfTime:
    """The half-time a frame will have, or why the relation may not be used for it."""

    half_time_days: float | None
    temperature_celsius: float
    capacity_g_per_percent: float
    conductance_g_per_day_per_percent: float
    why: str = ""

    @property
    def tau_days(self) -> float | None:
        """Time constant [days]: half-time / ln 2."""
        return None if self.half_time_days is None else self.half_time_days / math.log(2)


def design_half_time(design: FrameDesign, *, temperature_celsius: float = REFERENCE_CELSIUS) -> DesignHalfTime:
    """Compute the hygrometric half-time of a frame from its materials.

    Parameters
    ----------
    design : FrameDesign
        Air, buffers and leaks.
    temperature_celsius : float [°C]
        Temperature of the frame; a frame is faster when warm, since warm air carries more vapour.

    Returns
    -------
    DesignHalfTime
        Without a figure where the frame would be faster than three times the panel's own response at this
        temperature: the panel's core then lags its air and one half-time describes neither. Against simulated layered
        frames (`python -m tests.accuracy construction`) the figures that are given are 3 % long in the median, 7 %
        near that limit, at 6 to 26 °C alike; refused ones would be long by a quarter to a factor 2.

    References
    ----------
    G. Thomson, Stud. Conserv. 22 (1977), 85-102, whose t½ = 4·M·B/N it reproduces at 20 °C without permeation.

    Examples
    --------
    >>> gel = Buffer(mass_kg=20, capacity_g_per_kg_per_percent=2)
    >>> case = FrameDesign(air_volume_litres=1000, air_exchange_per_day=1, buffers=(gel,))
    >>> round(design_half_time(case).half_time_days)
    161
    """
    capacity = design.capacity_g_per_percent(temperature_celsius)
    conductance = design.conductance_g_per_day_per_percent(temperature_celsius)
    half_time: float | None = None
    why = ""
    if conductance == 0:
        why = "Nothing leaks in this design. No frame is hermetic: give an air exchange above 0 per day."
    elif capacity == 0:
        why = "Nothing in this design holds moisture: give its air volume or a buffer."
    else:
        half_time = math.log(2) * capacity / conductance
        panel = panel_response_days(design, temperature_celsius)
        if panel is not None and half_time < SLOWEST_PANEL_SHARE * panel:
            why = (
                f"The frame would respond in {half_time:.3g} days, the panel itself needs {panel:.3g}: below three "
                "times the panel's own response its core lags the air and one half-time describes neither."
            )
            half_time = None
    return DesignHalfTime(
        half_time_days=half_time,
        temperature_celsius=temperature_celsius,
        capacity_g_per_percent=capacity,
        conductance_g_per_day_per_percent=conductance,
        why=why,
    )


def panel_response_days(design: FrameDesign, temperature_celsius: float) -> float | None:
    """Return the panel's own time constant at a temperature [days]: diffusion quickens as saturated vapour does.

    A panel that needs 8 days in a room of 20 °C needs three weeks in a church of 5 °C.
    """
    if design.panel_response_days is None:
        return None
    warm, now = (float(saturation_vapour_pressure_pa(t)) for t in (REFERENCE_CELSIUS, temperature_celsius))
    return design.panel_response_days * warm / now


def buffer_materials() -> tuple[dict[str, str], ...]:
    """Return the published moisture capacities, each with source and status."""
    return table("buffer_materials")


def sheet_resistance_m(material: str, thickness_mm: float) -> float | None:
    """Return the vapour-equivalent air layer s_d of a glazing or backing [m]; None where it is vapour-tight.

    Raises
    ------
    KeyError
        The material is not in the table `vapour_resistance`.
    """
    for row in table("vapour_resistance"):
        if row["material"] == material:
            if row["s_d_m"]:
                return float(row["s_d_m"])
            return float(row["mu"]) * thickness_mm / 1000 if row["mu"] else None
    known = ", ".join(row["material"] for row in table("vapour_resistance"))
    raise KeyError(f"No vapour resistance is tabulated for {material!r}. Known: {known}.")


def sorbent_mass_kg(
    *,
    air_volume_m3: float,
    air_exchange_per_day: float,
    days: float,
    difference_percent: float,
    allowed_change_percent: float,
    capacity_g_per_kg_per_percent: float,
    temperature_celsius: float = REFERENCE_CELSIUS,
) -> float:
    """Return the mass of sorbent that holds a case for a while [kg].

    It must take up what the air exchange brings in `days` at a constant difference to the room, within the allowed
    change. Weintraub (2002), OSG Postprints 9 (formula from memory).
    """
    brought = saturation_concentration_g_per_m3(temperature_celsius) * difference_percent / 100
    brought *= air_volume_m3 * air_exchange_per_day * days
    return brought / (capacity_g_per_kg_per_percent * allowed_change_percent)
