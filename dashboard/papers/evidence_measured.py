"""What an evidence paper says of the measurement: loggers, calibration, uncertainty, coverage and gaps."""

from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.dashboard import formats
from isohume.dashboard.papers.computed import Computed
from isohume.dashboard.papers.coverage import Gap, SideCoverage
from isohume.dashboard.papers.evidence import SIDES, Evidence
from isohume.dashboard.papers.words import Words


def measured(evidence: Evidence, computed: Computed, say: Words) -> dict[str, Any]:
    """Return which loggers measured what, with calibration and uncertainty."""
    zone = evidence.time_zone
    rows = []
    for placement in evidence.parameters["placements"]:
        side = placement["side"]
        place = say("side_inside") if side == "inside" else say("side_room", name=placement["place"])
        first, last = (pd.Timestamp(placement[edge]) for edge in ("first_utc", "last_utc"))
        rows.append(
            [
                place,
                " ".join(part for part in (placement["logger"], placement["serial"], placement["channel"]) if part),
                f"{formats.moment(first, zone)}\n{formats.moment(last, zone)}",
                formats.count(placement["n_readings"]),
                _calibration(evidence, placement, say),
            ]
        )
    uncertainties = [
        [
            say("side_inside") if side == "inside" else _room(evidence, say),
            say("uncertainty", value=f"{known['uncertainty_percent']:g}"),
        ]
        for side in SIDES
        if (known := evidence.parameters["sides"][side]) is not None
    ]
    return {
        "rows": rows,
        "uncertainties": uncertainties,
        "missing": [say(f"no_record_{side}") for side in SIDES if computed.coverage[side] is None],
        "notes": [say("calibration_note"), say("temperature_note")],
    }


def _room(evidence: Evidence, say: Words) -> str:
    """Name the room or rooms of the period."""
    names = dict.fromkeys(room["name"] for room in evidence.parameters["rooms"])
    return say("side_room", name=", ".join(names) or formats.MISSING)


def _calibration(evidence: Evidence, placement: dict[str, Any], say: Words) -> str:
    """Write the calibration in force at a placement's last reading."""
    mine = [
        one
        for one in evidence.calibrations
        if one["logger"] == placement["logger"]
        and one["channel"] in {"", placement["channel"]}
        and one["date"] <= placement["last_utc"]
    ]
    if not mine:
        return say("never_calibrated")
    last = max(mine, key=lambda one: str(one["date"]))
    certificate = say("certificate", number=last["certificate"]) if last["certificate"] else ""
    return say(
        "calibrated",
        date=formats.date(pd.Timestamp(last["date"]), evidence.time_zone),
        method=say(f"method_{last['method']}"),
        certificate=certificate,
    )


def coverage_parts(computed: Computed, say: Words) -> dict[str, Any]:
    """Return coverage, ranges and every gap."""
    zone, rows, gaps = computed.frame.time_zone, [], []
    labels = say.labels()
    for side in SIDES:
        found = computed.coverage[side]
        if found is None:
            continue
        rows += _ranges(found, labels[side], labels)
        listed = [_gap(gap, zone, say) for gap in found.gaps]
        gaps.append(
            {
                "heading": say(f"gaps_heading_{side}"),
                "rows": listed,
                "none": say("no_gaps", side=say("side_inside") if side == "inside" else f"in the {labels['room']}"),
            }
        )
    return {"rows": rows, "gaps": gaps, "note": say("coverage_note")}


def _ranges(found: SideCoverage, side: str, labels: dict[str, str]) -> list[list[str]]:
    rows = []
    for name, unit, share, values in (
        (labels["rh"], "%RH", found.share, found.rh_percent),
        (labels["temperature"], "°C", found.temperature_share, found.temperature_celsius),
    ):
        covered = f"{phrases.share(share)} of {phrases.hours(found.hours_of_period)}"
        figures = (
            ["–", "–", "–"]
            if values is None
            else [formats.number(one, 1, unit) for one in (values.lowest, values.mean, values.highest)]
        )
        rows.append([name, side, covered, *figures])
    return rows


def _gap(gap: Gap, zone: str, say: Words) -> list[str]:
    if not gap.n_left_out:
        why = say("gap_nothing")
    elif gap.flags:
        why = say("gap_flagged", n=formats.count(gap.n_left_out), flags=", ".join(gap.flags))
    else:
        why = say("gap_reason_unknown", n=formats.count(gap.n_left_out))
    return [formats.moment(gap.start_utc, zone), formats.moment(gap.end_utc, zone), phrases.hours(gap.hours), why]
