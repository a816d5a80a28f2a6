"""A collection described in one TOML file: loaded into the register, and exported back."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from isohume.ingest.archive.columns import utc_time
from isohume.ingest.archive.editing import Editor, records
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.kind import Kind
from isohume.ingest.archive.kinds import DESCRIBED
from isohume.ingest.archive.toml_text import toml_value

ENCODING = "utf-8"


@dataclass(frozen=True, slots=True)
class LoadSummary:
    """What loading a description changed."""

    n_added: int
    n_changed: int
    n_unchanged: int

    def report(self) -> str:
        """Return the summary as one line."""
        return f"{self.n_added} records added, {self.n_changed} changed, {self.n_unchanged} unchanged"


def read_description(path: Path) -> dict[str, Any]:
    """Read a description file.

    Raises
    ------
    RegisterError
        The file is missing or no TOML.
    """
    try:
        return tomllib.loads(path.read_text(encoding=ENCODING))
    except FileNotFoundError:
        found = "no file"
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        found = str(error)
    raise RegisterError(
        str(path), found=found, expected="a collection described in TOML", remedy="Correct the file and load it again."
    )


def load(holdings: Holdings, session: Session, document: Mapping[str, Any], *, place: str) -> LoadSummary:
    """Add what a description holds to the register, and change what it says otherwise; nothing is removed.

    Parameters
    ----------
    holdings, session : Holdings, Session
        The archive, and its writing transaction.
    document : mapping
        As read from the file.
    place : str
        The file's name, for messages.

    Raises
    ------
    RegisterError
        Something in the description is not what its kind of record requires; the register is unchanged.
    """
    editor = Editor(holdings, session, place=place)
    changes = [editor.put(kind, values) for kind, values in in_order(document, place)]
    editor.finish()
    return LoadSummary(changes.count("added"), changes.count("changed"), changes.count("unchanged"))


def in_order(document: Mapping[str, Any], place: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield each record of a description after those it refers to: first the kinds, then what they list."""
    unknown = sorted(set(document) - {kind.name for kind in DESCRIBED.values() if not kind.parent})
    if unknown:
        top_level = ", ".join(kind.name for kind in DESCRIBED.values() if not kind.parent)
        raise RegisterError(
            place, found=f"[{']['.join(unknown)}]", expected=f"only {top_level}", remedy="Correct the heading."
        )
    for kind in DESCRIBED.values():
        if not kind.parent:
            yield from ((kind.name, _own_fields(kind, values)) for values in _tables(document, kind, place))
            continue
        parent = DESCRIBED[kind.parent]
        for owner in _tables(document, parent, place):
            for values in _tables(owner, kind, place):
                yield kind.name, {kind.parent_field: owner.get("id", ""), **values}


def _tables(within: Mapping[str, Any], kind: Kind, place: str) -> list[Mapping[str, Any]]:
    found = within.get(kind.name, [])
    tables = [found] if isinstance(found, Mapping) and not kind.key else found
    if not isinstance(tables, list) or not all(isinstance(table, Mapping) for table in tables):
        raise RegisterError(
            place, found=f"{kind.name} = {found!r}", expected=f"[[{kind.name}]] before each record",
            remedy="Correct the heading.",
        )  # fmt: skip
    return tables


def _own_fields(kind: Kind, values: Mapping[str, Any]) -> dict[str, Any]:
    lists = {child.name for child in DESCRIBED.values() if child.parent == kind.name}
    return {name: value for name, value in values.items() if name not in lists}


def export(holdings: Holdings, session: Session) -> str:
    """Return the register's description of the collection as TOML; loading it again changes nothing."""
    zone = holdings.time_zone(session)
    everything = {name: records(session, name) for name in DESCRIBED}
    lines: list[str] = []
    for kind in DESCRIBED.values():
        if kind.parent:
            continue
        for facts in everything[kind.name]:
            lines += ["", f"[[{kind.name}]]" if kind.key else f"[{kind.name}]", *_facts_lines(kind, facts, zone)]
            for child in (child for child in DESCRIBED.values() if child.parent == kind.name):
                for item in everything[child.name]:
                    if item[child.parent_field] == facts.get("id"):
                        lines += [f"[[{kind.name}.{child.name}]]"]
                        lines += _facts_lines(child, {**item, child.parent_field: None}, zone)
    return "\n".join(lines).lstrip() + "\n"


def _facts_lines(kind: Kind, facts: Mapping[str, Any], zone: ZoneInfo) -> list[str]:
    written: list[str] = []
    for name, value in facts.items():
        if value in (None, "", [], {}) or value is False:
            continue  # what is absent loads as the same
        if kind.fields[name].shape == "time":
            value = _local(utc_time(value), zone)  # noqa: PLW2901 - the same fact, as it is written
        written.append(f"{name} = {toml_value(value)}")
    return written


def _local(time: dt.datetime, zone: ZoneInfo) -> dt.date | dt.datetime:
    """Return a time as a date where it is the start of a day at the site, else as local time with its offset."""
    local = time.astimezone(zone)
    return local.date() if local.timetz().replace(tzinfo=None) == dt.time() else local
