"""Findings that are not computed yet: started outside the request, shown with their progress, tried again if asked."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import MATCH, Dash, Input, Output, State, dcc, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.current import background, current_store

AGAIN, AGAIN_KEY = "findings-again", "findings-again-key"


def being_computed(frame_ids: Sequence[str], *, of: str) -> html.Div:
    """Have the findings of some frames computed, and show how far that is.

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

        def work(progress: Progress) -> None:
            store.complete(wanted, progress=progress)

        task = background().start(key, told, work, by=person().name)
    parts: list[Any] = [long_work(task)]
    if task.state == "failed":
        again: Any = {"id": {"type": AGAIN, "key": key}}
        parts += [
            dmc.Button("Try again", variant="default", size="sm", **again),
            dcc.Store(id={"type": AGAIN_KEY, "key": key}, data=key),
        ]
    return html.Div(parts, className="findings-waiting")


def register(app: Dash) -> None:
    """Start work that failed once more, when somebody asks."""

    @app.callback(
        Output({"type": AGAIN, "key": MATCH}, "disabled"),
        Input({"type": AGAIN, "key": MATCH}, "n_clicks"),
        State({"type": AGAIN_KEY, "key": MATCH}, "data"),
        prevent_initial_call=True,
    )
    def again(n_clicks: int | None, key: str) -> bool:
        if not n_clicks:
            raise PreventUpdate
        background().forget(key)
        set_props(ids.WORK_ENDED, {"data": f"{key} {time.time()}"})
        return True
