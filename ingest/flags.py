"""Every quality flag of a reading: its bit, its name, whether it keeps the value out of analysis, and why.

A flag never deletes a value. It stands beside it, in the column `flags` (UInt32, one bit per flag) of the
normalised table, and the one table below says what it means.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from typing import Literal

import polars as pl

FLAGS = "flags"
SEPARATOR = ";"

Quantity = Literal["rh", "temperature"]
Concern = Literal["rh", "temperature", "row"]

QARTOD = "QARTOD manual for temperature and salinity observations (NOAA IOOS), 2020"
WMO_8 = "WMO-No. 8, Guide to Instruments and Methods of Observation, data quality control"
COMMON_PRACTICE = "common practice"


class Flag(enum.IntFlag):
    """One bit per quantity and test, and one per row for what concerns both quantities."""

    RH_IMPOSSIBLE = 1 << 0
    RH_OUTSIDE_LOGGER_RANGE = 1 << 1
    RH_SPIKE = 1 << 2
    RH_OUTLIER = 1 << 3
    RH_STEP = 1 << 4
    RH_STUCK = 1 << 5
    RH_SATURATED_DAMP = 1 << 6
    RH_SATURATED_DRY = 1 << 7
    RH_NOT_EVALUATED = 1 << 8
    TEMPERATURE_IMPOSSIBLE = 1 << 9
    TEMPERATURE_OUTSIDE_LOGGER_RANGE = 1 << 10
    TEMPERATURE_SPIKE = 1 << 11
    TEMPERATURE_OUTLIER = 1 << 12
    TEMPERATURE_STEP = 1 << 13
    TEMPERATURE_STUCK = 1 << 14
    TEMPERATURE_NOT_EVALUATED = 1 << 15
    SETTLING = 1 << 16
    GAP_BEFORE = 1 << 17
    OUTSIDE_PLACEMENT = 1 << 18
    CONFLICTING_TIME = 1 << 19
    CLOCK_DOUBT = 1 << 20
    RE_ANCHORED = 1 << 21


@dataclass(frozen=True, slots=True)
class FlagFacts:
    """What one flag says about a reading.

    Attributes
    ----------
    name : str
        As printed in files and on screens.
    concerns : {"rh", "temperature", "row"}
        The value it stands beside; "row" is both.
    excludes : bool
        The value is kept in the record and left out of analysis.
    meaning : str
        One plain sentence.
    source : str
        Where the test is defined.
    """

    name: str
    concerns: Concern
    excludes: bool
    meaning: str
    source: str


FLAG_TABLE: dict[Flag, FlagFacts] = {
    Flag.RH_IMPOSSIBLE: FlagFacts(
        "rh impossible", "rh", True,
        "The relative humidity lies below 0 or above 100 % by more than a sensor's error.",
        f"{QARTOD}, gross range test; {WMO_8}: plausible value check",
    ),
    Flag.RH_OUTSIDE_LOGGER_RANGE: FlagFacts(
        "rh outside logger range", "rh", True,
        "The relative humidity lies outside the range the logger is made for.",
        f"{QARTOD}, gross range test (sensor range)",
    ),
    Flag.RH_SPIKE: FlagFacts(
        "rh spike", "rh", True,
        "A single reading leaves the line between its neighbours by more than air can do and returns at once.",
        f"{QARTOD}, spike test",
    ),
    Flag.RH_OUTLIER: FlagFacts(
        "rh outlier", "rh", False,
        "The reading lies far from the median of its surroundings, more than their own scatter explains.",
        f"{COMMON_PRACTICE}: Hampel identifier with a floor",
    ),
    Flag.RH_STEP: FlagFacts(
        "rh step", "rh", False,
        "The relative humidity changed faster than closed air does: an opening, a move, or a fault.",
        f"{QARTOD}, rate of change test; {WMO_8}: time consistency check",
    ),
    Flag.RH_STUCK: FlagFacts(
        "rh stuck", "rh", True,
        "The relative humidity did not change for so long, while the temperature moved, that the sensor stands still.",
        f"{QARTOD}, flat line test; {WMO_8}: minimum required variability",
    ),
    Flag.RH_SATURATED_DAMP: FlagFacts(
        "rh saturated damp", "rh", False,
        "The sensor is at its upper end (99 % or more): the air is very damp or the sensor wet; the value is a bound.",
        COMMON_PRACTICE,
    ),
    Flag.RH_SATURATED_DRY: FlagFacts(
        "rh saturated dry", "rh", True,
        "The sensor is at its lower end (1 % or less), which room air does not reach: a broken or missing sensor.",
        COMMON_PRACTICE,
    ),
    Flag.RH_NOT_EVALUATED: FlagFacts(
        "rh not evaluated", "rh", False,
        "The relative humidity stands alone: no test that needs neighbouring readings could be made.",
        f"{QARTOD}, flag 2",
    ),
    Flag.TEMPERATURE_IMPOSSIBLE: FlagFacts(
        "temperature impossible", "temperature", True,
        "The temperature is not one that the air of a building has.",
        f"{QARTOD}, gross range test; {WMO_8}: plausible value check",
    ),
    Flag.TEMPERATURE_OUTSIDE_LOGGER_RANGE: FlagFacts(
        "temperature outside logger range", "temperature", True,
        "The temperature lies outside the range the logger is made for.",
        f"{QARTOD}, gross range test (sensor range)",
    ),
    Flag.TEMPERATURE_SPIKE: FlagFacts(
        "temperature spike", "temperature", True,
        "A single reading leaves the line between its neighbours by more than air can do and returns at once.",
        f"{QARTOD}, spike test",
    ),
    Flag.TEMPERATURE_OUTLIER: FlagFacts(
        "temperature outlier", "temperature", False,
        "The reading lies far from the median of its surroundings, more than their own scatter explains.",
        f"{COMMON_PRACTICE}: Hampel identifier with a floor",
    ),
    Flag.TEMPERATURE_STEP: FlagFacts(
        "temperature step", "temperature", False,
        "The temperature changed faster than the air of a building does: a move, sun on the logger, or a fault.",
        f"{QARTOD}, rate of change test; {WMO_8}: time consistency check",
    ),
    Flag.TEMPERATURE_STUCK: FlagFacts(
        "temperature stuck", "temperature", True,
        "The temperature did not change for so long, while the humidity moved, that the sensor stands still.",
        f"{QARTOD}, flat line test; {WMO_8}: minimum required variability",
    ),
    Flag.TEMPERATURE_NOT_EVALUATED: FlagFacts(
        "temperature not evaluated", "temperature", False,
        "The temperature stands alone: no test that needs neighbouring readings could be made.",
        f"{QARTOD}, flag 2",
    ),
    Flag.SETTLING: FlagFacts(
        "settling after handling", "row", True,
        "The logger was warm from a hand or cold from a walk: its temperature relaxes and its humidity with it.",
        COMMON_PRACTICE,
    ),
    Flag.GAP_BEFORE: FlagFacts(
        "gap before", "row", False,
        "Readings are missing between this one and the one before.",
        f"{QARTOD}, timing or gap test",
    ),
    Flag.OUTSIDE_PLACEMENT: FlagFacts(
        "outside placement", "row", True,
        "The logger was not yet, or no longer, where it was put to measure.",
        COMMON_PRACTICE,
    ),
    Flag.CONFLICTING_TIME: FlagFacts(
        "conflicting time", "row", False,
        "Another, different reading claims the same instant; the first one is kept.",
        COMMON_PRACTICE,
    ),
    Flag.CLOCK_DOUBT: FlagFacts(
        "clock doubt", "row", False,
        "The logger's clock may have been wrong here; the reading may belong to another time.",
        COMMON_PRACTICE,
    ),
    Flag.RE_ANCHORED: FlagFacts(
        "re-anchored clock", "row", False,
        "The clock had been reset; the time was restored from an instant that somebody stated.",
        COMMON_PRACTICE,
    ),
}  # fmt: skip


def flag_names(mask: int) -> str:
    """Return the names of the flags in a mask, in the order of the table.

    Examples
    --------
    >>> flag_names(Flag.RH_SPIKE | Flag.GAP_BEFORE)
    'rh spike;gap before'
    >>> flag_names(0)
    ''
    """
    return SEPARATOR.join(facts.name for flag, facts in FLAG_TABLE.items() if mask & flag)


def names_expression(column: str = FLAGS) -> pl.Expr:
    """Return a polars expression that spells a mask column out as `flag_names` does (String, empty when good)."""

    def spell(masks: pl.Series) -> pl.Series:
        distinct = masks.unique()
        names = pl.Series([flag_names(mask or 0) for mask in distinct], dtype=pl.String)
        return masks.replace_strict(distinct, names, return_dtype=pl.String).cast(pl.String)  # empty ones keep UInt32

    return pl.col(column).map_batches(spell, return_dtype=pl.String, is_elementwise=True)


def flags_from_names(names: str) -> Flag:
    """Return the mask that `flag_names` spelled out; the inverse for reading a table back.

    Raises
    ------
    ValueError
        A name is not in the table.
    """
    by_name = {facts.name: flag for flag, facts in FLAG_TABLE.items()}
    mask = Flag(0)
    for name in filter(None, names.split(SEPARATOR)):
        if name not in by_name:
            raise ValueError(f'"{name}" is not a flag. Known flags: {", ".join(by_name)}.')
        mask |= by_name[name]
    return mask


def excluding_mask(quantity: Quantity) -> int:
    """Return the mask of the flags that keep a value of this quantity out of analysis.

    Examples
    --------
    >>> bool(excluding_mask("rh") & Flag.OUTSIDE_PLACEMENT), bool(excluding_mask("rh") & Flag.TEMPERATURE_STUCK)
    (True, False)
    """
    mask = 0
    for flag, facts in FLAG_TABLE.items():
        if facts.excludes and facts.concerns in (quantity, "row"):
            mask |= flag.value
    return mask


def flag_counts(masks: pl.Series) -> dict[str, int]:
    """Count the readings of each flag that occurs, by name, in the order of the table."""
    tally = masks.value_counts().iter_rows()
    by_mask = {int(mask): int(count) for mask, count in tally if mask}
    counts = {
        facts.name: sum(count for mask, count in by_mask.items() if mask & flag) for flag, facts in FLAG_TABLE.items()
    }
    return {name: count for name, count in counts.items() if count}
