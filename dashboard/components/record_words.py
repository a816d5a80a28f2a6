"""What the register's kinds and fields are called on the pages: a label, a line of help, a unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import NamedTuple

from isohume.analysis.frame import Construction, Limits, Panel
from isohume.analysis.terms import Clause
from isohume.dashboard.components.record_field_words import OWN, SHARED, FieldWords
from isohume.ingest.archive.kinds import kind_named

PART = ":"  # between a table and one of its entries: "panel:width_mm"


class KindWords(NamedTuple):
    """A kind of record: many, one, and what it is for."""

    many: str
    one: str
    lede: str


KINDS: Mapping[str, KindWords] = {
    "frames": KindWords(
        "Frames", "frame", "The sealed enclosures, each with its painting: what they are and must keep to.",
    ),
    "rooms": KindWords("Rooms", "room", "Their air is the outside of the frames that hang in them."),
    "loggers": KindWords("Loggers", "logger", "The instruments, their clocks, and how their files are told apart."),
    "placements": KindWords(
        "Placements", "placement", "Which logger measured which frame or room, from when to when.",
    ),
    "locations": KindWords("Locations", "location", "Which frame hung in which room, from when to when."),
    "events": KindWords(
        "Events", "event", "What hands did: sealed, opened, reconditioned, moved, strip read, warp measured.",
    ),
    "calibrations": KindWords(
        "Calibrations", "calibration", "What the readings of a logger are corrected by, from a date on; certificates.",
    ),
    "clock_corrections": KindWords(
        "Clock corrections", "clock correction", "How far a logger’s clock was out; applied on reading.",
    ),
    "recipes": KindWords(
        "How files are read", "way of reading", "What was settled about the files of each logger, in words.",
    ),
    "terms": KindWords("Climate terms", "set of climate terms", "Agreed or own sets of climate clauses."),
    "venues": KindWords("Venues", "venue", "Places that borrow."),
    "loans": KindWords("Loans", "loan", "Frames lent out; worked on under Loans."),
    "legs": KindWords("Loan legs", "loan leg", "Journeys and stays of the loans."),
    "documents": KindWords("Documents", "document", "Photographs and papers, kept by the hash of their bytes."),
    "users": KindWords("Users", "user", "Who may sign in from other machines, and what they may do."),
    "collection": KindWords("Collection", "collection", "Its name, its time zone, and how reviews are signed."),
    "reviews": KindWords("Reviews", "review", "The signed reviews of the months; worked on under Month."),
    "imports": KindWords("Imports", "import", "Files kept; worked on under Files."),
}  # fmt: skip

# Fields that are tables with known entries, and the dataclass each becomes.
TABLES: Mapping[str, type] = {"panel": Panel, "construction": Construction, "limits": Limits, "clauses": Clause}


def kind_words(kind: str) -> KindWords:
    """Return what a kind of record is called."""
    return KINDS[kind]


def a(one: str) -> str:
    """Return a thing with its article: a frame, an event."""
    return f"an {one}" if one[0] in "aeio" else f"a {one}"


def field_words(kind: str, name: str) -> FieldWords:
    """Return what a field is called; of a table’s entry (`panel:width_mm`, `clauses:0:low`) its own words."""
    first, *parts = name.split(PART)
    group, own = (first, parts[-1]) if parts and first in TABLES else (kind, first)
    found = OWN.get(group, {}).get(own) or SHARED.get(own)
    found = found or FieldWords(own.replace("_", " ").capitalize())
    if first == "band" and parts:
        side = "from" if parts[0] == "low" else "to"
        return FieldWords(f"{found.label}, {side}", unit=found.unit, least=found.least, most=found.most)
    return found


def flat_names(kind: str, wanted: tuple[str, ...] | None = None, *, n_clauses: int = 0) -> list[str]:
    """List the controls that the fields of a kind need: a table stands for its entries, a band for its two limits."""
    names: list[str] = []
    for name in wanted if wanted is not None else tuple(kind_named(kind).fields):
        if name == "band":
            names += ["band:low", "band:high"]
        elif name == "clauses":
            names += [f"clauses:{place}:{one.name}" for place in range(n_clauses) for one in fields(Clause)]
        elif name in TABLES:
            names += [f"{name}{PART}{one.name}" for one in fields(TABLES[name])]
        else:
            names.append(name)
    return names
