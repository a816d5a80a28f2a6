"""Uploaded climate records of venues: where they are kept, how each was understood, its questions, and its removal."""

from __future__ import annotations

import re
from typing import Any

import dash_mantine_components as dmc
import numpy as np
import pandas as pd
from dash import html

from isohume.dashboard import theme
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.blocks import aria, facts, graph, no_result
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.current import background, current_archive
from isohume.dashboard.figures.record import humidity_range
from isohume.dashboard.formats import count, date
from isohume.dashboard.loan_history import by_whom
from isohume.dashboard.loan_record import LoanView
from isohume.dashboard.loan_venues import FOLDER, KEPT_DAYS, MOST_BYTES, READABLE, VenueRecords
from isohume.dashboard.views import Site

STATES = {
    "waiting": "waits to be read", "reading": "is being read", "asks": "asks a question", "settled": "understood",
    "refused": "cannot be read", "failed": "failed",
}  # fmt: skip
KEPT_WORDS = (
    f"A venue’s record is used for trials only. It lies in the folder {FOLDER} of this archive for {KEPT_DAYS} days, "
    "or until you remove it; it is not imported, not part of backups, and nothing of it goes into evidence."
)
_OPTION = re.compile(r"answer --answer \S+=\S+?(?=[.,;]?(?:\s|$))")
ORDERS = ({"value": "day-first", "label": "day first"}, {"value": "month-first", "label": "month first"})


def venue_records(loan: LoanView, records: list[dict[str, Any]], site: Site, *, writes: bool) -> html.Div:
    """List the records uploaded for a loan, and offer to upload one."""
    of_loan: Any = {"data-loan": loan.loan_id}
    limit = f"{MOST_BYTES // 1_000_000} MB"
    drop = html.Div(
        [
            html.P(f"Drop the file of the venue’s logger here: any layout, also .zip or .xlsx, up to {limit}."),
            html.Button("Choose a file", id="loan-venue-choose", className="files-choose", type="button"),
            html.P(id="loan-venue-progress", className="row-note", role="status"),
        ],
        id="loan-venue-drop",
        className="files-drop",
        **of_loan,
    )
    listed: Any = (
        html.Ul([_record(job, site, writes=writes) for job in records], className="received-list")
        if records
        else no_result("No venue’s record was uploaded for this loan.", lead="None.")
    )
    cannot = no_result("Uploading needs the role contributor.", lead="You can look.")
    return html.Div(
        [html.H3("Records of venues"), html.P(KEPT_WORDS, className="remark"), drop if writes else cannot, listed],
        className="venue-records",
    )


def _record(job: dict[str, Any], site: Site, *, writes: bool) -> html.Li:
    state, found = job["state"], job["found"]
    uploaded = pd.Timestamp(job["received"], unit="s", tz="UTC")
    goes = date(uploaded + pd.Timedelta(days=KEPT_DAYS), site.time_zone)
    parts: list[Any] = [
        html.Div(
            [html.H4(job["name"]), html.P(STATES.get(state, state), className="standing", role="status")],
            className="received-head",
        ),
        html.P(f"Uploaded {by_whom(job['by'])} on {date(uploaded, site.time_zone)}; removed by itself on {goes}.",
               className="row-note"),
    ]  # fmt: skip
    if state in ("waiting", "reading"):
        parts.append(long_work(_read(job["id"])))
    if state in ("refused", "failed") and job["told"]:
        parts.append(html.P(job["told"], className="received-told"))
    if state == "settled":
        parts += [_understood(one, site) for one in found.get("files", [])]
    if writes:
        parts += _controls(job)
    tone = {"settled": "calm", "asks": "soon", "refused": "act", "failed": "act"}.get(state, "unknown")
    return html.Li(parts, className=f"received {tone}")


