"""Limits of the quality tests, every one settable, with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass, field

from isohume.ingest.quality_settling import SettlingRule
from isohume.ingest.quality_stuck import RH_STUCK, TEMPERATURE_STUCK, StuckRule


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityLimits:
    """Limits of the tests of one quantity, in its unit. Where no source is named they are common practice.

    Attributes
    ----------
    physical : (low, high)
        What the air of a building can have, widened by a sensor's error.
    logger_range : (low, high) or None
        What the logger is made for, where known.
    spike, sure_spike : float
        A value farther than `sure_spike` from both neighbours on one side is a spike; one farther than `spike` is one
        if the Hampel identifier accuses it too.
    outlier_floor, outlier_sigma : float
        The Hampel identifier: farther from the median of 7 readings than the floor (and 4 digits), and than so many
        times their scatter.
    step_per_hour, smallest_step : float
        A change is a step when faster than the one and larger than the other.
    stuck : StuckRule
    """

    physical: tuple[float, float]
    logger_range: tuple[float, float] | None = None
    spike: float
    sure_spike: float
    outlier_floor: float
    outlier_sigma: float = 5.0
    step_per_hour: float
    smallest_step: float
    stuck: StuckRule


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityLimits:
    """Limits of all tests.

    Attributes
    ----------
    rh, temperature : QuantityLimits [%RH], [°C]
    saturated_damp, saturated_dry : float [%RH]
        From here on the sensor is at its end.
    settling : SettlingRule
    """

    rh: QuantityLimits = field(
        default_factory=lambda: QuantityLimits(
            # An uncalibrated sensor errs by 3 %RH (k = 2): 102 % is very damp air, 104 % is none.
            physical=(-3.0, 103.0),
            spike=5.0,
            sure_spike=10.0,
            outlier_floor=3.0,
            step_per_hour=20.0,
            smallest_step=5.0,
            stuck=RH_STUCK,
        )
    )
    temperature: QuantityLimits = field(
        default_factory=lambda: QuantityLimits(
            physical=(-40.0, 70.0),
            spike=3.0,
            sure_spike=6.0,
            outlier_floor=2.0,
            step_per_hour=6.0,
            smallest_step=3.0,
            stuck=TEMPERATURE_STUCK,
        )
    )
    saturated_damp: float = 99.0
    saturated_dry: float = 1.0
    settling: SettlingRule = field(default_factory=SettlingRule)


DEFAULT_LIMITS = QualityLimits()
