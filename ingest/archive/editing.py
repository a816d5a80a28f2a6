"""Putting, showing and removing records of the register; every change goes into the audit trail."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from isohume.ingest.archive.columns import Base, utc_text
from isohume.ingest.archive.conversion import Converter
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.files import sha256_of_bytes
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.kind import Kind
from isohume.ingest.archive.kinds import kind_named
from isohume.ingest.archive.timelines import refuse_impossible_timelines

Change = Literal["added", "changed", "unchanged"]


class Editor:
    """Edits records within one writing transaction.

    Parameters
    ----------
    holdings : Holdings
        The archive.
    session : Session
        Of `register.writing()`.
    place : str
        Where the values come from, for messages.
    """

    def __init__(self, holdings: Holdings, session: Session, *, place: str) -> None:
        self.holdings, self.session, self.place = holdings, session, place

    def put(self, kind_name: str, written: Mapping[str, Any]) -> Change:
        """Add a record, or change the fields given of the one with the same key.

        Raises
        ------
        RegisterError
            A field is unknown, a value is not what it holds, or the key is incomplete.
        """
        kind = kind_named(kind_name)
        converter = Converter(self._zone(kind, written), self.place)
        values = converter.values(kind, {**{name: "" for name in kind.key if name == "channel"}, **written})
        missing = [name for name in kind.key if values.get(name) in {None, ""} and name != "channel"]
        if missing:
            raise converter.refusal(kind, f"no {', '.join(missing)}", f"{', '.join(kind.key)}, which name a record")
        record = self._find(kind, values)
        before = None if record is None else facts_of(kind, record)
        if record is None:
            record = kind.model()
            self.session.add(record)
        elif before is not None:
            self._refuse_if_frozen(kind, before, values, converter)
        for name, value in values.items():
            # Text that is cleared is empty, not unknown.
            cleared = value is None and kind.fields[name].shape == "text" and not _may_be_null(kind, name)
            setattr(record, kind.column(name), "" if cleared else value)
        complaint = kind.check({name: getattr(record, kind.column(name)) for name in kind.fields})
        if complaint:
            raise converter.refusal(kind, str(dict(written)), complaint)
        self._flush(kind, written)
        after = facts_of(kind, record)
        if after == before:
            return "unchanged"
        key = key_text(kind, after)
        self.holdings.note(
            self.session, "added" if before is None else "changed", kind.name, key, before=before, after=after
        )
        return "added" if before is None else "changed"

    def remove(self, kind_name: str, key: Mapping[str, Any]) -> None:
        """Remove one record; its last state stays in the audit trail.

        Raises
        ------
        RegisterError
            There is no such record, or others refer to it.
        """
        kind = kind_named(kind_name)
        converter = Converter(self.holdings.time_zone(self.session), self.place)
        record = self._find(kind, converter.values(kind, key))
        if record is None:
            raise converter.refusal(kind, f"no record {dict(key)}", "the key of a record")
        before = facts_of(kind, record)
        if kind.frozen_by and before[kind.frozen_by[0]]:
            raise converter.refusal(kind, "a signed record", "one that is not signed: what is signed stays")
        self.session.delete(record)
        self._flush(kind, key)
        self.holdings.note(self.session, "removed", kind.name, key_text(kind, before), before=before)

    def find(self, kind_name: str, key: Mapping[str, Any]) -> dict[str, Any] | None:
        """Return the record that the key fields among some values name, None if there is none."""
        kind = kind_named(kind_name)
        named = {name: value for name, value in key.items() if name in kind.key}
        record = self._find(kind, Converter(self.holdings.time_zone(self.session), self.place).values(kind, named))
        return None if record is None else facts_of(kind, record)

    def finish(self) -> None:
        """Check what no single record can show: nothing is in two places at once."""
        refuse_impossible_timelines(self.session, self.place)

    def _flush(self, kind: Kind, written: Mapping[str, Any]) -> None:
        try:
            self.session.flush()
        except IntegrityError as error:
            raise RegisterError(
                f"{self.place}, {kind.name}",
                found=f'{dict(written)}, which the database refused: "{str(error.orig).strip().splitlines()[0]}"',
                expected="records that refer only to records that exist",
                remedy="Add the room, logger or frame first (or remove what refers to it); the register is unchanged.",
            ) from error

    @staticmethod
    def _refuse_if_frozen(
        kind: Kind, before: Mapping[str, Any], values: Mapping[str, Any], converter: Converter
    ) -> None:
        if not kind.frozen_by or not before[kind.frozen_by[0]]:
            return
        said = as_json(kind, values)
        # A further signature may be added; nothing that is there, or was left out when it was signed, changes.
        changed = [
            name
            for name, value in said.items()
            if value != before[name] and (before[name] or (value and name not in kind.frozen_by))
        ]
        if changed:
            raise converter.refusal(
                kind, f"a change of {', '.join(changed)} in a signed record", "a new record: what is signed stays"
            )

    def _find(self, kind: Kind, values: Mapping[str, Any]) -> Base | None:
        named = {kind.column(name): values.get(name, "") for name in kind.key}
        return self.session.scalars(sa.select(kind.model).filter_by(**named)).one_or_none()

    def _zone(self, kind: Kind, written: Mapping[str, Any]) -> ZoneInfo:
        named = written.get("time_zone") if kind.name == "collection" else None
        try:
            return ZoneInfo(named) if isinstance(named, str) and named else self.holdings.time_zone(self.session)
        except (KeyError, ValueError):
            raise Converter(ZoneInfo("UTC"), self.place).refusal(
                kind, f"time_zone = {named!r}", 'a time zone such as "Europe/Berlin"'
            ) from None


def records(session: Session, kind_name: str) -> list[dict[str, Any]]:
    """Return all records of a kind as plain values, in order of their keys; times as ISO text in UTC."""
    kind = kind_named(kind_name)
    order = [getattr(kind.model, kind.column(name)) for name in kind.key]
    return [facts_of(kind, record) for record in session.scalars(sa.select(kind.model).order_by(*order))]


def facts_of(kind: Kind, record: Base) -> dict[str, Any]:
    """Return a record's fields as values that JSON can hold."""
    return as_json(kind, {name: getattr(record, kind.column(name)) for name in kind.fields})


def as_json(kind: Kind, values: Mapping[str, Any]) -> dict[str, Any]:
    """Return converted values as JSON can hold them; of a secret only a mark that tells it from another."""
    shown: dict[str, Any] = {}
    for name, value in values.items():
        if kind.fields[name].secret:
            shown[name] = f"set ({sha256_of_bytes(str(value).encode())[:8]})" if value else ""
        else:
            shown[name] = utc_text(value) if kind.fields[name].shape == "time" and value is not None else value
    return shown


def key_text(kind: Kind, facts: Mapping[str, Any]) -> str:
    """Return the key of a record as one text, as it stands in the audit trail."""
    return " / ".join(str(facts[name]) for name in kind.key)


def _may_be_null(kind: Kind, name: str) -> bool:
    return bool(sa.inspect(kind.model).columns[kind.column(name)].nullable)
