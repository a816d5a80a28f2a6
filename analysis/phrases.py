"""How figures are written in sentences: units, dates in the site's zone, spans of time."""

from __future__ import annotations

import math

import pandas as pd

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(moment: pd.Timestamp, *, time_zone: str) -> str:
    """Write a date as it is on the wall of the site: "3 Nov 2026"; the same on every system, whatever its locale."""
    local = moment.tz_convert(time_zone)
    return f"{local.day} {MONTHS[local.month - 1]} {local.year}"


def moment(instant: pd.Timestamp, *, time_zone: str) -> str:
    """Write a moment in the site's zone with its offset: "3 Nov 2026 14:05 (UTC+01:00)"."""
    local = instant.tz_convert(time_zone)
    offset = f"{local:%z}"
    return f"{day(instant, time_zone=time_zone)} {local:%H:%M} (UTC{offset[:3]}:{offset[3:]})"


def rh(percent: float, *, decimals: int = 1) -> str:
    """Write a relative humidity: "48.3 %RH"."""
    return f"{percent:.{decimals}f} %RH"


def points(percent: float, *, decimals: int = 1) -> str:
    """Write a difference of relative humidities with its sign: "+2.5 %RH"; a true minus sign."""
    return f"{percent:+.{decimals}f} %RH".replace("-", "−")


def band(limits: tuple[float, float]) -> str:
    """Write a band: "45–55 %RH"."""
    return f"{limits[0]:g}–{limits[1]:g} %RH"


def hours(value: float) -> str:
    """Write hours, with one decimal where it matters: "3.5 h", "1 240 h"."""
    return f"{value:.1f} h" if value < 100 else f"{value:,.0f} h".replace(",", " ")


def days(value: float) -> str:
    """Write days with two or three figures, changing to hours under one day: "9.3 days", "18 h"."""
    if value < 1:
        return f"{value * 24:.0f} h"
    return f"{value:.1f} days" if value < 20 else f"{value:.0f} days"


def share(fraction: float) -> str:
    """Write a share: "97 %"; never 100 % or 0 % unless it is."""
    percent = 100 * fraction
    if 0 < percent < 0.5:
        return "under 0.5 %"
    if 99.5 <= percent < 100:
        return "over 99.5 %"
    return f"{percent:.0f} %"


def significant(value: float, *, figures: int = 2) -> str:
    """Write a positive number with so many significant figures and no exponent: "1.0", "3.1", "14"."""
    if value <= 0:
        return f"{value:g}"
    rounded = float(f"{value:.{figures}g}")
    return f"{rounded:.{max(figures - 1 - math.floor(math.log10(rounded)), 0)}f}"
