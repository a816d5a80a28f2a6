"""The kinds of record in the register, each described once: loading, editing, showing and exporting follow from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

from isohume.analysis.frame import Construction, EventKind, Lifecycle, Limits, Panel
from isohume.ingest.archive import models
from isohume.ingest.archive.columns import Base
from isohume.ingest.archive.errors import RegisterError

Shape = Literal["text", "number", "yes or no", "time", "zone", "texts", "band", "points", "table"]


@dataclass(frozen=True, slots=True)
class Field:
    """One fact of a record.

    Attributes
    ----------
    shape : str
        What kind of value it is.
    column : str
        Its attribute in the database, where that differs from its name.
    choices : tuple of str
        The only values allowed; empty: any.
    table : type or None
        For a table: the dataclass whose fields it may hold; None: any names.
    """

    shape: Shape = "text"
    column: str = ""
    choices: tuple[str, ...] = ()
    table: type | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of record.

    Attributes
    ----------
    name : str
        As in register.toml and on the command line.
    model : type
        Its table.
    key : tuple of str
        The fields that name one record.
    fields : mapping
        Its facts.
    parent : str
        The kind it is listed under in register.toml; "" at top level.
    parent_field : str
        The field that names its parent.
    """

    name: str
    model: type[Base]
    key: tuple[str, ...]
    fields: Mapping[str, Field]
    parent: str = ""
    parent_field: str = ""
    check: Callable[[Mapping[str, Any]], str] = field(default=lambda _values: "")

    def column(self, name: str) -> str:
        """Return the database attribute of a field."""
        return self.fields[name].column or name


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
            "loggers", "logger", _check_from_to,
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
    )
}  # fmt: skip


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
