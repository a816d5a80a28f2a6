"""The review of a month: what changed, what is due, who signed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids, month_routes
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.access.people import AT_THIS_MACHINE
from isohume.dashboard.background import Task
from isohume.dashboard.components.blocks import message, section
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.components.month_calendar import calendar
from isohume.dashboard.components.month_data import month_document
from isohume.dashboard.components.month_glance import exports, glance, work
from isohume.dashboard.components.month_sign import sign_off, signed_name, status
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.month_desk import Desk, failed_frames, open_month, sign_seen, try_again
from isohume.dashboard.papers.review import ReviewError
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.papers.review_months import MonthListed, months_listed, newest_to_review
from isohume.dashboard.papers.review_rows import sign_second

TITLE = "Month"
LEDE = "Look at every frame once a month, note what is decided, and sign; a signed review stays as it is."
PAPERS = (
    ("review.pdf", "Paper to print (PDF)"),
    ("review.xlsx", "All tables (XLSX)"),
    ("review.csv", "Frames (CSV)"),
    ("due.csv", "Due (CSV)"),
    ("decisions.csv", "Planned (CSV)"),
    ("done.csv", "Done (CSV)"),
    ("files.csv", "Files (CSV)"),
)


def layout(month: str, query: Mapping[str, str]) -> html.Div:
    """Build the page of a month; without one, of the newest complete month."""
    held = current_archive()
    if held is None:
        return _page(_told("No archive", "These pages show findings without an archive, so no month can be reviewed."))
    if not held.frame_ids():
        text = "Register the frames and rooms of the collection, then add the files of their loggers."
        return _page(_told("No frames yet", text, html.A("Files", href="/files")))
    listed = months_listed(held, current_store().site().now)
    chosen = month or newest_to_review(listed)
    if chosen is None:
        text = "No file with readings was kept so far. Add the files of the loggers; their months then stand here."
        return _page(_told("No readings yet", text, html.A("Files", href="/files")))
    number = query.get("number", "")
    try:
        desk = open_month(held, chosen, number=month_routes.asked_number(number))
    except ReviewError as error:
        return _page(calendar(listed, ""), _told("No review", str(error)))
    return _page(calendar(listed, chosen), *_month(desk, listed), heading=month_in_words(chosen))


def _page(*parts: Any, heading: str = "Month") -> html.Div:
    head = html.Div([html.H1(heading), html.P(LEDE, className="lede")], className="page-head")
    return html.Div([head, *parts], className="page month-page")


def _told(title: str, text: str, *more: Any) -> html.Div:
    return message(title, text, *more)


def _month(desk: Desk, listed: tuple[MonthListed, ...]) -> list[Any]:
    """Set one month, as far as it is known."""
    parts: list[Any] = []
    if desk.task is not None:
        parts.append(_computing(desk, desk.task))
    review = desk.shown
    if review is None:
        return parts
    if not any(one.month == desk.month and one.has_readings for one in listed):
        parts.append(html.P("No logger has readings of this month.", className="month-state"))
    writes = person().may("contributor") and not desk.signed
    return [
        html.Div([exports(desk.month, review.number, papers(desk)), *status(desk)], className="month-head"),
        *parts,
        *_failed(desk),
        glance(review),
        section("frames", "Frames", html.Div(id="month-frames", className="month-frames")),
        work(review),
        section("files", "Files of the month", html.Div(id="month-files")),
        sign_off(desk, person()),
        dcc.Store(id=ids.MONTH_DATA, data=month_document(review, writes=writes)),
        dcc.Store(id=ids.MONTH_DRAWN),
        dcc.Store(id=ids.MONTH_SHOWN, data=_shown(desk)),
    ]


def papers(desk: Desk) -> list[tuple[str, str]]:
    """Return the paper and tables of a month: name in the address, and words."""
    return [
        *PAPERS,
        *([("addenda.csv", "Addenda (CSV)")] if desk.amendments else []),
        *([("since_signed.csv", "Changed since (CSV)")] if desk.differences else []),
    ]


def _computing(desk: Desk, task: Task) -> html.Div:
    if desk.signed:
        why = "The present record is compared with what was signed."
    else:
        why = "Each frame is assessed as it stood then: some seconds each at first, kept for the next time."
    return html.Div([html.P(why), long_work(task), *([_again()] if task.state == "failed" else [])])


def _again() -> Any:
    return dmc.Button("Try again", id=ids.MONTH_AGAIN, variant="default", size="sm")


def _failed(desk: Desk) -> list[Any]:
    """Say which frames could not be computed; the others stand."""
    failed = failed_frames(desk.present)
    if not failed:
        return []
    text = f"Not computed: {', '.join(failed)}. The reason stands with the frame; the others are not touched by it."
    return [html.Div([html.P(text), _again()], className="month-failed")]


def _shown(desk: Desk) -> dict[str, Any]:
    """Name what a signature now would be given for."""
    second = next((row.number for row in desk.signed if not row.second_signed_by), 0)
    return {
        "month": desk.month,
        "number": desk.signed[-1].number + 1 if desk.signed else 1,
        "mark": "" if desk.present is None else desk.present.mark(),
        "second": second,
    }


def register(app: Dash) -> None:
    """Draw the frames in the browser, take signatures, and hand out papers."""
    month_routes.add(app.server)
    answer_in_browser(
        app,
        "draw_month",
        Output(ids.MONTH_DRAWN, "data"),
        Input(ids.MONTH_DATA, "data"),
        prevent_initial_call=False,
    )

    @app.callback(
        Output(ids.MONTH_AGAIN, "disabled"),
        Input(ids.MONTH_AGAIN, "n_clicks"),
        State(ids.URL, "pathname"),
        prevent_initial_call=True,
    )
    @needs("viewer")
    def again(clicks: int | None, pathname: str) -> bool:
        held = current_archive()
        if held is None or not clicks:
            raise PreventUpdate
        parts = [part for part in pathname.split("/") if part]
        newest = newest_to_review(months_listed(held, current_store().site().now))
        try_again(held, parts[1] if len(parts) > 1 else newest or "")
        set_props(ids.WORK_ENDED, {"data": f"again {clicks} {pathname}"})
        return True

    @app.callback(
        Output(ids.MONTH_TOLD, "children"),
        Input(ids.MONTH_SIGN, "n_clicks"),
        State(ids.MONTH_NAME, "value"),
        State(ids.MONTH_TEXT, "value"),
        State(ids.MONTH_SHOWN, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def sign_first(clicks: int | None, name: str | None, text: str | None, shown: dict[str, Any]) -> str:
        held = current_archive()
        if held is None or not clicks:
            raise PreventUpdate
        month, number = str(shown["month"]), int(shown["number"])
        try:
            sign_seen(
                held.acting_as(person().name), month, number,
                mark=str(shown["mark"]), text=text or "", name=_signer(name),
            )  # fmt: skip
        except ReviewError as error:
            return str(error)
        set_props(ids.WORK_ENDED, {"data": f"signed {month} {number}"})
        return "Signed."

    @app.callback(
        Output(ids.MONTH_TOLD, "children", allow_duplicate=True),
        Input(ids.MONTH_SIGN_SECOND, "n_clicks"),
        State(ids.MONTH_SECOND_NAME, "value"),
        State(ids.MONTH_SHOWN, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def sign_beside(clicks: int | None, name: str | None, shown: dict[str, Any]) -> str:
        held = current_archive()
        if held is None or not clicks:
            raise PreventUpdate
        month, number = str(shown["month"]), int(shown["second"])
        try:
            sign_second(held.acting_as(person().name), month, number, name=_signer(name))
        except ReviewError as error:
            return str(error)
        set_props(ids.WORK_ENDED, {"data": f"second {month} {number}"})
        return "Signed."


def _signer(name: str | None) -> str:
    """Return who signs: on this machine the name given, elsewhere whoever signed in, whatever the browser says."""
    return (name or "") if person() == AT_THIS_MACHINE else signed_name(person())
