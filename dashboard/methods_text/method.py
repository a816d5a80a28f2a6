"""The words of the Methods page: one entry per figure, read from TOML, its numbers filled in from the code."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Template
from typing import Any

from isohume.dashboard.methods_text.constants import constants

HERE = Path(__file__).parent
# The files in the order of the page; each is one group of methods.
GROUPS = ("record", "frame", "ahead", "object", "agreement", "building")
STATUSES = {
    "verified": "the figure or formula was seen in the publication or a reproduction of it",
    "computed": "calculated from the formula beside it, or found on simulated frames by a command anyone can run",
    "from memory": "recalled and not compared with the publication: compare before relying on it",
    "common practice": "a rule of thumb of the trade, without one publication behind it",
    "own definition": "decided for this program; another decision could be defended",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a figure or formula comes from, and how sure that is (a key of `STATUSES`)."""

    text: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Method:
    """How one figure is worked out.

    Attributes
    ----------
    anchor : str
        Pages link to it: it never changes.
    also : tuple of str
        Other anchors that lead here.
    name, says : str
        The heading, and what the figure tells in one sentence.
    formulas : tuple of str
        In the small notation of `components.methods_formula`.
    symbols : tuple of (symbol, meaning)
    meaning, limits : tuple of str
        Paragraphs: how it is worked out; what it does not say.
    sources : tuple of Source
    pictures, tables : tuple of str
        Names of pictures and tables that belong to it.
    """

    anchor: str
    also: tuple[str, ...]
    name: str
    says: str
    formulas: tuple[str, ...]
    symbols: tuple[tuple[str, str], ...]
    meaning: tuple[str, ...]
    limits: tuple[str, ...]
    sources: tuple[Source, ...]
    pictures: tuple[str, ...]
    tables: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Methods that belong together."""

    name: str
    methods: tuple[Method, ...]


@cache
def groups() -> tuple[Group, ...]:
    """Return the whole text.

    Raises
    ------
    KeyError
        A text names a constant that the code does not have, or lacks one of its parts.
    """
    return tuple(_group(tomllib.loads((HERE / f"{name}.toml").read_text(encoding="utf-8"))) for name in GROUPS)


@cache
def introduction() -> dict[str, tuple[str, ...]]:
    """Return the paragraphs that stand before and after the methods."""
    document = tomllib.loads((HERE / "page.toml").read_text(encoding="utf-8"))
    return {name: tuple(_filled(text) for text in texts) for name, texts in document.items()}


def _group(document: dict[str, Any]) -> Group:
    return Group(name=document["name"], methods=tuple(_method(entry) for entry in document["method"]))


def _method(entry: dict[str, Any]) -> Method:
    def texts(key: str) -> tuple[str, ...]:
        return tuple(_filled(text) for text in entry.get(key, ()))

    return Method(
        anchor=entry["anchor"],
        also=tuple(entry.get("also", ())),
        name=entry["name"],
        says=_filled(entry["says"]),
        formulas=texts("formulas"),
        symbols=tuple((symbol, _filled(meaning)) for symbol, meaning in entry.get("symbols", {}).items()),
        meaning=texts("meaning"),
        limits=texts("limits"),
        sources=tuple(Source(text=_filled(text), status=status) for text, status in entry["sources"]),
        pictures=tuple(entry.get("pictures", ())),
        tables=tuple(entry.get("tables", ())),
    )


def _filled(text: str) -> str:
    """Put the code's own numbers into a text; `$name` or `${name}`."""
    return Template(text).substitute(constants())
