"""Units as logger files write them, and their conversion to % and °C."""

from __future__ import annotations

import re
from typing import Literal

import polars as pl

Unit = Literal["%", "fraction", "°C", "°F", "K", ""]

# Exact by definition: the Celsius scale is defined by 273.15 K; 1 °C = 1.8 °F, 0 °C = 32 °F.
KELVIN_AT_ZERO_CELSIUS = 273.15
FAHRENHEIT_AT_ZERO_CELSIUS = 32.0
FAHRENHEIT_PER_KELVIN = 1.8

_CELSIUS = re.compile(r"(?:[°º˚*øï¿½�¡ ]|â°|deg\.?|degrees?|grad|oc)*\s*(?:c|cel|celsius)\.?")
_FAHRENHEIT = re.compile(r"(?:[°º˚*øï¿½�¡ ]|â°|deg\.?|degrees?|grad)*\s*(?:f|fahrenheit)\.?")
_KELVIN = re.compile(r"(?:[°º˚]|deg\.?)?\s*(?:k|kelvin)")
_PERCENT = re.compile(
    r"(?:%|percent|prozent|pct|proc\.?|procent|pourcent|prosentti)"
    r"\s*(?:of\s+)?(?:r\.?\s?h\.?|r\.?\s?f\.?|h\.?\s?r\.?|u\.?\s?r\.?|r\.?\s?v\.?|rel\.?.*|rhum|hum)?"
    r"|(?:r\.?h\.?|r\.?f\.?|h\.?r\.?|u\.?r\.?|r\.?v\.?)\s*%"
)
_FRACTION = re.compile(r"0\s*[-–.]{1,2}\s*1|fraction|anteil|ratio|frac\.?|-")


# Humidity in these is not relative, and nothing in the others is air temperature.
_OTHER_QUANTITY = re.compile(
    r"g\s?/\s?(?:m\s?(?:3|³|\^3)|kg)|[hk]?pa|mbar|mmhg|ppm|ppb|v|mv|lx|lux|m/s|kj/kg|w/m\s?(?:2|²)|µg/m.*|db",
    re.IGNORECASE,
)


def is_other_unit(text: str) -> bool:
    """Say whether a text is the unit of a quantity we do not read: g/m³, hPa, V."""
    return bool(_OTHER_QUANTITY.fullmatch(text.strip()))


def unit_of(text: str) -> Unit:
    """Return the unit that a text is; "" if it is none of ours.

    Examples
    --------
    >>> unit_of("deg F"), unit_of("% r.F."), unit_of("Frame")
    ('°F', '%', '')
    """
    tidy = text.strip().strip("[](){}<>").strip().lower()
    for pattern, unit in _BY_PATTERN:
        if tidy and pattern.fullmatch(tidy):
            return unit
    return ""


_BY_PATTERN: tuple[tuple[re.Pattern[str], Unit], ...] = (
    (_PERCENT, "%"),
    (_CELSIUS, "°C"),
    (_FAHRENHEIT, "°F"),
    (_KELVIN, "K"),
    (_FRACTION, "fraction"),
)


def unit_after(text: str) -> Unit:
    """Return the unit written behind the number of a cell; "" if there is none.

    Examples
    --------
    >>> unit_after("21,5 °C"), unit_after("45%"), unit_after("45.1")
    ('°C', '%', '')
    """
    if text[-1:].isdigit():
        return ""
    found = re.fullmatch(r"\s*[+\-−]?[\d.,]+\s*(\D.*)", text)
    return unit_of(found[1]) if found else ""


def to_standard(values: pl.Series, unit: str) -> pl.Series:
    """Convert values to % or °C."""
    if unit == "fraction":
        return (values * 100.0).round(9)
    if unit == "°F":
        return ((values - FAHRENHEIT_AT_ZERO_CELSIUS) / FAHRENHEIT_PER_KELVIN).round(9)
    if unit == "K":
        return (values - KELVIN_AT_ZERO_CELSIUS).round(9)
    return values
