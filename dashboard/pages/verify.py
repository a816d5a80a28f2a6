"""Whether an evidence pack is as it was signed, and its figures follow from its readings."""

from __future__ import annotations

import datetime as dt
from typing import Any, cast
from urllib.parse import unquote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, html, set_props
from dash.exceptions import PreventUpdate
from flask import Response, abort, request

from isohume.dashboard import ids
from isohume.dashboard.access.gate import person
from isohume.dashboard.components.blocks import facts, message, section
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.components.record_drop import drop
from isohume.dashboard.components.verify_checks import (
    LARGEST_PACK,
    CheckError,
    checked,
    key_typed,
    received,
)
from isohume.dashboard.components.verify_open import is_open
from isohume.dashboard.components.verify_result import Told, told
from isohume.dashboard.current import background
from isohume.dashboard.received import label

TITLE = "Verify"
RECEIVE, KEY, ANOTHER, ANSWER = "/verify/receive", "verify-key", "verify-another", "verify-answer"
LEDE = "Whether an evidence pack is as it was signed, and its figures follow from its readings."
NAMED = (
    "Whatever was changed is named: a byte, a reading, a figure, a page. A pack of another version of isohume, which "
    "computes other figures, is told apart from an altered one."
)
WHAT = "Drop an evidence pack here: the .zip as it was sent, up to 200 MB. It is checked, and not kept."


def layout(**_query: str) -> html.Div:
    """Build the page."""
    task = background().task(_key())
    head = html.Div([html.H1(TITLE), html.P(LEDE, className="lede")], className="page-head")
    return html.Div([head, html.Div(id=ANSWER), *_body(task)], className="page verify-page")


def _body(task: Any) -> list[Any]:
    if task is None:
        return [_ask(), html.Div(id=ANOTHER), _about()]
    again = dmc.Button("Check another pack", id=ANOTHER, variant="default", size="sm")
    if not task.ended:
        return [long_work(task)]
    if task.state == "failed":
        return [message("Not checked", task.told), again]
    name, key, found = task.result
    return [drawn(told(found, key=key), name), again]


def _ask() -> html.Div:
    field = dmc.TextInput(
        id=KEY,
        label="Fingerprint of the sender’s key",
        description="As the sender gave it by telephone or on paper, not as the pack says. It may be left out.",
        placeholder="2d82 b7ad 144b 286c c233 8be9 8c82 0031",
        className="verify-key",
        autoComplete="off",
    )
    return html.Div([field, drop(WHAT, RECEIVE, largest=LARGEST_PACK, button="Choose a pack", beside=KEY)])


def _about() -> html.Section:
    ways = (
        "People without an account can check packs at /verify/open on this server."
        if is_open()
        else "People without an account cannot open this page; isohume serve --open-verify lets them check packs "
        "here, and isohume verify checks one on any machine."
    )
    points = [
        "Every member is held to its hash, and the manifest to its signature.",
        "Every figure is computed again from the readings in the pack, and the paper set again.",
        NAMED,
        ways,
    ]
    return section("what", "What is checked", html.Ul([html.Li(one) for one in points], className="prose"))


def drawn(found: Told, name: str) -> html.Div:
    """Draw a result."""
    problems = [
        html.Div([html.H3(where), html.Ul([html.Li(text) for text in texts])], className="verify-problem")
        for where, texts in found.problems
    ]
    return html.Div(
        [
            html.Div(
                [html.P(name, className="row-note"), html.H2(found.verdict), html.P(found.headline)],
                className=f"verify-verdict {found.tone}",
                role="status",
            ),
            section("problems", "What does not agree", *problems) if problems else None,
            section("pack", "The pack", facts(found.facts)),
            section("meaning", "What this means", *[html.P(remark, className="prose") for remark in found.remarks]),
        ],
        className="verify-result",
    )


def _key() -> str:
    return f"verify {person().name}"


def receive() -> Response:
    """Take a pack and have it checked; it is removed afterwards."""
    request.max_content_length = LARGEST_PACK
    if request.content_length is None or request.content_length > LARGEST_PACK:
        abort(413, f"Larger than {LARGEST_PACK // 1_000_000} MB, or of unknown size.")
    at_work = background().task(_key())
    if at_work is not None and not at_work.ended:
        abort(409, "A pack of yours is being checked. Wait for its result.")
    try:
        key = key_typed(unquote(request.headers.get("X-Beside", "")))
        path = received(cast("Any", request.stream), largest=LARGEST_PACK)
    except (ValueError, CheckError) as error:
        abort(400, str(error))
    name = label(unquote(request.headers.get("X-File-Name", "")))
    background().start(
        _key(), f"Check of {name}", lambda _far: (name, key, checked(path, key)), by=person().name, is_personal=True
    )
    return Response("{}", mimetype="application/json")


def register(app: Dash) -> None:
    """Take packs in, and clear a result when another pack is to be checked."""
    app.server.add_url_rule(RECEIVE, endpoint="verify-receive", view_func=receive, methods=["POST"])

    @app.callback(Output(ANSWER, "children"), Input(ANOTHER, "n_clicks"), prevent_initial_call=True)
    def another(clicks: int | None) -> str:
        if not clicks:
            raise PreventUpdate
        background().forget(_key())
        set_props(ids.WORK_ENDED, {"data": f"cleared {dt.datetime.now(dt.UTC).isoformat()}"})
        return ""
