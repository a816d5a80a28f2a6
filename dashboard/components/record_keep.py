"""What a form of the register, a retirement or a removal does, in the name of whoever asks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from dash import set_props
from dash.exceptions import PreventUpdate
from flask import abort

from isohume.dashboard import ids
from isohume.dashboard.access.gate import person
from isohume.dashboard.components.record_form import kept, said
from isohume.dashboard.components.record_history import history
from isohume.dashboard.components.record_links import (
    EDITED,
    FOR_ADMINISTRATORS,
    NEW,
    address,
    key_fields,
    record_at,
    refused_removal,
    trail_key,
)
from isohume.dashboard.components.record_list import may_write
from isohume.dashboard.components.record_page import RETIRES, fingerprint
from isohume.dashboard.components.record_users import refuse_last_administrator
from isohume.dashboard.components.record_words import kind_words
from isohume.dashboard.current import current_archive, current_store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.kinds import kind_named
from isohume.ingest.archive.register_work import lines_of, put_together


def writing(clicks: int | None, kind: str) -> Archive:
    """Return the archive in the name of whoever asks; refuse what their role does not reach."""
    archive = current_archive()
    if archive is None or not clicks:
        raise PreventUpdate
    if kind and kind not in EDITED:
        abort(400, "There is no such kind of record here.")
    if kind in FOR_ADMINISTRATORS and not person().may("administrator"):
        abort(403, f"This needs the role administrator; you are signed in as {person().role}.")
    return archive.acting_as(person().name)


def kept_record(
    archive: Archive, typed: Mapping[str, Any], seen: Mapping[str, str]
) -> tuple[Any, dict[str, str], Any]:
    """Keep what was typed; returns the answer, the state seen from now on, and the history.

    Raises
    ------
    ValueError, ArchiveError
        It was not kept; the message says why.
    """
    kind, part = seen["kind"], seen["part"]
    own = {name: value for name, value in typed.items() if not name.startswith("location:")}
    before = None if part == NEW else record_at(archive, kind, part)
    if part != NEW and before is None:
        raise ValueError("The record was removed meanwhile. Reload the page to see its history.")
    if before is not None and fingerprint(before) != seen["state"]:
        raise ValueError("Somebody changed this record since you opened it. Reload the page, then change it again.")
    put = said(kind, list(own.values()), list(own), before=before)
    if kind == "users":
        refuse_last_administrator(archive, put)
    if before is not None:
        put |= key_fields(kind, before)
        change = archive.put(kind, put)
    else:
        if archive.record(kind, {name: put.get(name, "") for name in kind_named(kind).key}) is not None:
            raise ValueError(f"This {kind_words(kind).one} is registered already. Choose another name, or open it.")
        put_together(archive, [(kind, put), *_location(archive, typed, put)])
        change = "added"
    after = archive.record(kind, {name: put.get(name, "") for name in kind_named(kind).key}) or {}
    if before is None:
        set_props(ids.URL, {"pathname": address(kind, after)})
    told = "Nothing was changed." if change == "unchanged" else f"Kept: {change} just now."
    now = {"kind": kind, "part": part, "state": fingerprint(after)}
    return kept(told), now, lines(archive, now)


def _location(
    archive: Archive, typed: Mapping[str, Any], put: Mapping[str, Any]
) -> list[tuple[str, Mapping[str, Any]]]:
    """Return where a new frame hangs, where that was said."""
    if not typed.get("location:room"):
        return []
    zone = current_store().site().time_zone
    today = f"{archive.today().astimezone(dt.UTC):%Y-%m-%dT%H:%M:%S+00:00}"
    said_from = typed.get("location:from") or today
    values = said("locations", [put["id"], typed["location:room"], said_from], ["frame", "room", "from"], zone=zone)
    return [("locations", values)]


def lines(archive: Archive, seen: Mapping[str, str]) -> Any:
    """Draw the history of a record as it stands now."""
    record = None if seen["part"] == NEW else record_at(archive, seen["kind"], seen["part"])
    if record is None:
        return []
    zone = current_store().site().time_zone
    lines = lines_of(archive, seen["kind"], trail_key(seen["kind"], record))
    return history(lines, zone, puts_back=may_write(seen["kind"]))


def ended(archive: Archive, seen: Mapping[str, str], *, retires: bool) -> Any:
    """Retire or remove a record; returns the answer.

    Raises
    ------
    ValueError, ArchiveError
        It cannot be; the message says why.
    """
    kind, record = seen["kind"], record_at(archive, seen["kind"], seen["part"])
    if record is None or kind in {"users", "collection"}:
        raise ValueError("There is no such record any more. Reload the page.")
    if retires and kind in RETIRES:
        archive.put(kind, {**key_fields(kind, record), **RETIRES[kind]})
        build_again()
        return kept("Retired.")
    why = refused_removal(archive, kind, record)
    if why:
        raise ValueError(why)
    archive.remove(kind, key_fields(kind, record))
    set_props(ids.URL, {"pathname": f"/register/{kind}"})
    return kept("Removed.")


def build_again() -> None:
    """Have the page built anew."""
    set_props(ids.WORK_ENDED, {"data": f"changed {dt.datetime.now(dt.UTC).isoformat()}"})
