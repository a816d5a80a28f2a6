"""Reckoned ahead, not measured: four tools, each at an address that carries what was typed."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Mapping, Sequence
from typing import Any

from dash import ALL, MATCH, Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.blocks import aria, message, section
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.workbench import plant_failure, salts
from isohume.dashboard.workbench.downloads import ADDRESS, download
from isohume.dashboard.workbench.fields import Typed
from isohume.dashboard.workbench.form import as_texts, form, reckoned
from isohume.dashboard.workbench.part import CannotReckonError, Context, Part, Tool, texts_of
from isohume.dashboard.workbench.tools import TOOLS, part_named, tool_at
from isohume.ingest.archive.calibration import record_of
from isohume.ingest.archive.errors import ArchiveError

TITLE = "Workbench"
LEDE = "Reckoned ahead, not measured: nothing here is evidence. What you type stands in the address, to be shared."


def layout(slug: str, query: Mapping[str, str]) -> html.Div:
    """Build the page: all tools with a line each, or one of them."""
    if not slug:
        return _overview()
    tool = tool_at(slug)
    if tool is None:
        lost = message("No such tool", f"The workbench has no tool {slug}.", dcc.Link("All tools", href="/workbench"))
        return html.Div(lost, className="page workbench-page")
    context = Context.now()
    head = html.Div([html.H1(tool.title), html.P(tool.lede, className="lede")], className="page-head")
    others = html.Nav(_others(tool), className="neighbours", **aria(label="Tools"))
    return html.Div(
        [
            html.Div([dcc.Link("Workbench", href="/workbench"), others], className="crumbs"),
            head,
            *(_part(part, tool, context, query) for part in tool.parts),
            _cautions(tool),
            dcc.Store(id=ids.WORKBENCH_ADDRESS),
        ],
        className="page workbench-page",
    )


def _overview() -> html.Div:
    tools = [
        html.Li([html.H2(dcc.Link(tool.title, href=f"/workbench/{tool.slug}")), html.P(tool.lede)]) for tool in TOOLS
    ]
    head = html.Div([html.H1(TITLE), html.P(LEDE, className="lede")], className="page-head")
    return html.Div([head, html.Ul(tools, className="workbench-tools")], className="page workbench-page")


def _others(tool: Tool) -> list[Any]:
    return [dcc.Link(one.title, href=f"/workbench/{one.slug}") for one in TOOLS if one is not tool]


def _part(part: Part, tool: Tool, context: Context, query: Mapping[str, str]) -> html.Section:
    texts, picked = texts_of(part, tool, context, query)
    typed = part.read(context, texts)
    left = [
        form(part, context, texts, picked, typed),
        *([part.below(context)] if part.below is not None else []),
    ]
    result = html.Div(
        reckoned(part, tool, context, typed=typed, texts=texts, picked=picked),
        id={"type": ids.WORKBENCH_RESULT, "part": part.key},
        className="workbench-result",
        role="region",
        **aria(label=f"Result: {part.title}", live="polite"),
    )
    left.append(dcc.Store(id={"type": ids.WORKBENCH_ANSWER, "part": part.key}))
    bench = html.Div([html.Div(left), result], className=f"workbench-bench{' stacked' if part.stacked else ''}")
    if len(tool.parts) == 1:  # the heading of the page is that of its only part
        return html.Section(bench, id=part.key, className="section", **aria(label=part.title))
    return section(part.key, part.title, bench, lede=part.lede)


def _cautions(tool: Tool) -> html.Section:
    links: list[Any] = [html.A(words, href=f"/methods#{anchor}") for anchor, words in tool.methods]
    return section(
        "cautions",
        "Cautions",
        html.Ul([html.Li(text) for text in tool.cautions], className="prose cautions"),
        html.P(["What these numbers are: ", *_joined(links)], className="remark") if links else None,
    )


def _joined(links: Sequence[Any]) -> list[Any]:
    return [part for link in links for part in (link, ", ")][:-1]


def register(app: Dash) -> None:
    """Reckon as one types; keep a calibration; begin long work; give the tables as files."""
    app.server.add_url_rule(ADDRESS, view_func=download, methods=["GET"])
    field = {"type": ids.WORKBENCH_FIELD, "part": MATCH, "name": ALL}
    pick = {"type": ids.WORKBENCH_PICK, "part": MATCH, "name": ALL}

    @app.callback(
        Output({"type": ids.WORKBENCH_ANSWER, "part": MATCH}, "data"),
        Input(field, "value"),
        Input({"type": ids.WORKBENCH_BEGUN, "part": MATCH, "name": ALL}, "data"),
        State(field, "id"),
        State(pick, "value"),
        prevent_initial_call=True,
    )
    def reckon(
        values: list[Any], _begun: list[Any], names: list[dict[str, str]], picked: list[str | None]
    ) -> dict[str, Any]:
        tool, part, texts, typed = _told(values, names)
        content = reckoned(part, tool, Context.now(), typed=typed, texts=texts, picked=_picked(part, picked))
        faults = [typed.faults.get(name["name"]) for name in names]
        return {"values": values, "content": content, "faults": faults}

    answer_in_browser(
        app,
        "workbench_answer",
        Output({"type": ids.WORKBENCH_RESULT, "part": MATCH}, "children"),
        Output(field, "error"),
        Input({"type": ids.WORKBENCH_ANSWER, "part": MATCH}, "data"),
        State(field, "value"),
    )

    @app.callback(
        Output(field, "value"),
        Input(pick, "value"),
        State(field, "id"),
        prevent_initial_call=True,
    )
    def fill(picked: list[str | None], names: list[dict[str, str]]) -> list[Any]:
        _, part = part_named(names[0]["part"])
        chosen = _picked(part, picked)
        if not chosen:
            return [no_update] * len(names)
        filled = part.filled(Context.now(), chosen)
        return [filled.get(name["name"], "") for name in names]

    @app.callback(
        Output(ids.WORKBENCH_KEPT, "children", allow_duplicate=True),
        Input(ids.WORKBENCH_KEEP, "n_clicks"),
        State({"type": ids.WORKBENCH_FIELD, "part": salts.PART.key, "name": ALL}, "value"),
        State({"type": ids.WORKBENCH_FIELD, "part": salts.PART.key, "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def keep(clicks: int | None, values: list[Any], names: list[dict[str, str]]) -> Any:
        if not clicks:
            raise PreventUpdate
        return keep_calibration(Context.now(), _told(values, names)[3])

    @app.callback(
        Output({"type": ids.WORKBENCH_BEGUN, "part": plant_failure.KEY, "name": ALL}, "data"),
        Output(ids.WORKBENCH_KEPT, "children", allow_duplicate=True),
        Input(ids.WORKBENCH_START, "n_clicks"),
        State({"type": ids.WORKBENCH_FIELD, "part": plant_failure.KEY, "name": ALL}, "value"),
        State({"type": ids.WORKBENCH_FIELD, "part": plant_failure.KEY, "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    def begin(clicks: int | None, values: list[Any], names: list[dict[str, str]]) -> tuple[list[Any], Any]:
        typed = _told(values, names)[3]
        if not clicks or typed.faults:
            raise PreventUpdate
        try:
            plant_failure.start(Context.now(), typed, by=person().name)
        except CannotReckonError as error:
            return [no_update], html.P(str(error), className="workbench-refused")
        return [time.time()], ""

    answer_in_browser(
        app,
        "workbench_address",
        Output(ids.WORKBENCH_ADDRESS, "data"),
        Input({"type": ids.WORKBENCH_FIELD, "part": ALL, "name": ALL}, "value"),
        Input({"type": ids.WORKBENCH_PICK, "part": ALL, "name": ALL}, "value"),
        State({"type": ids.WORKBENCH_FIELD, "part": ALL, "name": ALL}, "id"),
    )


def _told(values: Sequence[Any], names: Sequence[Mapping[str, str]]) -> tuple[Tool, Part, dict[str, str], Typed]:
    """Understand what the browser sent: fields of one part with their values."""
    if not names:
        raise PreventUpdate
    tool, part = part_named(names[0]["part"])
    texts = as_texts({name["name"]: value for name, value in zip(names, values, strict=True)})
    return tool, part, texts, part.read(Context.now(), texts)


def _picked(part: Part, picked: Sequence[str | None]) -> str:
    offered = {value for value, _ in part.picks(Context.now())}
    return next((one for one in picked if one in offered and one is not None), "")


def keep_calibration(context: Context, typed: Typed) -> Any:
    """Keep a check over salts as a calibration of its logger, in the name of whoever asked; say what was done."""
    archive, logger, day = context.archive, typed.text("logger"), typed.day("date")
    if archive is None:
        return html.P("There is no archive to keep it in.", className="workbench-refused")
    missing = [word for word, there in (("the logger", logger), ("the date it was done", day)) if not there]
    if typed.faults or missing or day is None:
        said = f"Choose {' and '.join(missing)}." if missing else "Put right what is marked in the form."
        return html.P(f"Nothing was kept. {said}", className="workbench-refused")
    if day > context.site.now.tz_convert(context.site.time_zone).date():
        return html.P("Nothing was kept. The date lies ahead.", className="workbench-refused")
    try:
        proposal, _, _ = salts.proposal_of(typed)
        record = record_of(logger, typed.text("channel"), day, proposal)
        key = {name: record[name] for name in ("logger", "channel", "date")}
        if archive.record("calibrations", key) is not None:
            said = f"Logger {logger} has a calibration of that date already: change it in the register."
            return html.P(f"Nothing was kept. {said}", className="workbench-refused")
        record |= {"certificate": typed.text("certificate"), "note": typed.text("remark")}
        archive.acting_as(person().name).put("calibrations", record, place="workbench")
    except (CannotReckonError, ArchiveError) as error:
        return html.P(f"Nothing was kept. {error}", className="workbench-refused")
    return html.P(
        [f"Kept as a calibration of logger {logger} from {_written(day)}. ", html.A("Register", href="/register")],
        className="workbench-kept",
    )


def _written(day: dt.date) -> str:
    return f"{day.day} {day:%b %Y}"
