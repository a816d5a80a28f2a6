"""What a check of a logger says about its readings: points over saturated salts, or a better logger beside it."""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from isohume.analysis.salts import salt_point
from isohume.ingest.archive.errors import RegisterError

# Common practice: a sensor over a salt repeats to about 0.3 %RH (standard deviation) once it has settled.
REPEAT_SD_PERCENT = 0.3
# Common practice: loggers side by side need a day to see more than one temperature.
LEAST_HOURS = 24
COVERAGE_FACTOR = 2.0  # k of an expanded uncertainty of about 95 % (GUM, JCGM 100:2008, 6.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class SaltCheck:
    """One reading of a logger over one saturated salt, settled.

    Attributes
    ----------
    salt : str
        Its name or formula, as in `isohume.analysis.salts`.
    temperature_celsius : float [°C]
        Of the solution.
    as_found_percent : float [%RH]
        What the logger showed.
    """

    salt: str
    temperature_celsius: float
    as_found_percent: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A calibration as it would stand in the register, and in words.

    Attributes
    ----------
    fields : mapping
        Fields of a record of kind `calibrations`, without logger, channel and date.
    text : str
        What was found.
    """

    fields: dict[str, Any]
    text: str


def from_salts(checks: Sequence[SaltCheck], *, repeat_sd_percent: float = REPEAT_SD_PERCENT) -> Proposal:
    """Work out the correction from one, two or three (or more) salts.

    One salt gives an offset; several give points with straight lines between them.

    Parameters
    ----------
    checks : sequence of SaltCheck
    repeat_sd_percent : float [%RH]
        Standard deviation of repeated settled readings over one salt.

    Raises
    ------
    RegisterError
        No check, an unknown salt, a temperature outside its table, or points that do not rise.

    References
    ----------
    Fixed points: Greenspan (1977), J. Res. NBS 81A:89-96.
    """
    try:
        points = [salt_point(check.salt, check.temperature_celsius) for check in checks]
    except ValueError as error:
        raise _refusal(str(error), "a tabulated salt at a tabulated temperature") from None
    if not points:
        raise _refusal("no check", "one to three salts")
    pairs = sorted((check.as_found_percent, point.rh_percent) for check, point in zip(checks, points, strict=True))
    if any(later[0] <= first[0] or later[1] <= first[1] for first, later in itertools.pairwise(pairs)):
        raise _refusal(f"as found and reference {pairs}", "readings that rise with the humidity of the salts")
    reference = max(point.uncertainty_percent for point in points)
    uncertainty = float(np.hypot(reference, COVERAGE_FACTOR * repeat_sd_percent))
    found = {
        check.salt: {"temperature_celsius": point.temperature_celsius, "as_found_percent": check.as_found_percent,
                     "reference_percent": round(point.rh_percent, 2), "reference": point.status}
        for check, point in zip(checks, points, strict=True)
    }  # fmt: skip
    values: dict[str, Any] = {"method": "salts", "uncertainty_percent": round(uncertainty, 2), "as_found": found}
    if len(pairs) == 1:
        values["offset_percent"] = round(pairs[0][1] - pairs[0][0], 2)
    else:
        values["points"] = [[as_found, round(is_truly, 2)] for as_found, is_truly in pairs]
    said = "; ".join(f"{as_found:.1f} where {truly:.1f} %RH is" for as_found, truly in pairs)
    return Proposal(fields=values, text=f"As found: {said}. Uncertainty ± {uncertainty:.1f} %RH (k = 2).")


def parse_salt(text: str) -> SaltCheck:
    """Read "sodium chloride:21.5:76.9": name, temperature [°C], as found [%RH].

    Raises
    ------
    RegisterError
        It is written otherwise.
    """
    try:
        name, celsius, percent = text.split(":")
        return SaltCheck(salt=name.strip(), temperature_celsius=float(celsius), as_found_percent=float(percent))
    except ValueError:
        raise _refusal(f'"{text}"', "a salt, its temperature and the reading, as sodium chloride:21.5:76.9") from None


def from_comparison(test: pl.DataFrame, reference: pl.DataFrame, *, reference_uncertainty_percent: float) -> Proposal:
    """Work out the correction of a logger that lay beside a better one.

    Parameters
    ----------
    test, reference : DataFrame
        Normalised tables of one channel each: the tested logger as it logged, the reference corrected.
    reference_uncertainty_percent : float [%RH]
        Expanded (k = 2).

    Returns
    -------
    Proposal
        Offset: the median of the hourly differences, which a door opened once does not move.

    Raises
    ------
    RegisterError
        They share fewer than 24 hours.
    """
    hourly = [
        table.drop_nulls("rh_percent")
        .sort("time_utc")
        .group_by_dynamic("time_utc", every="1h")
        .agg(pl.col("rh_percent").mean())
        for table in (test, reference)
    ]
    both = hourly[0].join(hourly[1], on="time_utc", suffix="_reference")
    if both.height < LEAST_HOURS:
        raise _refusal(f"{both.height} hours with readings of both", f"at least {LEAST_HOURS} hours side by side")
    difference = (both["rh_percent_reference"] - both["rh_percent"]).to_numpy()
    offset, spread = float(np.median(difference)), float(difference.std(ddof=1))
    uncertainty = float(np.hypot(reference_uncertainty_percent, COVERAGE_FACTOR * spread))
    first, last = both["time_utc"].min(), both["time_utc"].max()
    found = {
        "hours": both.height, "median_difference_percent": round(offset, 2), "spread_percent": round(spread, 2),
        "from_utc": str(first), "to_utc": str(last),
        "lowest_percent": round(float(both["rh_percent"].to_numpy().min()), 1),
        "highest_percent": round(float(both["rh_percent"].to_numpy().max()), 1),
    }  # fmt: skip
    values = {"method": "comparison", "offset_percent": round(offset, 2), "uncertainty_percent": round(uncertainty, 2),
              "as_found": found}  # fmt: skip
    text = (
        f"Over {both.height} h side by side the reference read {offset:+.2f} %RH higher (spread {spread:.2f}). "
        f"Uncertainty ± {uncertainty:.1f} %RH (k = 2), between {found['lowest_percent']} and "
        f"{found['highest_percent']} %RH only."
    )
    return Proposal(fields=values, text=text)


def record_of(logger: str, channel: str, date: dt.datetime | dt.date | str, proposal: Proposal) -> dict[str, Any]:
    """Return a proposal as a record to put into the register."""
    return {"logger": logger, "channel": channel, "date": date, **proposal.fields}


def _refusal(found: str, expected: str) -> RegisterError:
    return RegisterError(
        "calibration", found=found, expected=expected, remedy="Correct the values; nothing was recorded."
    )
