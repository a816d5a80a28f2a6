"""Sentences about the panel, the dew point and damp: findings that come as named figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

# The last word of a key is its unit; the unit words of the house, in the order in which they are looked for.
UNITS = {
    "percent_per_kelvin": "%RH per K",
    "percent": "%",
    "celsius": "°C",
    "kelvin": "K",
    "mm": "mm",
    "kg": "kg",
    "g": "g",
    "hours": "h",
    "days": "days",
}


def panel_in_words(panel: Mapping[str, Any]) -> tuple[str, ...]:
    """Say how much the panel moves, and how much water lies between now and its conditioning."""
    return figures_in_words(panel)


def dew_point_in_words(dew_point: Mapping[str, Any]) -> tuple[str, ...]:
    """Say how far the air is from condensation and from damp."""
    return figures_in_words(dew_point)


def figures_in_words(figures: Mapping[str, Any]) -> tuple[str, ...]:
    """Write every known figure with its unit, then the remarks and what is missing."""
    sentences, remarks = [], []
    for key, value in figures.items():
        if isinstance(value, bool) or value is None or value == "":
            continue
        if isinstance(value, int | float):
            sentences.append(f"{_named(key, value)}.")
        elif isinstance(value, str):
            remarks.append(f"{value.rstrip('. ')}.")
        elif isinstance(value, Mapping):
            inner = [_named(name, number) for name, number in value.items() if isinstance(number, int | float)]
            if inner:
                sentences.append(f"{_heading(key)}: {'; '.join(inner)}.")
            remarks += [f"{_heading(key)}: {value['why'].rstrip('. ')}."] if value.get("why") else []
        else:
            remarks += [f"{str(one).rstrip('. ')}." for one in value if isinstance(one, str)]
    return (*sentences, *remarks) or ("Cannot say.",)


def _named(key: str, value: float) -> str:
    for ending, unit in UNITS.items():
        if key.endswith(f"_{ending}"):
            return f"{_heading(key.removesuffix(f'_{ending}'))} {_number(value)} {unit}"
    return f"{_heading(key)} {_number(value)}"


def _heading(key: str) -> str:
    return key.replace("_", " ").capitalize()


def _number(value: float) -> str:
    return f"{value:.4g}".replace("-", "−")
