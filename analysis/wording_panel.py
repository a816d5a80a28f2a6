"""Sentences about the panel, the dew point and damp: findings that come as named figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from isohume.analysis import phrases

DEW_POINTS = ("dew_point", "highest_dew_point")

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


def dew_point_in_words(found: Mapping[str, Any], *, time_zone: str) -> tuple[str, ...]:
    """Say how far the air is from condensation and from damp."""
    sentences = []
    for place, where in (("inside", "inside"), ("room", "in the room")):
        if found.get(f"dew_point_{place}_celsius") is None:
            continue
        newest, highest = (phrases.day(found[f"{word}_{place}_utc"], time_zone=time_zone) for word in DEW_POINTS)
        sentences.append(
            f"Dew point {where} {found[f'dew_point_{place}_celsius']:.1f} °C on {newest}; highest "
            f"{found[f'highest_dew_point_{place}_celsius']:.1f} °C on {highest}."
        )
    for place, where in (("inside", "Inside"), ("room", "The room")):
        if found.get(f"{place}_covered_hours"):
            above_65, above_75, longest = (
                phrases.hours(found[f"{place}_{words}_hours"])
                for words in ("above_65_percent_rh", "above_75_percent_rh", "longest_above_75_percent_rh")
            )
            sentences.append(
                f"{where} above 65 %RH for {above_65} and above 75 %RH for {above_75} (at a stretch {longest} at "
                f"most) of {phrases.hours(found[f'{place}_covered_hours'])} covered."
            )
    if found.get("lowest_margin_kelvin") is not None:
        sentences.append(
            f"The coldest measured surface stayed {found['lowest_margin_kelvin']:.1f} K above the dew point at the "
            f"least; less than 2 K for {phrases.hours(found['margin_below_2_kelvin_hours'])} of "
            f"{phrases.hours(found['margin_covered_hours'])} covered."
        )
    if found.get("why"):
        sentences.append(found["why"])
    return tuple(sentences) or ("Cannot say.",)


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
