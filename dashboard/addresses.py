"""Which page stands at which address."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import parse_qsl, unquote

from dash import html

from isohume.dashboard.components.blocks import message
from isohume.dashboard.pages import files, frame, frames, loan, loans, methods, month, records, verify, workbench

PAGES = (frames, frame, files, month, loans, loan, verify, workbench, records, methods)

Query = Mapping[str, str]
Below = tuple[str, ...]  # the parts of an address after its first
Page = tuple[Any, str]  # the content and its title

# First part of the address: how many parts may, at least and at most, follow; and what is built from them.
ADDRESSES: dict[str, tuple[int, int, Callable[[Below, Query], Page]]] = {
    "frames": (0, 0, lambda _below, query: (frames.layout(**query), frames.TITLE)),
    "frame": (1, 1, lambda below, query: (frame.layout(below[0], query), frame.title(below[0]))),
    "files": (0, 0, lambda _below, query: (files.layout(**query), files.TITLE)),
    "month": (0, 1, lambda below, query: (month.layout("".join(below), query), month.TITLE)),
    "loans": (0, 0, lambda _below, query: (loans.layout(**query), loans.TITLE)),
    "loan": (1, 2, lambda below, query: (loan.layout(below[0], query, *below[1:]), loan.title(below[0]))),
    "verify": (0, 0, lambda _below, query: (verify.layout(**query), verify.TITLE)),
    "workbench": (0, 1, lambda below, query: (workbench.layout("".join(below), query), workbench.TITLE)),
    "register": (
        0,
        2,
        lambda below, query: (records.layout(below, query), records.TITLE),
    ),
    "methods": (0, 0, lambda _below, query: (methods.layout(**query), methods.TITLE)),
}


def page_at(pathname: str, search: str) -> Page:
    """Return the page at an address, and its title; stray arguments do no harm."""
    query = dict(parse_qsl(search.removeprefix("?")))
    first, *below = _parts(pathname)
    if not is_known(pathname):
        lost = message("No such page", f"Nothing is kept under {pathname}.", html.A("All frames", href="/frames"))
        return html.Div(lost, className="page"), "No such page"
    _, _, build = ADDRESSES[first]
    return build(tuple(below), query)


def is_known(pathname: str) -> bool:
    """Tell whether a page stands at an address; what it is about may still be missing."""
    first, *below = _parts(pathname)
    least, most, _ = ADDRESSES.get(first, (1, 0, None))
    return least <= len(below) <= most


def _parts(pathname: str) -> list[str]:
    return [unquote(part) for part in pathname.split("/") if part] or ["frames"]
