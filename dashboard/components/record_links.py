"""How records of the register are addressed, what they refer to, and what depends on them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple
from urllib.parse import quote, unquote

from isohume.dashboard.components.record_words import kind_words
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.kinds import KINDS, kind_named

NEW = "~new"  # cannot be the key of a record: "~" joins the parts of a key
WHOLE_SECONDS = ".000000Z"
# Kinds that are worked on here, in the order of the page.
GROUPS: Mapping[str, tuple[str, ...]] = {
    "What there is": ("frames", "rooms", "loggers"),
    "What was where, and when": ("locations", "placements", "events"),
    "What readings are corrected by": ("calibrations", "clock_corrections", "recipes"),
    "Agreements and papers": ("terms", "venues", "loans", "legs", "documents"),
    "Who, and how": ("users", "collection"),
}
EDITED = tuple(kind for kinds in GROUPS.values() for kind in kinds if kind in KINDS)
FOR_ADMINISTRATORS = frozenset({"users", "collection"})
# Which field of which kind names a record of which kind; what stands here, the database refuses to leave behind.
REFERENCES: tuple[tuple[str, str, str], ...] = (
    ("locations", "frame", "frames"), ("locations", "room", "rooms"), ("placements", "logger", "loggers"),
    ("placements", "frame", "frames"), ("placements", "room", "rooms"), ("events", "frame", "frames"),
    ("events", "room", "rooms"), ("events", "document", "documents"), ("calibrations", "logger", "loggers"),
    ("clock_corrections", "logger", "loggers"), ("documents", "frame", "frames"), ("documents", "logger", "loggers"),
    ("frames", "terms", "terms"), ("loans", "terms", "terms"), ("loans", "frames", "frames"),
    ("legs", "loan", "loans"), ("legs", "venue", "venues"),
)  # fmt: skip
MOST_NAMED = 5


class Dependant(NamedTuple):
    """Records that name another one: their kind, and the records."""

    kind: str
    records: tuple[dict[str, Any], ...]


def address(kind: str, record: Mapping[str, Any]) -> str:
    """Return the address of one record."""
    parts = [_plain(record.get(name)) for name in kind_named(kind).key]
    joined = "~".join(quote(part, safe="").replace("~", "%7E") for part in parts)
    return f"/register/{kind}/{quote(joined or '~', safe='~')}"


def new_address(kind: str, **told: str) -> str:
    """Return the address of an empty form; some fields may be told already."""
    pairs = [quote(text, safe="").replace("~", "%7E") for pair in told.items() for text in pair]
    return f"/register/{kind}/{quote('~'.join([NEW, *pairs]), safe='~')}"


def key_of(kind: str, part: str) -> dict[str, str] | None:
    """Read the last part of an address; None where it names no record of this kind."""
    names = kind_named(kind).key
    if not names:
        return {} if part == "~" else None
    parts = [unquote(one) for one in part.split("~")]
    return dict(zip(names, parts, strict=True)) if len(parts) == len(names) else None


def record_at(archive: Archive, kind: str, part: str) -> dict[str, Any] | None:
    """Return the record that the last part of an address names, None where there is none."""
    key = key_of(kind, part)
    if key is None or any("\0" in value for value in key.values()):
        return None
    try:
        return archive.record(kind, key)
    except ArchiveError:  # whatever somebody writes into an address: it names no record
        return None


def key_fields(kind: str, record: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields that name a record."""
    return {name: record[name] for name in kind_named(kind).key}


def trail_key(kind: str, record: Mapping[str, Any]) -> str:
    """Return a record's key as it stands in the audit trail."""
    return " / ".join(str(record[name]) for name in kind_named(kind).key)


def dependants(archive: Archive, kind: str, record: Mapping[str, Any]) -> list[Dependant]:
    """Return the records that name this one."""
    found: list[Dependant] = []
    names = kind_named(kind).key
    if len(names) != 1:
        return found
    mine = record[names[0]]
    for other in dict.fromkeys(one for one, _, to in REFERENCES if to == kind):
        fields = [field for one, field, to in REFERENCES if one == other and to == kind]
        rows = [row for row in archive.records(other) if any(_names(row[field], mine) for field in fields)]
        if rows:
            found.append(Dependant(other, tuple(rows)))
    return found


def refused_removal(archive: Archive, kind: str, record: Mapping[str, Any]) -> str:
    """Say why a record cannot be removed, "" if it can."""
    held = dependants(archive, kind, record)
    if kind == "loggers" and any(
        record["id"] in {file["logger"] for file in one["files"]} for one in archive.imports()
    ):
        return "Files of this logger were kept. Retire it instead: what it measured stays."
    if not held:
        return ""
    counted = [_counted(one) for one in held]
    instead = "Retire it instead, or remove" if kind in {"frames", "loggers"} else "Remove or change"
    return f"{_listed(counted)} name this {kind_words(kind).one}. {instead} those first."


def _listed(texts: Sequence[str]) -> str:
    return " and ".join([", ".join(texts[:-1]), texts[-1]] if len(texts) > 1 else texts)


def _counted(held: Dependant) -> str:
    words, n = kind_words(held.kind), len(held.records)
    return f"{n} {words.one if n == 1 else words.many.lower()}"


def _names(value: Any, mine: Any) -> bool:
    return mine in value if isinstance(value, Sequence) and not isinstance(value, str) else value == mine


def _plain(value: Any) -> str:
    text = "" if value is None else str(value)
    return text.replace(WHOLE_SECONDS, "Z") if text.endswith(WHOLE_SECONDS) else text
