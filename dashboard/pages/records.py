"""What the archive knows about frames, rooms, loggers and people: looked up, added, changed, with its history."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.access.gate import needs
from isohume.dashboard.components import record_description, record_downloads, record_users, record_whole
from isohume.dashboard.components.blocks import message, table
from isohume.dashboard.components.record_downloads import hidden_kinds
from isohume.dashboard.components.record_drop import download
from isohume.dashboard.components.record_form import failed, kept
from isohume.dashboard.components.record_history import put_back, trail_rows
from isohume.dashboard.components.record_keep import build_again, ended, kept_record, lines, writing
from isohume.dashboard.components.record_links import (
    EDITED,
)
from isohume.dashboard.components.record_list import DATA, DRAWN, SEARCH, may_write, record_list
from isohume.dashboard.components.record_overview import overview
from isohume.dashboard.components.record_page import (
    BACK_TOLD,
    ENDED,
    FORM,
    HISTORY,
    REMOVE,
    RETIRE,
    SEEN,
    record_page,
)
from isohume.dashboard.components.record_words import KINDS, kind_words
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.formats import count
from isohume.dashboard.in_browser import answer_in_browser
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.archive.register_work import trail_page

TITLE = "Register"
LEDE = "What the archive knows about frames, rooms, loggers and people. Every change is kept with who made it."
LINES_A_PAGE = 100
WHOLE: Mapping[str, tuple[str, str]] = {
    "trail": ("Audit trail", "Who did what, newest first; each line is sealed by the hash of the one before."),
    "proof": ("Key for evidence packs", "What a lender compares, to know that a pack comes from here."),
    "storage": ("Storage", "What is kept, whether it is whole, and a copy of all of it."),
    "description": ("Describe the collection", "Many records at once, from one file; and the same written out again."),
}


def layout(below: tuple[str, ...], query: Mapping[str, str]) -> html.Div:
    """Build the page at an address below /register."""
    archive = current_archive()
    if archive is None:
        return _page(TITLE, LEDE, [message("No archive", "These pages show findings without an archive.")], ())
    zone = current_store().site().time_zone
    if not below:
        return _page(TITLE, LEDE, overview(archive), ())
    first, second = below[0], below[1] if len(below) > 1 else ""
    if first in WHOLE and (first == "trail" or not second):
        return _page(*WHOLE[first], _whole(archive, first, second, query, zone), ())
    if first not in {*EDITED, "recipes"} or (first == "recipes" and second):
        return _page(TITLE, LEDE, [message("No such part", f"The register holds nothing under “{first}”.")], ())
    return _of_kind(archive, first, second, query, zone)


def _of_kind(archive: Archive, kind: str, part: str, query: Mapping[str, str], zone: str) -> html.Div:
    words = kind_words(kind)
    if kind == "users" and not may_write(kind):
        return _page(words.many, words.lede, [message("Not shown", "Users are for administrators.")], ())
    if kind == "collection":
        _, body = record_page(archive, kind, "~", zone)
        return _page(words.many, words.lede, body, ())
    if part:
        title, body = record_page(archive, kind, part, zone)
        return _page(title, None, body, ((words.many, f"/register/{kind}"),))
    return _page(words.many, words.lede, record_list(archive, kind, zone, q=query.get("q", "")), ())


def _page(title: str, lede: str | None, body: list[Any], above: tuple[tuple[str, str], ...]) -> html.Div:
    ways: list[Any] = [dcc.Link("Register", href="/register")] if title != TITLE else []
    for name, href in above:
        ways += [" / ", dcc.Link(name, href=href)]
    head = [html.P(ways, className="ways") if ways else None, html.H1(title)]
    head += [html.P(lede, className="lede")] if lede else []
    return html.Div([html.Div(head, className="page-head"), *body], className="page records-page")


def _whole(archive: Archive, what: str, page: str, query: Mapping[str, str], zone: str) -> list[Any]:
    if what == "proof":
        return record_whole.proof(archive)
    if what == "storage":
        return record_whole.storage(archive, zone)
    if what == "description":
        return record_description.description(zone)
    return _trail(archive, int(page) if page.isascii() and page.isdigit() and len(page) < 8 else 1, query, zone)


def _trail(archive: Archive, number: int, query: Mapping[str, str], zone: str) -> list[Any]:
    kind = query.get("kind", "") if query.get("kind", "") in KINDS else ""
    number = max(1, number)
    lines, n_all = trail_page(
        archive, start=(number - 1) * LINES_A_PAGE, n=LINES_A_PAGE, kind=kind, without=hidden_kinds()
    )
    last, asked = max(1, -(-n_all // LINES_A_PAGE)), f"?kind={kind}" if kind else ""
    turns = [("newer", number - 1), ("older", number + 1)]
    ways = [html.A(word, href=f"/register/trail/{to}{asked}") for word, to in turns if 1 <= to <= last]
    kinds = ["imports", "frames", "events", "placements", "loggers", "calibrations", "reviews", "loans"]
    only = [html.A("everything", href="/register/trail")] if kind else []
    only += [html.A(kind_words(one).many.lower(), href=f"/register/trail?kind={one}") for one in kinds if one != kind]
    files = [download("All as CSV", "/register/export/trail.csv"),
             download("as XLSX", "/register/export/trail.xlsx")]  # fmt: skip
    what = kind_words(kind).many.lower() if kind else "everything"
    caption = f"{count(n_all)} lines about {what}; part {number} of {last}. Times in {zone}."
    heads = ("When", "By", "Action", "Kind", "Record", "Change")
    shown = (
        table(heads, trail_rows(lines, zone), caption=caption) if lines else message("Nothing here", "No line of it.")
    )
    return [
        html.P(["Only: ", *only], className="register-acts"),
        html.Div([*ways, *files], className="register-acts"),
        shown,
    ]


def register(app: Dash) -> None:
    """Connect forms, histories and ends of records, and the parts about the whole archive."""
    for part in (record_users, record_whole, record_description, record_downloads):
        part.register(app)
    answer_in_browser(
        app, "draw_register", Output(DRAWN, "data"), Input(DATA, "data"), Input(SEARCH, "value"),
        prevent_initial_call=False,
    )  # fmt: skip

    @app.callback(
        Output({"type": "form-told", "form": FORM}, "children"),
        Output(SEEN, "data"),
        Output(HISTORY, "children"),
        Input({"type": "form-keep", "form": FORM}, "n_clicks"),
        State({"type": "field", "form": FORM, "name": ALL}, "value"),
        State({"type": "field", "form": FORM, "name": ALL}, "id"),
        State(SEEN, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def keep(clicks: int | None, values: list[Any], names: list[dict[str, str]], seen: dict[str, str]) -> Any:
        archive = writing(clicks, seen["kind"])
        typed = {name["name"]: value for name, value in zip(names, values, strict=True)}
        try:
            return kept_record(archive, typed, seen)
        except (ValueError, ArchiveError) as error:
            return failed(error), seen, lines(archive, seen)

    @app.callback(
        Output(ENDED, "children"),
        Input(REMOVE, "n_clicks"),
        Input(RETIRE, "n_clicks"),
        State(SEEN, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def end(remove: int | None, retire: int | None, seen: dict[str, str]) -> Any:
        archive = writing(remove or retire, seen["kind"])
        try:
            return ended(archive, seen, retires=ctx.triggered_id == RETIRE)
        except (ValueError, ArchiveError) as error:
            return failed(error)

    @app.callback(
        Output(BACK_TOLD, "children"),
        Input({"type": "register-back", "line": ALL}, "n_clicks"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def back(_clicks: list[int | None]) -> Any:
        if not ctx.triggered or not ctx.triggered[0]["value"]:
            raise PreventUpdate
        archive = writing(1, "")
        try:
            where = put_back(archive, int(ctx.triggered_id["line"]), may=may_write)
        except (ValueError, ArchiveError) as error:
            return failed(error)
        set_props(ids.URL, {"pathname": where})
        build_again()
        return kept("Put back.")
