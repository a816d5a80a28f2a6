"""Air exchange from the decay of a tracer gas, beside the moisture exchange, and what it does not see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from isohume.analysis.exchange.model import FloatArray

PERMEATION_WARNING = (
    "A gas tracer finds leaks of air only. Water vapour also permeates plastic glazing and backing, wood and card: "
    "the moisture exchange can exceed the air exchange several times, and the half-time be shorter than this suggests."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TracerDecay:
    """Air exchange rate from a concentration decay; single well-mixed zone, steady background.

    Formula as in the concentration decay methods of ASTM E741 and ISO 12569 (from memory).
    """

    air_exchange_per_day: float
    stderr_per_day: float | None  # None for two readings
    n_readings: int
    warning: str = PERMEATION_WARNING


def air_exchange_from_two_readings(start: float, end: float, *, background: float, days: float) -> TracerDecay:
    """Compute N = ln((C₀ − C_b)/(C_t − C_b))/t.

    Parameters
    ----------
    start, end, background : float
        Concentrations at the start, after `days`, and of the room, all in the same unit, e.g. ppm of CO₂.
    days : float [days]

    Raises
    ------
    ValueError
        A concentration inside is not above the background, or no time passed.

    Examples
    --------
    >>> round(air_exchange_from_two_readings(3000, 1700, background=400, days=2).air_exchange_per_day, 5)
    0.34657
    """
    if min(start, end) <= background or days <= 0:
        raise ValueError(
            f"Tracer {start:g} → {end:g} over a background of {background:g} in {days:g} days: both readings must lie "
            "above the background and time must pass. Begin with more tracer, or stop earlier."
        )
    rate = float(np.log((start - background) / (end - background)) / days)
    return TracerDecay(air_exchange_per_day=rate, stderr_per_day=None, n_readings=2)


def air_exchange_from_decay(days: FloatArray, concentration: FloatArray, *, background: float) -> TracerDecay:
    """Fit the slope of ln(C − C_b) against time: preferred over two readings.

    Parameters
    ----------
    days, concentration : (n,) arrays [days], [unit of `background`]
        At least three readings above the background; others are not used.
    """
    usable = np.isfinite(concentration) & (concentration > background)
    if usable.sum() < 3:
        raise ValueError(
            f"{int(usable.sum())} readings above the background of {background:g}: at least 3 are needed."
        )
    x, y = days[usable], np.log(concentration[usable] - background)
    x_mean, n = x.mean(), x.size
    spread = ((x - x_mean) ** 2).sum()
    slope = ((x - x_mean) * (y - y.mean())).sum() / spread
    residual = y - y.mean() - slope * (x - x_mean)
    stderr = float(np.sqrt(residual @ residual / (n - 2) / spread))
    return TracerDecay(air_exchange_per_day=float(-slope), stderr_per_day=stderr, n_readings=int(n))
