"""Findings that are not computed yet: started outside the request, shown with their progress, tried again if asked."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.long_work import LOOK_EVERY_MS, progress
from isohume.dashboard.current import background, current_store
from isohume.dashboard.in_browser import answer_in_browser


def being_computed(frame_ids: Sequence[str], *, of: str) -> html.Div:
    """Have the findings of some frames computed, and show how far that is.

    When they are there the page is built again; while somebody fills in a form on it, only on demand.

    Parameters
    ----------
    frame_ids : sequence of str
        Frames without findings.
    of : str
        One of them, or "" for the whole list: what tells the work apart.
    """
    key, store = f"findings {of}".strip(), current_store()
    task = background().task(key)
    if task is None or task.state == "done":
        told = f"Assessing {of}" if of else f"Assessing {len(frame_ids)} frames"
        wanted = tuple(frame_ids)

        def work(tell: Progress) -> None:
            store.complete(wanted, progress=tell)

        task = background().start(key, told, work, by=person().name)
    return html.Div(
        [
            html.Div(progress(task), id=ids.FINDINGS_TOLD, role="status"),
            html.Button("They are there: show them", id=ids.FINDINGS_SHOW, type="button", hidden=True),
            dmc.Button("Try again", id=ids.FINDINGS_AGAIN, variant="default", size="sm", display=_shown(task.state)),
            dcc.Interval(id=ids.FINDINGS_LOOK, interval=LOOK_EVERY_MS, disabled=task.ended),
            dcc.Store(id=ids.FINDINGS_KEY, data=key),
            dcc.Store(id=ids.FINDINGS_ENDED),
            dcc.Store(id=ids.FINDINGS_SHOWN),
        ],
        className="findings-waiting",
    )


def _shown(state: str) -> str:
    return "inline-block" if state == "failed" else "none"


def register(app: Dash) -> None:
    """Ask how far the work is, and start work that failed once more when somebody asks."""

    @app.callback(
        Output(ids.FINDINGS_TOLD, "children"),
        Output(ids.FINDINGS_LOOK, "disabled"),
        Output(ids.FINDINGS_AGAIN, "display"),
        Output(ids.FINDINGS_ENDED, "data"),
        Input(ids.FINDINGS_LOOK, "n_intervals"),
        State(ids.FINDINGS_KEY, "data"),
        prevent_initial_call=True,
    )
    def look(_n: int | None, key: str) -> tuple[list[Any], bool, str, str | None]:
        task = background().task(key)
        if task is None:
            return [html.P("This work was lost when the server stopped. Reload the page.")], True, "none", None
        ended = f"{key} {time.time()}" if task.state == "done" else None
        return progress(task), task.ended, _shown(task.state), ended

    @app.callback(
        Output(ids.FINDINGS_AGAIN, "disabled"),
        Input(ids.FINDINGS_AGAIN, "n_clicks"),
        State(ids.FINDINGS_KEY, "data"),
        prevent_initial_call=True,
    )
    def again(n_clicks: int | None, key: str) -> bool:
        if not n_clicks:
            raise PreventUpdate
        if key.startswith("findings"):  # nobody else's work
            background().forget(key)
        set_props(ids.WORK_ENDED, {"data": f"{key} {time.time()}"})
        return True

    answer_in_browser(app, "findings_ended", Output(ids.FINDINGS_SHOWN, "data"), Input(ids.FINDINGS_ENDED, "data"))
