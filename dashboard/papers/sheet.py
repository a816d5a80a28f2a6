"""The sheet of one frame, one page for the file: what it is, how it stands, where it hangs, who may open it."""

from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.readings import RH, AirRecord
from isohume.analysis.results import Assessment
from isohume.analysis.wording import (
    band_in_words,
    data_in_words,
    exchange_in_words,
    forecast_in_words,
    ratio_in_words,
    standing_in_words,
)
from isohume.dashboard import formats
from isohume.dashboard.components.glyphs import standing_svg
from isohume.dashboard.papers import charts
from isohume.dashboard.papers.qr import frame_qr
from isohume.dashboard.papers.typeset import Paper, pdf
from isohume.dashboard.papers.words import Words, words
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

CHART_SPAN = pd.Timedelta(days=396)
# What fits on one page; the pages hold the rest.
MOST_EVENTS, MOST_SENTENCES, MOST_REASONS = 7, 3, 3


def frame_sheet(archive: Archive, frame_id: str, *, address: str = "", paper: Paper = "a4") -> bytes:
    """Set the sheet of one frame as it stands now.

    Parameters
    ----------
    archive : Archive
        Open.
    frame_id : str
        The frame.
    address : str
        Of the server whose page the code leads to; "" for none.
    paper : {"a4", "us-letter"}

    Raises
    ------
    RegisterError
        There is no such frame.
    """
    facts = archive.frame_facts(frame_id)
    store = Store(archive)
    site, found = store.site(), store.assessment(frame_id)
    first, last = (found.as_of - CHART_SPAN).to_pydatetime(), found.as_of.to_pydatetime()
    data = sheet_data(
        facts,
        found,
        inside=archive.inside_record(frame_id, start=first, end=last),
        room=archive.outside_record(frame_id, start=first, end=last),
        hangs_in=_rooms(archive, frame_id, found.as_of),
        loggers=_loggers(archive, frame_id, found.as_of),
    )
    say = words("sheet")
    return pdf(
        "sheet",
        {
            **data,
            "paper": paper,
            "collection": site.name,
            "invented": say("invented") if site.invented else "",
            "qr": frame_qr(address, frame_id),
        },
        dated=found.as_of,
    )


def sheet_data(
    facts: FrameFacts,
    found: Assessment,
    *,
    inside: AirRecord | None,
    room: AirRecord | None,
    hangs_in: str,
    loggers: list[str],
) -> dict[str, Any]:
    """Return what the template sets, as far as it is the frame's own."""
    say, zone = words("sheet"), facts.time_zone
    labels = say.labels()
    conditioned = formats.MISSING
    if facts.conditioned_percent is not None:
        conditioned = f"{facts.conditioned_percent:g} %RH"
        if facts.conditioned_on is not None:
            conditioned += f", {formats.date(facts.conditioned_on, zone)}"
    span = charts.Span(start=found.as_of - CHART_SPAN, end=found.as_of, time_zone=zone)
    limits = None if facts.band is None else charts.Limits(low=facts.band[0], high=facts.band[1])
    events = [event for event in facts.events if event.time_utc <= found.as_of]
    strips = [event for event in events if event.kind == "strip read" and event.time_utc >= span.start]
    standing = list(standing_in_words(found.standing, time_zone=zone))
    return {
        "language": say.language,
        "labels": labels,
        "title": say("title"),
        "frame_id": facts.frame_id,
        "painting": facts.painting or facts.frame_id,
        "as_of": say("as_of", moment=formats.moment(found.as_of, zone), zone=zone),
        "facts": [
            [labels["room"], hangs_in or formats.MISSING],
            [labels["lifecycle"], facts.lifecycle],
            [labels["band"], phrases.band(facts.band) if facts.band else say("no_band")],
            [labels["conditioned"], conditioned],
            [labels["owner"], facts.owner or formats.MISSING],
            [labels["opened_by"], facts.opened_by or formats.MISSING],
            [labels["loggers"], "; ".join(loggers) or say("no_logger")],
        ],
        "built": _built(facts, say),
        "sign": standing_svg(found.standing.name, found.standing.direction),
        "standing": standing[0],
        "standing_texts": [*standing[1:-1][:MOST_REASONS], standing[-1]] if len(standing) > 1 else [],
        "findings": [
            [labels["record"], " ".join(data_in_words(found.data)[:MOST_SENTENCES])],
            [labels["band_hours"], " ".join(band_in_words(found.band, time_zone=zone)[:2])],
            [labels["half_time"], " ".join(exchange_in_words(found.exchange)[:2])],
            [labels["buffering"], _buffering(found, say)],
            [labels["forecast"], " ".join(forecast_in_words(found.forecast, time_zone=zone)[:2])],
        ],
        "chart": {
            "svg": charts.record_chart(
                inside, room, span, quantity=RH, limits=limits,
                events=[event.time_utc for event in events if event.time_utc >= span.start and event not in strips],
                strips=[(event.time_utc, event.rh_percent) for event in strips if event.rh_percent is not None],
                height_inches=2.1,
            ),
            "alt": say("chart_alt"),
            "caption": say("chart_caption", strips=say("strips") if strips else ""),
        },
        "events": [_event(event, zone) for event in events[-MOST_EVENTS:][::-1]],
        "no_events": say("no_events"),
        "caution": say("decision_support"),
    }  # fmt: skip


