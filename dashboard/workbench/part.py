"""A tool is made of parts; each part has its fields, an example filled in, and what is reckoned from them, live."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from isohume.dashboard.access.gate import person
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.exports import Cell
from isohume.dashboard.views import Site
from isohume.dashboard.workbench.fields import Field, Typed, read
from isohume.ingest.archive.archive import Archive

Sheets = dict[str, tuple[Sequence[str], Sequence[Sequence[Cell]]]]
Texts = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """Where the tools stand: the collection, its archive if there is one, and whether somebody may keep things."""

    site: Site
    archive: Archive | None
    writes: bool

    @classmethod
    def now(cls) -> Context:
        """Return that of the present request."""
        held = current_archive()
        writes = held is not None and person().may("contributor")
        return cls(site=current_store().site(), archive=held, writes=writes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Fields that stand together under one heading; `rows` names the shape of their lines."""

    title: str
    fields: tuple[Field, ...]
    rows: Literal["pairs", "amount-of", "sheets", "line"] = "pairs"
    note: str = ""


class CannotReckonError(ValueError):
    """What was typed is understood, and yet there is no result; the message says why."""


def at_once(_context: Context, _typed: Typed) -> bool:
    """Say that nothing has to be waited for."""
    return True


def nothing_to_pick(_context: Context) -> tuple[tuple[str, str], ...]:
    """Offer nothing to fill the fields from."""
    return ()


def nothing_filled(_context: Context, _picked: str) -> dict[str, str]:
    """Fill nothing in."""
    return {}


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One form with its result.

    Attributes
    ----------
    key, title, lede : str
        Name in ids, heading, and one line that says what it is for.
    groups, example : callable
        Fields, and what stands in them at a first visit.
    result : callable
        Content for typed fields without faults, and what was picked; raises CannotReckonError.
    sheets : callable or None
        The tables of the result for a spreadsheet, the main one first; raises CannotReckonError.
    picks, filled : callable
        What the fields can be filled from (frames), and with what.
    picks_label : str
    below : callable or None
        What stands under the form and is not built again as one types: buttons that keep or start something.
    stacked : bool
        A short form above a wide result, instead of beside it.
    finished : callable
        Whether the result stands; long work may still be on its way.
    paper : callable or None
        The result as PDF; raises CannotReckonError.
    """

    key: str
    title: str
    lede: str
    groups: Callable[[Context], tuple[Group, ...]]
    example: Callable[[Context], dict[str, str]]
    result: Callable[[Context, Typed, str], list[Any]]
    sheets: Callable[[Context, Typed], Sheets] | None = None
    picks: Callable[[Context], tuple[tuple[str, str], ...]] = nothing_to_pick
    filled: Callable[[Context, str], dict[str, str]] = nothing_filled
    picks_label: str = ""
    below: Callable[[Context], Any] | None = None
    stacked: bool = False
    finished: Callable[[Context, Typed], bool] = at_once
    paper: Callable[[Context, Typed], bytes] | None = None

    def fields(self, context: Context) -> tuple[Field, ...]:
        """Return all fields."""
        return tuple(one for group in self.groups(context) for one in group.fields)

    def read(self, context: Context, texts: Mapping[str, object]) -> Typed:
        """Understand what was typed."""
        return read(self.fields(context), texts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """One tool at its own address.

    Attributes
    ----------
    slug, title, lede : str
    parts : tuple of Part
    methods : tuple of (anchor, words)
        Where the Methods page says what the numbers are.
    cautions : tuple of str
    """

    slug: str
    title: str
    lede: str
    parts: tuple[Part, ...]
    methods: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...] = ()


PICKED = "frame"  # its name in an address


def texts_of(part: Part, tool: Tool, context: Context, query: Texts) -> tuple[dict[str, str], str]:
    """Return what stands in the fields of a part at an address, and what is picked there.

    An address without any of the tool's fields shows the example; with nothing but a pick, what is filled from it;
    otherwise exactly what it says, so that a shared address shows what was typed.
    """
    known = {one.name for each in tool.parts for one in each.fields(context)}
    picks = {value for value, _ in part.picks(context)}
    picked = query.get(PICKED, "") if query.get(PICKED, "") in picks else ""
    if known & query.keys():
        return {one.name: query.get(one.name, "") for one in part.fields(context)}, picked
    if picked:
        return part.filled(context, picked), picked
    return part.example(context), ""
