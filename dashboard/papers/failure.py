"""The plant-failure sheet: how many hours each frame holds when the room climate fails; for the wall of the office."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from isohume.analysis.exchange.fit import CannotTell, FittedExchange, fit_exchange
from isohume.analysis.frame import FrameFacts
from isohume.analysis.plant_failure import PlantFailure, plant_failure, plant_failure_recorded
from isohume.analysis.readings import AirRecord
from isohume.dashboard import formats
from isohume.dashboard.exports import Cell
from isohume.dashboard.papers.typeset import Paper, pdf
from isohume.dashboard.papers.words import Words, words
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

log = logging.getLogger(__name__)

# Exchange is learned from the newest two years: older records may be of another build of the frame.
LEARN_FROM = pd.Timedelta(days=731)
HOURS_PER_DAY = 24.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameInFailure:
    """One frame and how long it holds."""

    facts: FrameFacts
    room: str
    inside_now: float | None  # newest reading inside [%RH]
    holds: PlantFailure


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedRoom:
    """A recorded climate that all rooms take, with the words for it."""

    words: str  # North gallery, from 3 Jan 2026
    air: AirRecord


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """The collection when the plant fails, the frames that leave their band first in front."""

    collection: str
    time_zone: str
    invented: bool
    as_of: pd.Timestamp
    room_rh_percent: float | None  # None where a recorded climate was taken
    room_celsius: float | None
    frames: tuple[FrameInFailure, ...]
    recorded: str = ""


def failure_of(
    archive: Archive,
    *,
    room_rh_percent: float | None = None,
    room_celsius: float | None = None,
    recorded: RecordedRoom | None = None,
    progress: Callable[[int, int], None] = lambda _done, _of: None,
) -> Failure:
    """Send every frame into a failed room.

    Parameters
    ----------
    archive : Archive
        Open.
    room_rh_percent, room_celsius : float [%RH], [°C]
        What all rooms go to, and stay at.
    recorded : RecordedRoom, optional
        Instead: a recorded climate that all rooms take, at most its first 60 days.
    progress : callable
        Told how many frames of how many are done.

    Raises
    ------
    ValueError
        The climate is none that a room has, or its record has a gap or is shorter than a day.
    """
    hold = _fixed(room_rh_percent, room_celsius) if recorded is None else _as_recorded(recorded)
    site = Store(archive).site()
    rooms = _rooms(archive, site.now)
    ids = archive.frame_ids()
    found = []
    for done, frame_id in enumerate(ids):
        progress(done, len(ids))
        facts = archive.frame_facts(frame_id)
        if facts.lifecycle == "retired":
            continue
        inside, fitted = _fitted(archive, facts, site.now)
        holds = hold(fitted, facts)
        newest = None if inside is None else inside.rh_percent.dropna()
        found.append(
            FrameInFailure(
                facts=facts,
                room=rooms.get(frame_id, ""),
                inside_now=None if newest is None or newest.empty else float(newest.iloc[-1]),
                holds=holds,
            )
        )
    progress(len(ids), len(ids))
    return Failure(
        collection=site.name, time_zone=site.time_zone, invented=site.invented, as_of=site.now,
        room_rh_percent=None if recorded else room_rh_percent, room_celsius=None if recorded else room_celsius,
        frames=tuple(sorted(found, key=_soonest)), recorded="" if recorded is None else recorded.words,
    )  # fmt: skip


Hold = Callable[[FittedExchange | CannotTell, FrameFacts], PlantFailure]


def _fixed(rh: float | None, celsius: float | None) -> Hold:
    if rh is None or celsius is None:
        raise ValueError("The failed room needs a relative humidity and a temperature, or a recorded climate.")
    if not 0 < rh <= 100 or not -30 <= celsius <= 60:
        raise ValueError(f"A room at {rh:g} %RH and {celsius:g} °C: expected 1 to 100 %RH and −30 to 60 °C.")
    return lambda fitted, facts: plant_failure(fitted, frame=facts, room_rh_percent=rh, room_celsius=celsius)


def _as_recorded(room: RecordedRoom) -> Hold:
    return lambda fitted, facts: plant_failure_recorded(fitted, frame=facts, room=room.air)


def _fitted(archive: Archive, facts: FrameFacts, now: pd.Timestamp) -> tuple[AirRecord | None, Any]:
    first, last = (now - LEARN_FROM).to_pydatetime(), now.to_pydatetime()
    inside = archive.inside_record(facts.frame_id, start=first, end=last)
    room = archive.outside_record(facts.frame_id, start=first, end=last)
    say = words("failure")
    if inside is None or inside.readings.empty:
        return None, CannotTell(why=say("no_inside"))
    if room is None or room.readings.empty:
        return inside, CannotTell(why=say("no_room"))
    try:
        return inside, fit_exchange(inside, room, frame=facts)
    except Exception as error:  # one frame's failure must not take the others off the sheet
        log.exception("frame %s could not be fitted", facts.frame_id)
        return inside, CannotTell(why=say("not_fitted", error=type(error).__name__))


def _soonest(one: FrameInFailure) -> tuple[bool, bool, float, str]:
    """Order: those that leave, the earliest first; those that hold; those of which nothing is known."""
    earliest = one.holds.hours_earliest
    unknown = bool(one.holds.why)
    return unknown, earliest is None, 0.0 if earliest is None else earliest, one.facts.frame_id


def _rooms(archive: Archive, now: pd.Timestamp) -> dict[str, str]:
    names = {row["id"]: row["name"] or row["id"] for row in archive.records("rooms")}
    return {
        row["frame"]: names.get(row["room"], row["room"])
        for row in archive.records("locations")
        if pd.Timestamp(row["from"]) <= now
    }


def failure_pdf(failure: Failure, *, paper: Paper = "a4") -> bytes:
    """Set the sheet."""
    say, zone = words("failure"), failure.time_zone
    data = {
        "language": say.language,
        "paper": paper,
        "labels": say.labels(),
        "title": say("title"),
        "collection": failure.collection,
        "invented": say("invented") if failure.invented else "",
        "scenario": scenario(failure),
        "as_of": say("as_of", moment=formats.moment(failure.as_of, zone), zone=zone),
        "rows": [_row(one, say) for one in failure.frames],
        "notes": say.paragraphs("notes"),
    }
    return pdf("failure", data, dated=failure.as_of)


def scenario(failure: Failure) -> str:
    """Say what the rooms do."""
    say = words("failure")
    if failure.recorded:
        return say("scenario_recorded", room=failure.recorded)
    return say("scenario", rh=f"{failure.room_rh_percent:g}", celsius=f"{failure.room_celsius:g}")


def _row(one: FrameInFailure, say: Words) -> list[str]:
    band = formats.band(one.facts.band)
    if one.holds.why:
        holds, likely = say("cannot_say", why=one.holds.why.rstrip(". ")), formats.MISSING
    else:
        holds, likely = (_span(hours, one.holds, say) for hours in (one.holds.hours_earliest, one.holds.hours_likely))
    return [
        one.facts.frame_id,
        one.facts.painting or formats.MISSING,
        one.room or formats.MISSING,
        band,
        formats.number(one.inside_now, 1, "%RH"),
        holds,
        likely,
        one.facts.opened_by or formats.MISSING,
    ]


def _span(hours: float | None, holds: PlantFailure, say: Words) -> str:
    if hours is None:
        return say("holds", days=f"{holds.horizon_hours / HOURS_PER_DAY:.0f}")
    if hours == 0:
        return say("outside_now")
    days = hours / HOURS_PER_DAY
    return say("hours", hours=f"{hours:.0f}") if days < 4 else say("days", days=f"{days:.0f}")


def failure_table(failure: Failure) -> tuple[list[str], list[list[Cell]]]:
    """Return the sheet's table for a spreadsheet."""
    heads = [
        "frame", "painting", "room", "band low %RH", "band high %RH", "inside now %RH", "hours earliest (1 in 10)",
        "hours likely (1 in 2)", "side", "may be opened by", "why unknown",
    ]  # fmt: skip
    rows: list[list[Cell]] = [
        [
            one.facts.frame_id, one.facts.painting, one.room, *(one.facts.band or (None, None)), one.inside_now,
            one.holds.hours_earliest, one.holds.hours_likely, one.holds.side, one.facts.opened_by, one.holds.why,
        ]
        for one in failure.frames
    ]  # fmt: skip
    return heads, rows
