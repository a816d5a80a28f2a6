"""What a frame's page sends and fetches: events and photographs added in place, tables, terms judged."""

from __future__ import annotations

import time
from typing import Any
from urllib.parse import unquote

from dash import ALL, Dash, Input, Output, State, set_props
from dash.exceptions import PreventUpdate
from flask import Response, abort, request

from isohume.analysis.terms import ClimateTerms
from isohume.analysis.terms_judge import ClauseResult
from isohume.dashboard import frame_tables, ids, photographs
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components import frame_acclimatised, frame_events, frame_terms
from isohume.dashboard.components.blocks import no_result
from isohume.dashboard.components.frame_exports import FRAME_TABLES, KINDS, frame_table_links
from isohume.dashboard.components.record_form import failed, kept, said
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.moments import moment_of
from isohume.dashboard.views import UnknownFrameError
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError

MOST_WORDS = 2000


def register(app: Dash) -> None:
    """Add the routes and the callbacks that write."""
    app.server.add_url_rule(f"{FRAME_TABLES}/<name>.<kind>", "frame_table", frame_table)
    app.server.add_url_rule(frame_events.PHOTOGRAPHS, "receive_photograph", receive_photograph, methods=["POST"])
    app.server.add_url_rule(f"{frame_events.PHOTOGRAPHS}/<sha256>", "photograph", give_photograph)

    @app.callback(
        Output(ids.FRAME_EVENT_FORM, "children"), Input(ids.FRAME_EVENT_KIND, "value"), prevent_initial_call=True
    )
    def show_form(kind: str) -> Any:
        return frame_events.form(kind, current_store().site())

    @app.callback(
        Output({"type": "form-told", "form": frame_events.FORM}, "children"),
        Input({"type": "form-keep", "form": frame_events.FORM}, "n_clicks"),
        State({"type": "field", "form": frame_events.FORM, "name": ALL}, "value"),
        State({"type": "field", "form": frame_events.FORM, "name": ALL}, "id"),
        State(ids.FRAME_EVENT_KIND, "value"),
        State(ids.FRAME_ID, "data"),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def add_event(
        n_clicks: int | None, values: list[Any], names: list[dict[str, str]], kind: str, frame_id: str
    ) -> Any:
        archive = current_archive()
        if archive is None or not n_clicks:
            raise PreventUpdate
        try:
            keep_event(archive.acting_as(person().name), frame_id, kind, values, names)
        except (ValueError, ArchiveError) as error:
            return failed(error)
        set_props(ids.WORK_ENDED, {"data": f"event {time.time()}"})
        return kept("Kept. The findings are computed anew.")

    @app.callback(
        Output(ids.FRAME_TERMS_RESULT, "children"),
        Input(ids.FRAME_ID, "data"),
        Input(ids.FRAME_TERMS, "value"),
        Input(ids.FRAME_TERMS_AIR, "value"),
        Input(ids.FRAME_TERMS_PERIOD, "value"),
    )
    def judge(frame_id: str, key: str, air: str, period: str) -> Any:
        asked = _asked_terms(frame_id, key, air, period)
        if asked is None:
            return no_result("These terms or this period are not on offer any more. Choose others.")
        known, loan, span, results = asked
        record = current_store().air(frame_id)[0 if air == "inside" else 1]
        query = {"terms": key, "air": air, "period": period}
        return [
            *frame_terms.judged(known, loan, results, span=span, site=current_store().site()),
            frame_table_links(frame_id, "terms", "Result of the terms", **query) if results else None,
            *frame_acclimatised.acclimatised(record, frame_terms.AIRS[air], span, current_store().site()),
        ]

    answer_in_browser(
        app,
        "terms_address",
        Output(ids.FRAME_TERMS_ADDRESS, "data"),
        Input(ids.FRAME_TERMS, "value"),
        Input(ids.FRAME_TERMS_AIR, "value"),
        Input(ids.FRAME_TERMS_PERIOD, "value"),
    )


def _asked_terms(
    frame_id: str, key: str, air: str, period: str
) -> tuple[ClimateTerms, str, frame_terms.Span | None, tuple[ClauseResult, ...] | None] | None:
    """Judge the terms that a key, an air and a period ask for; None where they are not on offer."""
    if air not in frame_terms.AIRS or period not in frame_terms.offered_periods(frame_id):
        return None
    chosen = frame_terms.chosen_terms(key, frame_id, air="inside" if air == "inside" else "room")
    if chosen is None:
        return None
    store = current_store()
    inside, outside = store.air(frame_id)
    span = frame_terms.period_of(period, frame_id, inside, outside, store.site().now)
    return *chosen, span, frame_terms.results_of(chosen[0], inside=inside, outside=outside, span=span)


def keep_event(archive: Archive, frame_id: str, kind: str, values: list[Any], names: list[dict[str, str]]) -> None:
    """Keep an event as it was typed.

    Raises
    ------
    ValueError, ArchiveError
        The message says what is missing or does not fit.
    """
    if kind not in frame_events.KINDS:
        raise ValueError("Choose what was done.")
    wanted = frame_events.needed_fields(kind)
    typed = [(name["name"], value) for name, value in zip(names, values, strict=True) if name["name"] in wanted]
    put = said("events", [value for _, value in typed], [name for name, _ in typed])
    lacks = frame_events.missing(kind, put)
    if lacks:
        raise ValueError(lacks)
    archive.frame_facts(frame_id)
    event = {**put, "frame": frame_id, "kind": kind}
    if archive.record("events", event) is not None:
        raise ValueError(
            f"“{kind}” is registered for this very moment already. Change it there, or write another time."
        )
    archive.put("events", event)


@needs("contributor")
def receive_photograph() -> Response:
    """Take one photograph: its bytes are the body; frame, time and words stand in the address, percent-encoded."""
    request.max_content_length = photographs.MOST_BYTES
    archive, asked = current_archive(), request.args
    if archive is None:
        return _told("There is no archive to add to.", 409)
    if request.content_length is None or request.content_length > photographs.MOST_BYTES:
        return _told(f"Larger than {photographs.MOST_BYTES // 1_000_000} MB, or of unknown size.", 413)
    name, note = (unquote(request.headers.get("X-File-Name", "")), asked.get("note", ""))
    try:
        taken = moment_of(asked.get("time", ""), current_store().site().time_zone)
        photographs.keep_photograph(
            archive.acting_as(person().name),
            asked.get("frame", ""),
            request.get_data(cache=False),
            name=name[:MOST_WORDS] or "photograph",
            time=taken.isoformat(),
            note=note[:MOST_WORDS],
            by=person().name,
        )
    except photographs.NotAPhotographError as error:
        return _told(str(error), 415)
    except (ValueError, ArchiveError) as error:
        return _told(str(error), 400)
    return _told("kept", 200)


def give_photograph(sha256: str) -> Response:
    """Return a kept photograph with the type it really has; a browser can do nothing with it but show it."""
    archive = current_archive()
    found = None if archive is None else photographs.photograph(archive, sha256)
    if found is None:
        abort(404, "There is no such photograph.")
    data, kind = found
    answer = Response(data, mimetype=kind)
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer.headers["Content-Disposition"] = f'inline; filename="{sha256[:12]}.{kind.partition("/")[2]}"'
    answer.headers["Cache-Control"] = "private, max-age=86400, immutable"
    return answer


def frame_table(name: str, kind: str) -> Response:
    """Return one table of a frame's page for a spreadsheet."""
    frame_id, store = request.args.get("frame", ""), current_store()
    if kind not in KINDS or name not in {*frame_tables.OF_A_FRAME, "readings", "terms"}:
        abort(404, "There is no such table.")
    try:
        view = store.known_frame(frame_id)
        if name == "terms":
            asked = _asked_terms(frame_id, *(request.args.get(key, "") for key in ("terms", "air", "period")))
            if asked is None:
                abort(404, "There are no such terms for this frame.")
            rows = frame_terms.clause_rows(asked[3] or ())
            return frame_tables.response(frame_terms.CLAUSE_HEADINGS, rows, name=f"{frame_id}_terms", kind=kind)
        made = (
            frame_tables.readings(*store.air(frame_id)) if name == "readings" else frame_tables.OF_A_FRAME[name](view)
        )
    except UnknownFrameError as error:
        abort(404, str(error))
    return frame_tables.response(*made, name=f"{frame_id}_{name}", kind=kind)


def _told(text: str, status: int) -> Response:
    return Response(text, status=status, mimetype="text/plain")
