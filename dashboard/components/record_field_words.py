"""The words for every field of the register: label, help, unit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple


class FieldWords(NamedTuple):
    """One field: its label, a line of help, its unit, and between what its number lies."""

    label: str
    help: str = ""
    unit: str = ""
    least: float | None = None
    most: float | None = None
    refers: str = ""  # the kind of record it names
    control: Literal["", "date", "long", "suggested"] = ""


_NOTE = FieldWords("Note", control="long")
_FROM = FieldWords("From", "A date, or date and time, as 2026-03-01 09:00.")
_TO = FieldWords("To", "Empty: still so.")
_CHANNEL = FieldWords("Channel", "Only where its files hold several sensors: the sensor’s heading.")
_FRAME, _ROOM = FieldWords("Frame", refers="frames"), FieldWords("Room", refers="rooms")
_LOGGER = FieldWords("Logger", refers="loggers")
_TERMS = FieldWords("Climate terms", refers="terms", help="The clauses agreed.")
_PERCENT: Any = {"unit": "%RH", "least": 0.0, "most": 100.0}

SHARED: Mapping[str, FieldWords] = {
    "note": _NOTE, "from": _FROM, "to": _TO, "channel": _CHANNEL, "frame": _FRAME, "room": _ROOM, "logger": _LOGGER,
    "terms": _TERMS, "name": FieldWords("Name"),
    "id": FieldWords("Short name", "Stands in lists and addresses; it stays."),
}  # fmt: skip

OWN: Mapping[str, Mapping[str, FieldWords]] = {
    "collection": {
        "time_zone": FieldWords(
            "Time zone of the site", "Dates without another zone are meant here, as Europe/Berlin.",
        ),
        "invented": FieldWords("Invented collection", "Marked so on every page and paper."),
        "as_of": FieldWords("The pages speak of", "Only for demonstrations: the moment that counts as now."),
        "second_signature": FieldWords("Reviews need a second signature"),
    },
    "loggers": {
        "serial": FieldWords("Serial number", "Words found in the head or name of its files."),
        "uncertainty_percent": FieldWords("Uncertainty", "Expanded, k = 2, before calibration.", **_PERCENT),
        "files": FieldWords(
            "Names of its files", "One pattern a line; * stands for anything, as gallery_*.csv.", control="long",
        ),
        "time_zone": FieldWords(
            "Time zone of its clock", "As Europe/Berlin; +01:00 never changes to summer time. Empty: the site’s.",
        ),
        "expect_every_days": FieldWords("A file is expected every", unit="days", least=0),
        "expect_from": FieldWords("Files are expected from", "Empty: from its first placement.", control="date"),
        "battery_changed": FieldWords("Battery changed", control="date"),
        "battery_months": FieldWords("A battery lasts", unit="months", least=0),
        "retired": FieldWords("Retired", "It takes no more files; what it measured stays."),
    },
    "calibrations": {
        "date": FieldWords("Valid from", "Readings are corrected from here on.", control="date"),
        "valid_until": FieldWords("Valid until", control="date"),
        "method": FieldWords("Method"),
        "offset_percent": FieldWords(
            "Offset of humidity", "Added to the readings; −0.4 where it reads too high.", "%RH", least=-50, most=50,
        ),
        "points": FieldWords(
            "Points", "Instead of an offset: one pair a line, as found, then reference [%RH], as 33.9, 32.8.",
        ),
        "temperature_offset_celsius": FieldWords(
            "Offset of temperature", unit="°C", help="Added to the readings.", least=-50, most=50,
        ),
        "uncertainty_percent": FieldWords("Uncertainty after it", "Expanded, k = 2.", **_PERCENT),
        "certificate": FieldWords("Certificate number"),
        "as_found": FieldWords("As found", "What was noted, one a line, as reading at 33 %RH: 34.1."),
    },
    "clock_corrections": {
        "from": FieldWords("From, by its clock"),
        "to": FieldWords("To, by its clock", "Empty: still so."),
        "add_seconds": FieldWords("Add to its times", unit="s", help="Negative where the clock runs ahead."),
        "add_seconds_at_end": FieldWords("Add at the end", unit="s", help="For a clock that drifts; empty: the same."),
    },
    "frames": {
        "id": FieldWords("Frame", "Its short name, as F01; it stays."),
        "painting": FieldWords("Painting", "Title, and what it is painted on."),
        "band": FieldWords("Agreed band", **_PERCENT),
        "conditioned_percent": FieldWords("Conditioned at", **_PERCENT),
        "conditioned_on": FieldWords("Conditioned on", control="date"),
        "lifecycle": FieldWords("Where it is in its life"),
        "owner": FieldWords("Owner"),
        "opened_by": FieldWords("Who may open it"),
        "panel": FieldWords("Panel"),
        "construction": FieldWords("Construction"),
        "limits": FieldWords("Limits", "What the standing is judged by; empty: the usual value."),
    },
    "panel": {
        "support": FieldWords("Support", control="suggested"),
        "species": FieldWords("Species", "As in the movement table.", control="suggested"),
        "cut": FieldWords("Cut"),
        "width_mm": FieldWords("Width across the grain", unit="mm", least=0),
        "height_mm": FieldWords("Height along the grain", unit="mm", least=0),
        "thickness_mm": FieldWords("Thickness", unit="mm", least=0),
        "mass_kg": FieldWords("Mass", unit="kg", least=0),
        "faces_open": FieldWords("Faces open to the air", "1: the painted face counts as sealed."),
        "restrained": FieldWords("Held", "Cradled, battened or framed tight."),
        "coating": FieldWords("Coating"),
    },
    "construction": {
        "glazing": FieldWords("Glazing"),
        "spacer": FieldWords("Spacer"),
        "buffer": FieldWords("Buffer"),
        "barrier": FieldWords("Vapour barrier"),
        "backing": FieldWords("Backing"),
        "air_volume_litres": FieldWords("Air inside", unit="litres", least=0),
        "board_kg": FieldWords("Buffering board, dry", unit="kg", least=0),
        "air_exchange_per_day": FieldWords(
            "Air exchange", "As measured, or of frames alike.", "per day", least=0,
        ),
        "built_like": FieldWords("Built like", "One of the same make: its half-time stands for it.", refers="frames"),
        "wood_lining_kg": FieldWords("Wood lining, dry", unit="kg", least=0),
    },
    "limits": {
        "damp_rh_percent": FieldWords("Damp at or above", **_PERCENT),
        "damp_hours": FieldWords("Damp risk after", unit="h", help="In the last 30 days.", least=0),
        "dew_point_margin_kelvin": FieldWords("Margin over the dew point", unit="K", least=0),
        "dew_point_hours": FieldWords("Nearer than that for", unit="h", least=0),
        "hours_outside_beyond_doubt_30d": FieldWords(
            "Outside the band for", unit="h", help="Beyond doubt, in 30 days.", least=0,
        ),
        "departure_percent": FieldWords("Departure from conditioning", unit="%RH", least=0, most=100),
        "horizon_days": FieldWords("Looks ahead", unit="days", least=0),
        "change_in_24h_percent": FieldWords("Change within 24 h", unit="%RH", least=0, most=100),
        "swapped_weekly_ratio": FieldWords("Inside and room swapped below", "Ratio of weekly swings.", least=0),
        "open_weekly_ratio": FieldWords("Frame open above", "Ratio of weekly swings.", least=0),
        "returns_within_days": FieldWords("Comes back within", unit="days", least=0),
        "lead_time_days": FieldWords("Time that hands need", unit="days", least=0),
        "stale_days": FieldWords("Record stale after", unit="days", least=0),
        "shortest_record_days": FieldWords("Shortest record", unit="days", least=0),
        "least_coverage": FieldWords("Least coverage", "Share of hours with readings, 0–1.", least=0, most=1),
        "most_flagged_share": FieldWords("Most readings in doubt", "Share, 0–1.", least=0, most=1),
        "calibration_months": FieldWords("Calibration holds", unit="months", least=0),
        "settling_days": FieldWords("Newly sealed, not judged for", unit="days", least=0),
    },
    "locations": {},
    "events": {
        "time": FieldWords("When", "A date, or date and time, as 2026-03-01 09:00."),
        "kind": FieldWords("What was done"),
        "rh_percent": FieldWords("Humidity", "Strip: what it read. Reconditioned: the level aimed at.", **_PERCENT),
        "water_g": FieldWords("Water added", "Negative: taken out.", unit="g"),
        "board_kg": FieldWords("Buffering board, dry", unit="kg", least=0),
        "warp_mm": FieldWords("Warp", unit="mm"),
        "warp_where": FieldWords("Where the warp was measured"),
        "warp_how": FieldWords("How it was measured"),
        "room": FieldWords("Room it moved to", refers="rooms"),
        "document": FieldWords("Photograph or paper", refers="documents"),
        "by": FieldWords("By whom"),
    },
    "placements": {
        "frame": FieldWords("Frame, measured inside", refers="frames", help="Either a frame or a room."),
        "room": FieldWords("Room, measured", refers="rooms", help="Either a frame or a room."),
    },
    "documents": {
        "sha256": FieldWords("SHA-256"),
        "name": FieldWords("File name"),
        "kind": FieldWords("What it is"),
        "taken": FieldWords("Made on", control="date"),
        "n_bytes": FieldWords("Size", unit="bytes"),
    },
    "terms": {
        "source": FieldWords("Source", "The publication, or the agreement."),
        "clauses": FieldWords("Clauses"),
    },
    "clauses": {
        "air": FieldWords("Which air"),
        "quantity": FieldWords("Quantity"),
        "kind": FieldWords("What is limited"),
        "low": FieldWords("Low limit", "%RH, °C; K for a dew-point margin."),
        "high": FieldWords("High limit"),
        "averaging_hours": FieldWords("Averaged over", unit="h", help="0: as read.", least=0),
        "notice": FieldWords("If broken", "What the agreement asks, in its words."),
    },
    "venues": {
        "address": FieldWords("Address", control="long"),
        "contact": FieldWords("Contact", control="long"),
    },
    "loans": {
        "title": FieldWords("Title"),
        "lender": FieldWords("Lender"),
        "frames": FieldWords("Frames lent", refers="frames"),
        "contact": FieldWords("Contact", control="long"),
        "status": FieldWords("State"),
    },
    "legs": {
        "loan": FieldWords("Loan", refers="loans"),
        "kind": FieldWords("Journey or stay"),
        "venue": FieldWords("Venue", refers="venues"),
        "crate": FieldWords("Crate"),
        "courier": FieldWords("Courier"),
        "handover": FieldWords("Handover", "What both sides noted.", control="long"),
    },
    "users": {
        "name": FieldWords("Name to sign in with"),
        "full_name": FieldWords("Full name", "As it stands under reviews."),
        "role": FieldWords("Role"),
        "email": FieldWords("E-mail"),
        "active": FieldWords("May sign in"),
    },
    "reviews": {
        "signed_by": FieldWords("Signed by"),
        "signed_on": FieldWords("Signed on"),
        "second_signed_by": FieldWords("Second signature by"),
        "second_signed_on": FieldWords("Second signature on"),
    },
}  # fmt: skip
