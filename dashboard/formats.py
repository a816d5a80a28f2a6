"""How numbers, dates and lengths of time are written on the pages; sentences share `isohume.analysis.phrases`."""

from __future__ import annotations

import math

import pandas as pd

from isohume.analysis import phrases

MISSING = "–"


def date(time: pd.Timestamp | None, zone: str) -> str:
    """Write a date in the site's zone: 3 Nov 2026."""
    return MISSING if time is None else phrases.day(time, time_zone=zone)


def moment(time: pd.Timestamp | None, zone: str) -> str:
    """Write a moment in the site's zone: 3 Nov 2026, 14:05."""
    return MISSING if time is None else f"{date(time, zone)}, {time.tz_convert(zone):%H:%M}"


def days_ago(time: pd.Timestamp | None, now: pd.Timestamp) -> str:
    """Say how long ago a moment was, in whole days."""
    if time is None:
        return "never"
    days = math.floor((now - time) / pd.Timedelta(days=1))
    if days <= 0:
        return "today"
    return "yesterday" if days == 1 else f"{count(days)} days ago"


def due(by: pd.Timestamp | None, now: pd.Timestamp, zone: str) -> str:
    """Write a due date; one that is here or past is due now."""
    if by is None:
        return ""
    return "due now" if by <= now else f"by {date(by, zone)}"


def number(value: float | None, digits: int = 1, unit: str = "") -> str:
    """Write a number with its unit and a true minus sign; a dash for none."""
    if value is None or not math.isfinite(value):
        return MISSING
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    text = text.replace("-", "−")
    return f"{text} {unit}" if unit else text


def signed(value: float | None, digits: int = 1, unit: str = "") -> str:
    """Write a difference with its sign: +1.2, −0.4."""
    text = number(value, digits, unit)
    return f"+{text}" if value is not None and math.isfinite(value) and round(value, digits) > 0 else text


def count(value: int) -> str:
    """Write a count with a narrow space between thousands."""
    return f"{value:,}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def share(value: float | None) -> str:
    """Write a share of 0-1 as percent; a dash for none."""
    return MISSING if value is None else phrases.share(value)


def days(value: float | None) -> str:
    """Write a length of time given in days: 18 h, 12 days, 8 months, 2.5 years."""
    if value is None or not math.isfinite(value):
        return MISSING
    if value < 120:
        return phrases.days(value)
    return f"{value / 30.44:.0f} months" if value < 730 else f"{value / 365.25:.1f} years"


def band(limits: tuple[float, float] | None) -> str:
    """Write a humidity band: 45–55 %RH."""
    return "no band agreed" if limits is None else phrases.band(limits)
