"""The first steps on the Files page: which file is which, and the one button that makes a frame of them."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from dash import ALL, Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.components.file_first_steps import NUMBERS, PREFIX, side_key, sides
from isohume.dashboard.current import current_archive, current_store
from isohume.dashboard.first_steps import FirstStepsError, Plan, Record, make, records_of
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.jobs import worker_of
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError
from isohume.ingest.errors import LoggerFileError

TEXTS = ("frame", "painting", "room", "collection", "zone")
WAITING = "As soon as two files are understood, say here which was inside and which was in the room."


def register(app: Dash) -> None:
    """Ask which file is which, and make the frame."""

    @app.callback(
        Output(f"{PREFIX}-sides", "children"),
        Output(f"{PREFIX}-drawn", "data"),
        Input("files-version", "data"),
        State({"type": "first-side", "job": ALL, "file": ALL, "channel": ALL}, "value"),
        State({"type": "first-side", "job": ALL, "file": ALL, "channel": ALL}, "id"),
        State(f"{PREFIX}-drawn", "data"),
    )
    def which(
        _version: Any, values: list[str | None], names: list[dict[str, str]], drawn: str | None
    ) -> tuple[Any, Any]:
        held = current_archive()
        if held is None:
            raise PreventUpdate
        records = _records(held)
        now = repr([(record.name, record.job, record.daily) for record in records])
        if now == drawn:
            raise PreventUpdate
        # A guess that nobody confirmed is made anew when another file has come.
        said = _said(values, names) if drawn is not None and len(names) >= len(records) else {}
        content = sides(records, said, current_store().site()) if records else html.P(WAITING, className="row-note")
        return content, now

    answer_in_browser(
        app, "zone_here", Output(f"{PREFIX}-zone", "value"), Input(f"{PREFIX}-zone", "data"),
        State(f"{PREFIX}-zone", "value"), prevent_initial_call=False,
    )  # fmt: skip

    @app.callback(
        Output(f"{PREFIX}-told", "children"),
        Output(ids.URL, "pathname", allow_duplicate=True),
        Output(ids.URL, "search", allow_duplicate=True),
        Input(f"{PREFIX}-make", "n_clicks"),
        State({"type": "first-side", "job": ALL, "file": ALL, "channel": ALL}, "value"),
        State({"type": "first-side", "job": ALL, "file": ALL, "channel": ALL}, "id"),
        *(State(f"{PREFIX}-{name}", "value") for name in (*TEXTS, *NUMBERS)),
        prevent_initial_call=True,
    )
    @needs("contributor")
    def make_frame(
        n_clicks: int | None, values: list[str | None], names: list[dict[str, str]], *fields: Any
    ) -> tuple[Any, Any, Any]:
        held = current_archive()
        if held is None or not n_clicks:
            raise PreventUpdate
        given = dict(zip((*TEXTS, *NUMBERS), fields, strict=True))
        said = _said(values, names)
        try:
            plan = plan_of(
                given, [(one, said.get(side_key(one), "")) for one in _records(held)], is_first=not held.frame_ids()
            )
            make(held.acting_as(person().name), worker_of(held), plan)
        except (FirstStepsError, ArchiveError, LoggerFileError) as error:
            return str(error), no_update, no_update
        return "", f"/frame/{quote(plan.frame, safe='')}", ""


def plan_of(given: dict[str, Any], said: list[tuple[Record, str]], *, is_first: bool) -> Plan:
    """Return what the fields say.

    Raises
    ------
    FirstStepsError
        A number is missing or impossible.
    """
    texts = {name: str(given.get(name) or "").strip() for name in TEXTS}
    low, high, conditioned = (_percent(given.get(name), name) for name in NUMBERS)
    if (low is None) != (high is None):
        raise FirstStepsError("A band has two limits: give both, or neither.")
    return Plan(
        frame=texts["frame"],
        room=texts["room"],
        painting=texts["painting"],
        band=None if low is None or high is None else (low, high),
        conditioned=conditioned,
        time_zone=texts["zone"] if is_first else "",
        collection=texts["collection"] if is_first else "",
        sides=said,
    )


def _percent(value: Any, name: str) -> float | None:
    if value in (None, ""):
        return None
    try:
        percent = float(value)
    except (TypeError, ValueError):
        percent = -1.0
    if not 0 <= percent <= 100:
        raise FirstStepsError(f"{name}: expected 0 to 100 %RH, found {value}.")
    return percent


def _records(held: Archive) -> list[Record]:
    return records_of(worker_of(held).received.jobs())


def _said(values: list[str | None], names: list[dict[str, str]]) -> dict[str, str]:
    return {
        f"{name['job']}\n{name['file']}\n{name['channel']}": value
        for name, value in zip(names, values, strict=True)
        if value
    }