def _buffering(found: Assessment, say: Words) -> str:
    weekly = found.buffering.weekly
    if weekly.ratio is None:
        why = weekly.why.rstrip(". ")
        return say("weekly_unknown", why=why[:1].lower() + why[1:])
    return say("weekly", ratio=ratio_in_words(weekly))


def _built(facts: FrameFacts, say: Words) -> list[list[str]]:
    """Return panel and construction as pairs of label and value; what is not known is left out."""
    labels, pairs = say.labels(), []
    panel, built = facts.panel, facts.construction
    if panel is not None:
        sides = [f"{side:g}" for side in (panel.width_mm, panel.height_mm, panel.thickness_mm) if side is not None]
        parts = [panel.support, panel.species or "", panel.cut or "", f"{' × '.join(sides)} mm" if sides else ""]
        parts += [f"{panel.mass_kg:g} kg" if panel.mass_kg else "", say("restrained") if panel.restrained else ""]
        pairs.append([labels["panel"], ", ".join(part for part in parts if part)])
    names = ("glazing", "spacer", "buffer", "barrier", "backing")
    return [*pairs, *([labels[name], text] for name in names if (text := getattr(built, name)))]


def _event(event: Event, zone: str) -> list[str]:
    figures = [
        f"{value:g} {unit}"
        for value, unit in (
            (event.rh_percent, "%RH"), (event.water_g, "g water"), (event.board_kg, "kg board"), (event.warp_mm, "mm")
        )
        if value is not None
    ]  # fmt: skip
    texts = [*figures, event.warp_where, event.warp_how, event.note]
    return [formats.date(event.time_utc, zone), event.kind, ", ".join(text for text in texts if text)]


def _rooms(archive: Archive, frame_id: str, now: pd.Timestamp) -> str:
    names = {row["id"]: row["name"] or row["id"] for row in archive.records("rooms")}
    begun = [row for row in archive.records("locations") if row["frame"] == frame_id and _time(row["from"]) <= now]
    return names.get(begun[-1]["room"], begun[-1]["room"]) if begun else ""


def _loggers(archive: Archive, frame_id: str, now: pd.Timestamp) -> list[str]:
    """Name the loggers inside at a moment."""
    serials = {row["id"]: row["serial"] for row in archive.records("loggers")}
    return [
        " ".join(part for part in (row["logger"], serials.get(row["logger"], ""), row["channel"]) if part)
        for row in archive.records("placements")
        if row["frame"] == frame_id and _time(row["from"]) <= now and (row["to"] is None or now < _time(row["to"]))
    ]


def _time(text: str) -> pd.Timestamp:
    return pd.Timestamp(text).tz_convert("UTC")
