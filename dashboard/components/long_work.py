"""Long work as a page shows it: how far it is, that it failed and why; when it ends, the page is built again."""

from __future__ import annotations

import time
from typing import Any

from dash import MATCH, Dash, Input, Output, State, dcc, html, set_props

from isohume.dashboard import ids
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Task
from isohume.dashboard.components.blocks import aria
from isohume.dashboard.current import background
from isohume.dashboard.formats import count

LOOK_EVERY_MS = 700


def long_work(task: Task) -> html.Div:
    """Show a task; while it is at work the page asks again, and is rebuilt when it has ended."""
    named: Any = {"type": "long-work", "key": task.key}
    looks: Any = {"type": "long-work-look", "key": task.key}
    held: Any = {"type": "long-work-key", "key": task.key}
    return html.Div(
        [
            html.Div(progress(task), id=named, role="status", className="long-work-told"),
            dcc.Interval(id=looks, interval=LOOK_EVERY_MS, disabled=task.ended),
            dcc.Store(id=held, data=task.key),
        ],
        className="long-work",
    )


def progress(task: Task) -> list[Any]:
    """Say how far a task is, in words and as a bar."""
    if task.state == "failed":
        return [html.P([html.Strong("Not done. "), f"{task.title}: {task.told}"], className="long-work-failed")]
    if task.state == "done":
        return [html.P(f"{task.title}: done.")]
    far = (
        f"{count(task.done)} of {count(task.total)}" if task.total else "begun" if task.state == "running" else "waits"
    )
    share = 100 * task.done / task.total if task.total else 0
    bar = html.Div(
        html.Div(style={"width": f"{share:.1f}%"}),
        className="long-work-bar",
        role="progressbar",
        **aria(label=task.title, valuemin="0", valuemax="100", valuenow=f"{share:.0f}"),
    )
    return [html.P(f"{task.title}: {far}. You can leave this page and come back."), bar]


def register(app: Dash) -> None:
    """Ask how far the work is; when it has ended, have the page built again."""

    @app.callback(
        Output({"type": "long-work", "key": MATCH}, "children"),
        Output({"type": "long-work-look", "key": MATCH}, "disabled"),
        Input({"type": "long-work-look", "key": MATCH}, "n_intervals"),
        State({"type": "long-work-key", "key": MATCH}, "data"),
        prevent_initial_call=True,
    )
    def look(_n: int | None, key: str) -> tuple[list[Any], bool]:
        task = background().task(key)
        if task is None or (task.is_personal and task.by != person().name):
            return [html.P("This work was lost when the server stopped. Start it again.")], True
        if task.ended:
            set_props(ids.WORK_ENDED, {"data": f"{key} {time.time()}"})
        return progress(task), task.ended