def _read(record_id: str) -> Any:
    """Start the reading of a record, or find the one at work."""
    archive = current_archive()

    def work(_progress: Progress) -> None:
        if archive is not None:
            VenueRecords(archive).read(record_id)

    return background().start(f"loan venue record {record_id}", "Reading the record", work, by=person().name)


def _understood(one: dict[str, Any], site: Site) -> html.Div:
    days = [day for day, *_ in one["daily"]]
    values = np.array([np.nan if rh is None else rh for _, rh, _ in one["daily"]], dtype=np.float64)
    figure = theme.new_figure(height=170, xaxis={"type": "date", "fixedrange": True})
    figure.add_scatter(x=days, y=values, mode="lines", line={"color": theme.ROOM_COLOUR, "width": 1.6}, name="Venue")
    figure.update_layout(
        yaxis={"title": {"text": "%RH"}, "fixedrange": True, "range": humidity_range([values], None)},
        showlegend=False,
    )
    first, last = (date(pd.Timestamp(one[name]).tz_convert("UTC"), site.time_zone) for name in ("first", "last"))
    rows = f"{count(one['in_file'])} in the file, {count(one['kept'])} usable, {count(one['rejected'])} unreadable"
    has_temperature = any(celsius is not None for _, _, celsius in one["daily"])
    missing = [] if has_temperature else [("Missing", "temperature. A trial needs it; ask the venue for it.")]
    return html.Div(
        [
            graph(figure, description=f"Daily means of relative humidity in {one['name']}."),
            facts(
                [
                    ("Readings", f"{first} to {last}"),
                    ("Understood as", one["words"]),
                    ("Rows", rows),
                    *missing,
                    *(("Note", for_pages(note)) for note in one["notes"][:6]),
                ]
            ),
        ],
        className="venue-understood",
    )


def for_pages(note: str) -> str:
    """Return a remark of the reader without the option of the command line that would answer it."""
    return _OPTION.sub("correct it below", note)


def _controls(job: dict[str, Any]) -> list[Any]:
    """Draw the questions with controls, what can be corrected, and the removal."""
    record_id, said = job["id"], job["said"]
    shown: list[Any] = []
    if job["state"] in READABLE:
        controls: dict[str, Any] = {}
        zone_label = "Time zone of its clock"
        for question in job["found"].get("questions", []):
            if question["control"] == "time zone":
                zone_label = question["text"]
                continue
            choices = [{"value": value, "label": label} for value, label in question["choices"]]
            controls[question["id"]] = _select(record_id, f"answer:{question['id']}", question["text"], choices, said)
        if "date_order" not in controls:
            controls["date_order"] = _select(
                record_id, "answer:date_order", "Order of day and month", list(ORDERS), said
            )
        zone = dmc.TextInput(
            id=_said_id(record_id, "time_zone"), label=zone_label, value=said.get("time_zone", ""),
            placeholder="Europe/Berlin, or +01:00",
        )  # fmt: skip
        asks = job["state"] == "asks"
        summary = html.Summary("Answer to go on" if asks else "Correct how it is read")
        again = _button(job, "venue-again", "Read it so")
        shown.append(
            html.Details([summary, html.Div([*controls.values(), zone], className="received-said"), again], open=asks)
        )
    shown.append(html.Div(_button(job, "venue-remove", "Remove this record"), className="received-actions"))
    return shown


def _select(record_id: str, name: str, label: str, data: list[Any], said: dict[str, Any]) -> Any:
    value = said.get("answers", {}).get(name.removeprefix("answer:"))
    return dmc.Select(
        id=_said_id(record_id, name), label=label, data=data, value=value, clearable=True, placeholder="as read"
    )


def _said_id(record_id: str, name: str) -> dict[str, str]:
    return {"type": "loan-said", "about": record_id, "name": name}


def _button(job: dict[str, Any], act: str, text: str) -> Any:
    named: Any = aria(label=f"{text}: {job['name']}")
    return dmc.Button(
        text, id={"type": "loan-act", "act": act, "about": job["id"]}, variant="default", size="sm", **named
    )
