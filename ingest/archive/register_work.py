"""Work on the register beyond one record: several at once, a description tried first, the trail page by page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive import register_sheet, register_toml
from isohume.ingest.archive.columns import utc_text
from isohume.ingest.archive.editing import Change, Editor
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models_imports import Recipe, TrailEntry
from isohume.ingest.archive.register_toml import LoadSummary


@dataclass(frozen=True, slots=True)
class Trial:
    """What loading a description would change; nothing was kept.

    Attributes
    ----------
    summary : LoadSummary
    lines : tuple of mapping
        The lines that the audit trail would get: action, kind, key, before, after.
    """

    summary: LoadSummary
    lines: tuple[dict[str, Any], ...]


class _TakeBackError(Exception):
    """Ends a transaction whose changes are not meant to stay."""


def put_together(holdings: Holdings, records: Sequence[tuple[str, Mapping[str, Any]]]) -> list[Change]:
    """Put several records in one transaction: all, or none.

    Raises
    ------
    RegisterError
        One of them is not what its kind requires; the register is unchanged.
    """
    with holdings.register.writing() as session:
        editor = Editor(holdings, session, place="register")
        changes = [editor.put(kind, values) for kind, values in records]
        editor.finish()
    return changes


def load_description(holdings: Holdings, path: Path) -> LoadSummary:
    """Load a description in TOML, or a .csv or .xlsx of frames.

    Raises
    ------
    RegisterError
        Something in it is not what its kind of record requires; the register is unchanged.
    """
    read = _reader(path)
    with holdings.register.writing() as session:
        return read(holdings, session)


def try_description(holdings: Holdings, path: Path) -> Trial:
    """Say what `load_description` would change; the register stays as it is.

    Raises
    ------
    RegisterError
        As `load_description`.
    """
    read, trials = _reader(path), []
    try:
        with holdings.register.writing() as session:
            newest = session.scalar(sa.select(sa.func.max(TrailEntry.id))) or 0
            summary = read(holdings, session)
            added = sa.select(TrailEntry).where(TrailEntry.id > newest).order_by(TrailEntry.id)
            trials.append(Trial(summary, tuple(_as_dict(line) for line in session.scalars(added))))
            raise _TakeBackError  # noqa: TRY301 - the only way to end a transaction without keeping it
    except _TakeBackError:
        return trials[0]


def _reader(path: Path) -> Callable[[Holdings, Session], LoadSummary]:
    if path.suffix.lower() == ".toml":
        document = register_toml.read_description(path)
        return lambda holdings, session: register_toml.load(holdings, session, document, place=path.name)
    table = register_sheet.read_sheet(path)
    return lambda holdings, session: register_sheet.load_sheet(holdings, session, table, place=path.name)


def trail_page(
    holdings: Holdings, *, start: int = 0, n: int = 100, kind: str = "", without: Sequence[str] = ()
) -> tuple[list[dict[str, Any]], int]:
    """Return part of the audit trail, newest first, and how many lines there are in all.

    Parameters
    ----------
    start, n : int
        From which line, and how many.
    kind : str
        Only of this kind of record; "" of all.
    without : sequence of str
        Kinds that are left out.
    """
    conditions: list[sa.ColumnElement[bool]] = [TrailEntry.kind.not_in(list(without))]
    if kind:
        conditions.append(TrailEntry.kind == kind)
    query = sa.select(TrailEntry).where(*conditions).order_by(TrailEntry.id.desc()).offset(start).limit(n)
    with holdings.register.reading() as session:
        n_all = session.scalar(sa.select(sa.func.count()).select_from(TrailEntry).where(*conditions)) or 0
        return [_as_dict(line) for line in session.scalars(query)], n_all


def trail_line(holdings: Holdings, number: int) -> dict[str, Any] | None:
    """Return one line of the audit trail, None if there is none of that number."""
    with holdings.register.reading() as session:
        found = session.get(TrailEntry, number)
        return None if found is None else _as_dict(found)


def newest_line(holdings: Holdings, action: str) -> dict[str, Any] | None:
    """Return the newest line of an action, None if it was never done."""
    query = sa.select(TrailEntry).where(TrailEntry.action == action).order_by(TrailEntry.id.desc()).limit(1)
    with holdings.register.reading() as session:
        found = session.scalars(query).one_or_none()
        return None if found is None else _as_dict(found)


def lines_of(holdings: Holdings, kind: str, key: str) -> list[dict[str, Any]]:
    """Return the history of one record, newest first."""
    query = sa.select(TrailEntry).where(TrailEntry.kind == kind, TrailEntry.key == key)
    with holdings.register.reading() as session:
        return [_as_dict(line) for line in session.scalars(query.order_by(TrailEntry.id.desc()))]


def note_backup(holdings: Holdings, file: str, n_bytes: int) -> None:
    """Note in the audit trail that a backup was made."""
    with holdings.register.writing() as session:
        holdings.note(session, "backed up", "archive", file, after={"n_bytes": n_bytes})


def settled_recipes(holdings: Holdings) -> list[dict[str, Any]]:
    """Return how the files of each logger were read, newest first: logger, TOML, zone, whether a person settled it."""
    with holdings.register.reading() as session:
        return [_recipe(row) for row in session.scalars(sa.select(Recipe).order_by(Recipe.logger, Recipe.kept.desc()))]


def _recipe(row: Recipe) -> dict[str, Any]:
    return {
        "logger": row.logger, "shape": row.shape, "toml": row.toml, "time_zone": row.time_zone,
        "by_hand": row.by_hand, "kept_utc": utc_text(row.kept),
    }  # fmt: skip


def _as_dict(line: TrailEntry) -> dict[str, Any]:
    return {
        "id": line.id, "time_utc": utc_text(line.time), "by": line.by, "action": line.action, "kind": line.kind,
        "key": line.key, "before": line.before, "after": line.after,
    }  # fmt: skip
