"""What hands did to a frame: its timeline, and the forms that add to it in place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

import dash_mantine_components as dmc
import pandas as pd
import sqlalchemy as sa
from dash import dcc, html

from isohume.analysis.frame import EventKind
from isohume.dashboard import ids
from isohume.dashboard.access.gate import person
from isohume.dashboard.access.people import AT_THIS_MACHINE
from isohume.dashboard.components.blocks import no_result, section, table
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.components.record_form import record_form
from isohume.dashboard.components.record_links import address
from isohume.dashboard.current import current_archive
from isohume.dashboard.figures.record import event_words
from isohume.dashboard.formats import count, moment
from isohume.dashboard.views import FrameView, Site
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models import FrameEvent

FORM = "frame-event"
PHOTOGRAPHS = "/frame-photographs"
LEDE = (
    "What hands did, newest first. Openings, reconditionings, repairs and moves are told to the exchange model; "
    "strips and warps stand beside what was logged."
)
EMPTY = "Nothing is registered. Add when it was sealed, opened or reconditioned: findings then know of it."
MOST_LISTED = 60
# What each kind of event needs beside when, by whom and a note.
FIELDS: Mapping[str, tuple[str, ...]] = {
    "strip read": ("rh_percent",),
    "reconditioned": ("rh_percent", "water_g", "board_kg"),
    "new buffer": ("board_kg", "rh_percent"),
    "warp measured": ("warp_mm", "warp_where", "warp_how"),
    "moved": ("room",),
}
# Without these the event says nothing.
NEEDED: Mapping[str, tuple[str, ...]] = {"strip read": ("rh_percent",), "warp measured": ("warp_mm",)}
KINDS: tuple[str, ...] = (
    "strip read",
    *(kind for kind in get_args(EventKind) if kind not in {"strip read", "photograph"}),
)


def events(view: FrameView, site: Site) -> html.Section:
    """Build the section: the forms for those who may add, and the timeline."""
    archive = current_archive()
    parts: list[Any] = []
    if archive is not None and person().may("contributor"):
        parts.append(_add(site))
    elif archive is not None:
        parts.append(no_result("Adding an event needs the role contributor.", lead="You can look."))
    rows = listed(view, site, archive)
    if not rows:
        parts.append(no_result(EMPTY, lead="No event."))
    else:
        older = len(rows) - MOST_LISTED
        caption = f"{count(len(rows))} {'event' if len(rows) == 1 else 'events'}, newest first"
        if older > 0:
            caption = f"{MOST_LISTED} newest of {count(len(rows))} events; the table holds all"
        headings = ["When", "What", "By", ""]
        if not any(row[2] for row in rows):  # nobody is named: no column for it
            headings, rows = ["When", "What", ""], [[row[0], row[1], row[3]] for row in rows]
        parts += [
            table(headings, rows[:MOST_LISTED], caption=caption),
            frame_table_links(view.facts.frame_id, "events", "Events"),
        ]
    return section("events", "Events", *parts, lede=LEDE)


def listed(view: FrameView, site: Site, archive: Archive | None) -> list[list[Any]]:
    """Return the rows of the timeline, newest first: with photographs, and the way to change each."""
    told = sorted(view.facts.events, key=lambda event: event.time_utc, reverse=True)
    records = {} if archive is None else kept_events(archive, view.facts.frame_id)
    rows = []
    for event in told:
        record = records.get((event.time_utc, event.kind), {})
        words: list[Any] = [html.Span(event_words(event), className="long")]
        if record.get("document"):
            words.append(_picture(record, event.note))
        link = dcc.Link("change · history", href=address("events", record)) if record else ""
        rows.append([moment(event.time_utc, site.time_zone), html.Div(words), record.get("by", ""), link])
    return rows


def kept_events(archive: Archive, frame_id: str) -> dict[tuple[pd.Timestamp, str], dict[str, Any]]:
    """Return what the register holds of a frame's events beside what the analysis needs, by time and kind."""
    with archive.register.reading() as session:
        found = session.scalars(sa.select(FrameEvent).where(FrameEvent.frame == frame_id))
        return {
            (pd.Timestamp(one.time).tz_convert("UTC"), one.kind): {
                "frame": frame_id,
                "time": f"{pd.Timestamp(one.time).tz_convert('UTC'):%Y-%m-%dT%H:%M:%S.%fZ}",
                "kind": one.kind,
                "document": one.document,
                "by": one.by,
            }
            for one in found
        }


def _picture(record: Mapping[str, Any], note: str) -> html.A:
    source = f"{PHOTOGRAPHS}/{record['document']}"
    picture = html.Img(src=source, alt=note or "Photograph without a note", className="photograph")
    return html.A(picture, href=source, target="_blank", title="Open the photograph by itself")


def _add(site: Site) -> html.Details:
    return html.Details(
        [
            html.Summary("Add an event, a strip reading, a warp or a photograph"),
            html.Div(
                [
                    html.Div(
                        [
                            dmc.Select(
                                id=ids.FRAME_EVENT_KIND,
                                label="What was done",
                                data=list(KINDS),
                                value=KINDS[0],
                                allowDeselect=False,
                            ),
                            html.Div(form(KINDS[0], site), id=ids.FRAME_EVENT_FORM),
                        ],
                        className="add-event",
                    ),
                    _photograph_form(site),
                ],
                className="add-beside",
            ),
        ],
        id="add-event",
        className="add-in-place",
    )


def form(kind: str, site: Site) -> html.Div:
    """Draw the form for one kind of event, with the fields that it needs."""
    by = "" if person() == AT_THIS_MACHINE else person().name  # at this machine nobody has said a name
    values = {"time": site.now.isoformat(), "by": by}
    return record_form(FORM, "events", values, fields=needed_fields(kind), submit=f"Add: {kind}")


def _photograph_form(site: Site) -> html.Div:
    now = f"{site.now.tz_convert(site.time_zone):%Y-%m-%d %H:%M}"
    return html.Div(
        [
            html.H3("Photograph"),
            dmc.TextInput(id=ids.FRAME_PHOTOGRAPH_TIME, label="Taken", value=now, autoComplete="off"),
            dmc.TextInput(id=ids.FRAME_PHOTOGRAPH_NOTE, label="What it shows", value="", autoComplete="off"),
            html.Button("Choose and send", id=ids.FRAME_PHOTOGRAPH_CHOOSE, type="button", className="files-choose"),
            html.P("JPEG, PNG or WebP up to 20 MB; kept as received.", className="note"),
            html.P(id=ids.FRAME_PHOTOGRAPH_TOLD, role="status", className="form-told"),
        ],
        className="add-photograph",
    )


def missing(kind: str, put: Mapping[str, Any]) -> str:
    """Say what an event lacks, "" if it is whole."""
    lacks = [name for name in NEEDED.get(kind, ()) if put.get(name) is None]
    what = {"rh_percent": "the humidity that was read", "warp_mm": "the warp in mm"}
    return f"Write {' and '.join(what[name] for name in lacks)}." if lacks else ""


def needed_fields(kind: str) -> Sequence[str]:
    """Return the fields that a kind of event may have."""
    return ("time", *FIELDS.get(kind, ()), "by", "note")
