"""Sentences about the panel, the dew point and damp: findings that come as named figures."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from isohume.analysis import phrases

DEW_POINTS = ("dew_point", "highest_dew_point")


def panel_in_words(found: Mapping[str, Any]) -> tuple[str, ...]:
    """Say what the panel holds, how it moves, and the water between now and its conditioning."""
    sentences = []
    now, mean = found.get("emc_inside_now_percent"), found.get("emc_inside_mean_percent")
    if now is not None and mean is not None:
        conditioned = found.get("emc_conditioned_percent")
        at = "" if conditioned is None else f", at conditioning {conditioned:.1f} %"
        sentences.append(
            f"Moisture content of wood in equilibrium with the inside: {now:.1f} % in the last 7 days, {mean:.1f} % "
            f"over the last year{at}."
        )
    if found.get("emc_room_now_percent") is not None:
        sentences.append(f"In the room it would be {found['emc_room_now_percent']:.1f} % now.")
    framed, unframed = found.get("movement_framed_mm"), found.get("movement_unframed_mm")
    if framed is not None and unframed is not None:
        days = found.get("movement_period_days")
        period = "" if days is None else f" over {phrases.days(days)}"
        sentences.append(
            f"Across the grain the panel moved by {framed:.2f} mm{_between(found, 'movement_framed', 'mm')}{period}; "
            f"unframed in the room it would have moved by {unframed:.2f} mm"
            f"{_between(found, 'movement_unframed', 'mm')}."
        )
    since = found.get("movement_since_conditioning_mm")
    if since is not None:
        sentences.append(f"Since conditioning its width changed by {f'{since:+.2f}'.replace('-', '−')} mm.")
    if found.get("time_through_thickness_days") is not None:
        sentences.append(
            f"Moisture takes about {phrases.days(found['time_through_thickness_days'])} through its thickness."
        )
    low, high = found.get("water_to_move_low_g"), found.get("water_to_move_high_g")
    if low is not None and high is not None and found.get("water_direction"):
        sentences.append(f"Water to {found['water_direction']}: {low:.0f} to {high:.0f} g.")
    remarks = [f"{note.rstrip('. ')}." for note in found.get("notes", ())]
    if found.get("why"):
        remarks.append(found["why"])
    return (*sentences, *remarks) or ("Cannot say.",)


def _between(found: Mapping[str, Any], name: str, unit: str) -> str:
    low, high = found.get(f"{name}_low_{unit}"), found.get(f"{name}_high_{unit}")
    return "" if low is None or high is None else f" ({low:.2f} to {high:.2f} {unit})"


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
