"""The kinds of record in the register, each described once: loading, editing, showing and exporting follow from it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, get_args

from isohume.analysis.frame import Construction, EventKind, Lifecycle, Limits, Panel
from isohume.analysis.terms import Clause
from isohume.ingest.archive import models, models_register
from isohume.ingest.archive.clauses import check_terms
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.kind import Field, Kind
from isohume.ingest.clock_corrections import ClockShift

DOCUMENT_KINDS = ("photograph", "label", "inscription", "condition report", "certificate", "other")
LOAN_STATES = ("asked", "agreed", "running", "returned", "declined")
ROLES = ("viewer", "contributor", "administrator")
TEXT, NUMBER, TIME, YES_OR_NO = Field(), Field("number"), Field("time"), Field("yes or no")
FROM_TO = {"from": Field("time", "start"), "to": Field("time", "end")}


def _check_frame(values: Mapping[str, Any]) -> str:
    band = values.get("band")
    return (
        "" if band is None or 0 <= band[0] < band[1] <= 100 else "band: the low limit lies below the high one, 0-100"
    )


def _check_placement(values: Mapping[str, Any]) -> str:
    if bool(values.get("frame")) == bool(values.get("room")):
        return "either frame or room, the place where it measured"
    return _check_from_to(values)


def _check_from_to(values: Mapping[str, Any]) -> str:
    start, end = values.get("from"), values.get("to")
    return "to later than from" if start is not None and end is not None and end <= start else ""


def _check_review(values: Mapping[str, Any]) -> str:
    if not re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", values["month"]):
        return 'a month such as "2026-10"'
    first, second = (
        " ".join(str(values.get(name) or "").casefold().split()) for name in ("signed_by", "second_signed_by")
    )
    if second and (not first or second == first):
        return "a second signature after the first, and by somebody else"
    return ""


def _check_clock(values: Mapping[str, Any]) -> str:
    if values.get("add_seconds") is None:
        return "add_seconds: what to add to the logger's times"
    try:
        ClockShift(
            start=values["from"], end=values.get("to"), add_seconds=values["add_seconds"],
            add_seconds_at_end=values.get("add_seconds_at_end"),
        )  # fmt: skip
    except ValueError as error:
        return f"a correction that a clock can need. {error}"
    return ""


def _check_calibration(values: Mapping[str, Any]) -> str:
    points = values.get("points")
    if points is None and values.get("offset_percent") is None and values.get("temperature_offset_celsius") is None:
        return "offset_percent or points: what the readings must be corrected by"
    if points is not None:
        found = [point[0] for point in points]
        if len(points) < 2 or sorted(set(found)) != found:
            return "points of two or more rising values [as found, reference]"
    return ""


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            "collection", models.Collection, (),
            {"name": TEXT, "time_zone": Field("zone"), "invented": YES_OR_NO, "as_of": TIME,
             "second_signature": YES_OR_NO},
        ),
        Kind("rooms", models.Room, ("id",), {"id": TEXT, "name": TEXT, "note": TEXT}),
        Kind(
            "loggers", models.Logger, ("id",),
            {"id": TEXT, "serial": TEXT, "uncertainty_percent": NUMBER, "files": Field("texts"),
             "time_zone": Field("zone"), "expect_every_days": NUMBER, "expect_from": TIME, "battery_changed": TIME,
             "battery_months": NUMBER, "retired": YES_OR_NO, "note": TEXT},
        ),
        Kind(
            "calibrations", models.Calibration, ("logger", "channel", "date"),
            {"logger": TEXT, "channel": TEXT, "date": TIME, "valid_until": TIME,
             "method": Field(choices=("offset", "salts", "comparison", "certificate")), "offset_percent": NUMBER,
             "points": Field("points"), "temperature_offset_celsius": NUMBER, "uncertainty_percent": NUMBER,
             "certificate": TEXT, "as_found": Field("table"), "note": TEXT},
            "loggers", "logger", _check_calibration,
        ),
        Kind(
            "clock_corrections", models.ClockCorrection, ("logger", "from"),
            {"logger": TEXT, **FROM_TO, "add_seconds": NUMBER, "add_seconds_at_end": NUMBER, "note": TEXT},
            "loggers", "logger", _check_clock,
        ),
        Kind(
            "frames", models.Frame, ("id",),
            {"id": TEXT, "painting": TEXT, "band": Field("band"), "conditioned_percent": NUMBER,
             "conditioned_on": TIME, "lifecycle": Field(choices=get_args(Lifecycle)), "owner": TEXT,
             "opened_by": TEXT, "panel": Field("table", table=Panel),
             "construction": Field("table", table=Construction),
             "limits": Field("table", table=Limits), "terms": TEXT, "note": TEXT},
            check=_check_frame,
        ),
        Kind(
            "locations", models.Location, ("frame", "from"), {"frame": TEXT, "room": TEXT, **FROM_TO, "note": TEXT},
            "frames", "frame", _check_from_to,
        ),
        Kind(
            "events", models.FrameEvent, ("frame", "time", "kind"),
            {"frame": TEXT, "time": TIME, "kind": Field(choices=get_args(EventKind)), "rh_percent": NUMBER,
             "water_g": NUMBER, "board_kg": NUMBER, "warp_mm": NUMBER, "warp_where": TEXT, "warp_how": TEXT,
             "room": TEXT, "document": TEXT, "by": TEXT, "note": TEXT},
            "frames", "frame",
        ),
        Kind(
            "placements", models.Placement, ("logger", "channel", "from"),
            {"logger": TEXT, "channel": TEXT, "room": TEXT, "frame": TEXT, **FROM_TO, "note": TEXT},
            check=_check_placement,
        ),
        Kind(
            "documents", models_register.Document, ("sha256",),
            {"sha256": TEXT, "name": TEXT, "kind": Field(choices=DOCUMENT_KINDS), "frame": TEXT, "logger": TEXT,
             "taken": TIME, "n_bytes": Field("whole"), "note": TEXT},
            described=False,
        ),
        Kind(
            "terms", models_register.Terms, ("id",),
            {"id": TEXT, "name": TEXT, "source": TEXT, "clauses": Field("tables", table=Clause), "note": TEXT},
            check=check_terms,
        ),
        Kind(
            "venues", models_register.Venue, ("id",),
            {"id": TEXT, "name": TEXT, "address": TEXT, "contact": TEXT, "note": TEXT},
        ),
        Kind(
            "loans", models_register.Loan, ("id",),
            {"id": TEXT, "title": TEXT, "lender": TEXT, "frames": Field("texts"), "terms": TEXT, "contact": TEXT,
             "status": Field(choices=LOAN_STATES), "note": TEXT},
        ),
        Kind(
            "legs", models_register.Leg, ("loan", "from"),
            {"loan": TEXT, "kind": Field(choices=("journey", "stay")), "venue": TEXT, **FROM_TO, "crate": TEXT,
             "courier": TEXT, "handover": TEXT, "note": TEXT},
            "loans", "loan", _check_from_to,
        ),
        Kind(
            "reviews", models_register.Review, ("month", "number"),
            {"month": TEXT, "number": Field("whole"), "figures": Field("table"), "decisions": Field("table"),
             "text": TEXT, "signed_by": TEXT, "signed_on": TIME, "second_signed_by": TEXT, "second_signed_on": TIME},
            check=_check_review, described=False,
            frozen_by=("signed_by", "signed_on", "second_signed_by", "second_signed_on"),
        ),
        Kind(
            "users", models_register.User, ("name",),
            {"name": TEXT, "full_name": TEXT, "role": Field(choices=ROLES), "email": TEXT,
             "password_hash": Field(secret=True), "active": YES_OR_NO},
            described=False,
        ),
    )
}  # fmt: skip


DESCRIBED = {name: kind for name, kind in KINDS.items() if kind.described}


def kind_named(name: str) -> Kind:
    """Return a kind of record by its name.

    Raises
    ------
    RegisterError
        There is no such kind.
    """
    if name not in KINDS:
        raise RegisterError(
            "register", found=f'records of kind "{name}"', expected=f"one of {', '.join(KINDS)}",
            remedy="Correct the name.",
        )  # fmt: skip
    return KINDS[name]
