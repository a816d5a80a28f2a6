"""Values of records in words: for lists, for reading, and for tables that leave us."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import pandas as pd

from isohume.analysis.terms import Clause
from isohume.dashboard import formats
from isohume.dashboard.components.record_values import entry, shape_of
from isohume.dashboard.components.record_words import PART, field_words, flat_names
from isohume.dashboard.exports import Cell
from isohume.dashboard.formats import MISSING
from isohume.ingest.archive.kinds import kind_named

# What a list shows; the record itself, and the exported table, hold everything.
LISTED: Mapping[str, tuple[str, ...]] = {
    "frames": (
        "id", "painting", "room", "band:low", "conditioned_percent", "conditioned_on", "panel:support", "lifecycle",
    ),
    "rooms": ("id", "name", "note"),
    "loggers": ("id", "serial", "place", "uncertainty_percent", "time_zone", "expect_every_days", "retired"),
    "locations": ("frame", "room", "from", "to", "note"),
    "placements": ("logger", "channel", "frame", "room", "from", "to"),
    "events": ("time", "frame", "kind", "what", "by", "note"),
    "calibrations": ("logger", "channel", "date", "method", "correction", "uncertainty_percent", "certificate"),
    "clock_corrections": ("logger", "from", "to", "add_seconds", "add_seconds_at_end", "note"),
    "terms": ("id", "name", "source", "clauses"),
    "venues": ("id", "name", "address", "contact"),
    "loans": ("id", "title", "lender", "frames", "status"),
    "legs": ("loan", "kind", "venue", "from", "to", "crate"),
    "documents": ("name", "kind", "frame", "logger", "taken", "n_bytes", "note"),
    "users": ("name", "full_name", "role", "email", "active"),
    "collection": ("name", "time_zone", "second_signature"),
}  # fmt: skip
MADE: Mapping[str, str] = {"what": "Particulars", "correction": "Correction", "place": "Measures now", "room": "Room"}
NEWEST_FIRST = frozenset({"events", "locations", "placements", "calibrations", "legs"})


class Naming(NamedTuple):
    """What records are called beside their short names, by kind and key."""

    names: Mapping[tuple[str, str], str]

    def of(self, kind: str, key: str) -> str:
        """Return the short name with its name."""
        name = self.names.get((kind, key), "")
        if kind == "documents":
            return name or key[:8]
        return f"{key} · {name}" if name and name != key else key


def words_of(kind: str, name: str, value: Any, zone: str, naming: Naming | None = None) -> str:
    """Write the value of one field for reading."""
    shape, words = shape_of(kind, name).shape, field_words(kind, name)
    if value is None or value in ("", [], {}):
        return MISSING
    if shape == "time":
        return moment_words(value, zone)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        text = formats.count(int(value)) if shape == "whole" else f"{value:g}".replace("-", "−")
        return f"{text} {words.unit}".rstrip()
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {item}" for key, item in value.items())
    return _text_or_list(kind, name, value, naming)


def _text_or_list(kind: str, name: str, value: Any, naming: Naming | None) -> str:
    refers = field_words(kind, name).refers
    if not isinstance(value, str):
        return _list_words(kind, name, value, naming)
    return naming.of(refers, value) if refers and naming else value


def moment_words(value: Any, zone: str) -> str:
    """Write a moment in the site's zone; the start of a day as its date."""
    time = pd.Timestamp(value)
    time = time.tz_localize("UTC") if time.tz is None else time
    local = time.tz_convert(zone)
    return formats.date(time, zone) if local == local.normalize() else formats.moment(time, zone)


def _list_words(kind: str, name: str, value: Sequence[Any], naming: Naming | None) -> str:
    shape, refers = shape_of(kind, name).shape, field_words(kind, name).refers
    if shape == "band":
        return formats.band((float(value[0]), float(value[1])))
    if shape == "points":
        return "; ".join(f"{found:g} → {reference:g} %RH" for found, reference in value)
    if shape == "tables":
        return " ".join(clause_words(one) for one in value)
    return ", ".join(naming.of(refers, str(one)) if refers and naming else str(one) for one in value)


def clause_words(clause: Mapping[str, Any]) -> str:
    """Write one climate clause as a sentence; one that is none, as it stands."""
    try:
        return Clause(**clause).in_words()
    except (TypeError, ValueError):
        return "; ".join(f"{name} {value}" for name, value in clause.items())


def listed_cell(kind: str, name: str, record: Mapping[str, Any], zone: str, naming: Naming) -> str:
    """Write one cell of a list."""
    if name == "what":
        return _particulars(record, zone, naming)
    if name == "correction":
        points = record["points"]
        return words_of(kind, "points" if points else "offset_percent", points or record["offset_percent"], zone)
    if name in MADE and name not in kind_named(kind).fields:
        return str(record.get(name) or MISSING)
    if name == "clauses":
        return formats.count(len(record["clauses"] or ()))
    if name == "band:low":
        return words_of(kind, "band", record["band"], zone)
    return words_of(kind, name, entry(record, name), zone, naming)


def _particulars(record: Mapping[str, Any], zone: str, naming: Naming) -> str:
    names = ("rh_percent", "water_g", "board_kg", "warp_mm", "warp_where", "warp_how", "room")
    told = [words_of("events", name, record[name], zone, naming) for name in names if record[name] not in (None, "")]
    return ", ".join(told) or MISSING


def heading(kind: str, name: str) -> str:
    """Return the heading of a column of a list."""
    if name in MADE and name not in kind_named(kind).fields:
        return MADE[name]
    return field_words(kind, "band" if name == "band:low" else name).label


def flat_table(kind: str, records: Sequence[Mapping[str, Any]]) -> tuple[list[str], list[list[Cell]]]:
    """Return records as a table of all their fields; moments in UTC, as the headings say."""
    n_clauses = max((len(record.get("clauses") or ()) for record in records), default=0)
    about = kind_named(kind).fields
    wanted = tuple(name for name, field in about.items() if not field.secret)
    names = flat_names(kind, wanted, n_clauses=n_clauses)
    headings = [_export_heading(kind, name) for name in names]
    return headings, [[_cell(kind, name, entry(record, name)) for name in names] for record in records]


def _export_heading(kind: str, name: str) -> str:
    words, first = field_words(kind, name), name.partition(PART)[0]
    place = f"Clause {int(name.split(PART)[1]) + 1}: " if first == "clauses" else ""
    unit = "UTC" if shape_of(kind, name).shape == "time" else words.unit
    return f"{place}{words.label}{f' [{unit}]' if unit else ''}"


def _cell(kind: str, name: str, value: Any) -> Cell:
    shape = shape_of(kind, name).shape
    if value is None or isinstance(value, bool | int | float):
        return value
    if shape == "time":
        return pd.Timestamp(value)
    if shape == "texts":
        return "; ".join(map(str, value))
    if shape == "points":
        return _list_words(kind, name, value, None)
    if isinstance(value, Mapping):
        return "; ".join(f"{key}: {item}" for key, item in value.items())
    return str(value)


def name_of(kind: str, record: Mapping[str, Any], zone: str) -> str:
    """Return what a record is called in a heading."""
    keys = kind_named(kind).key
    if not keys:
        return str(record.get("name") or "The collection")
    named = next((record[one] for one in ("name", "painting", "title", "serial") if record.get(one)), "")
    if kind == "documents":
        return str(named)
    parts = [words_of(kind, name, record[name], zone) for name in keys if record[name] not in (None, "")]
    return ", ".join([*parts, str(named)] if named and named != record[keys[0]] and len(keys) == 1 else parts)
