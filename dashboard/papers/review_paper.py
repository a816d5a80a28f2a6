"""The monthly review as plain texts for its template, and as tables for a spreadsheet."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.frame import Event
from isohume.analysis.results import StandingName
from isohume.dashboard import formats
from isohume.dashboard.components.glyphs import standing_svg
from isohume.dashboard.exports import Cell
from isohume.dashboard.papers.review import FrameInReview, Review
from isohume.dashboard.papers.review_files import FileInReview
from isohume.dashboard.papers.review_frames import MonthOfAir
from isohume.dashboard.papers.small_picture import small_picture_svg
from isohume.dashboard.papers.typeset import Paper, pdf
from isohume.dashboard.papers.words import Words, words
from isohume.dashboard.urgency import DATA_ORDER, STANDING_ORDER

# Rows of each list on the first page; every frame has its block behind, what is due stands in the tables.
MOST_NEEDS, MOST_CHANGED, MOST_DUE = 8, 4, 4
MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def review_pdf(review: Review, *, paper: Paper = "a4") -> bytes:
    """Set the review."""
    return pdf("review", {**review_data(review), "paper": paper}, dated=review.as_of)


def month_in_words(month: str) -> str:
    """Write "2026-10" as "October 2026"."""
    year, _, number = month.partition("-")
    return f"{MONTH_NAMES[int(number) - 1]} {year}"


def review_data(review: Review) -> dict[str, Any]:
    """Return everything the template sets."""
    say, zone = words("review"), review.time_zone
    month = month_in_words(review.month)
    needs = [one for one in review.frames if one.summary.needs_decision]
    changed = [one for one in review.frames if one.changed]
    counted = (
        say("counts_changed", n=len(changed), month=month_in_words(review.compared_with))
        if review.compared_with
        else say("counts_not_compared")
    )
    overdue = [one.text for one in review.due if one.is_overdue]
    return {
        "language": say.language,
        "labels": say.labels(),
        "title": say("title", month=month),
        "collection": review.collection,
        "invented": say("invented") if review.invented else "",
        "as_of": say("as_of_complete", month=month)
        if review.is_complete
        else say("as_of_running", moment=formats.moment(review.as_of, zone)),
        "times": say("times", zone=zone),
        "counts": say("counts", n=formats.count(len(review.frames)), needs=len(needs), changed=counted),
        "standings": _standings(review),
        "needs": _short(needs, review, say, most=MOST_NEEDS),
        "needs_none": say("nothing_needed"),
        "changed": _short(changed, review, say, most=MOST_CHANGED),
        "changed_none": say("nothing_changed", month=month_in_words(review.compared_with))
        if review.compared_with
        else say("not_compared"),
        "due": [*overdue[:MOST_DUE], *([say("more_due", n=len(overdue) - MOST_DUE)] if overdue[MOST_DUE:] else [])],
        "due_none": say("nothing_due"),
        "blocks": [_block(one, review, say) for one in review.frames],
        "picture_note": say("picture_note"),
        "quality": _quality(review, say),
        "files": [_file(one, zone) for one in review.files],
        "files_note": say("files_note") if review.files else say("files_none"),
        "signed": _signed(review, say),
        "decision_support": say("decision_support"),
        "signatures": [say("signature_review"), *([say("signature_second")] if review.second_signature else [])],
    }


def _standings(review: Review) -> list[dict[str, Any]]:
    """Count the frames of each standing, most urgent first."""
    counts = Counter((one.summary.standing.name, one.summary.standing.direction) for one in review.frames)
    order = sorted(counts, key=lambda key: (STANDING_ORDER.index(key[0]), key[1] or ""))
    return [
        {"sign": standing_svg(name, direction), "name": _named(name, direction), "n": counts[name, direction]}
        for name, direction in order
    ]


def _named(name: StandingName, direction: str | None) -> str:
    return f"{name}: {direction}" if direction else name


def _short(frames: list[FrameInReview], review: Review, say: Words, *, most: int) -> dict[str, Any]:
    shown = frames[:most]
    rest = len(frames) - len(shown)
    return {
        "rows": [
            {
                "sign": standing_svg(one.summary.standing.name, one.summary.standing.direction),
                "cells": [
                    one.summary.frame_id,
                    one.summary.painting or formats.MISSING,
                    one.summary.room or formats.MISSING,
                    _named(one.summary.standing.name, one.summary.standing.direction),
                    one.summary.data.name,
                    _before(one, say),
                    _by(one, review, say),
                ],
            }
            for one in shown
        ],
        "more": say("more_frames", n=rest) if rest else "",
    }


def _before(one: FrameInReview, say: Words) -> str:
    if one.before is None:
        return say("first_time")
    return _named(*one.before) if one.changed else say("unchanged")


def _by(one: FrameInReview, review: Review, say: Words) -> str:
    by = one.summary.standing.by
    if by is None:
        return formats.MISSING
    return say("due_now") if by <= review.as_of else formats.date(by, review.time_zone)


def _block(one: FrameInReview, review: Review, say: Words) -> dict[str, Any]:
    """Return one frame's block."""
    found, zone = one.summary, review.time_zone
    by = found.standing.by
    head = _named(found.standing.name, found.standing.direction)
    if by is not None:
        when = say("due_now") if by <= review.as_of else say("by_date", date=formats.date(by, zone))
        head = f"{head}, {when}"
    return {
        "frame_id": found.frame_id,
        "painting": found.painting or formats.MISSING,
        "room": found.room or formats.MISSING,
        "band": phrases.band(found.band) if found.band else say("no_band"),
        "sign": standing_svg(found.standing.name, found.standing.direction),
        "standing": head,
        "before": say("was", before=_named(*one.before)) if one.changed and one.before else "",
        "reasons": [reason.text for reason in found.standing.reasons],
        "next_step": say("next_step", text=found.standing.next_step) if found.standing.next_step else "",
        "month": _month(one, say),
        "outlook": _outlook(one, zone, say),
        "record": ""
        if found.data.name == "sound"
        else say("record", name=found.data.name, reasons=" ".join(reason.text for reason in found.data.reasons)),
        "events": [_event(event, zone, say) for event in one.events],
        "decision": say("decision", text=one.decision) if one.decision else "",
        "picture": {"svg": small_picture_svg(found.picture, found.band), "alt": say("picture_alt")},
    }


def _month(one: FrameInReview, say: Words) -> str:
    parts = []
    if one.inside is not None:
        parts.append(say("month_inside", coverage=phrases.share(one.inside.coverage), **_levels(one.inside)))
    else:
        parts.append(say("month_strip" if one.summary.estimated else "month_inside_none"))
    if one.hours_outside is not None and one.summary.band is not None:
        band = phrases.band(one.summary.band)
        parts.append(
            say("month_outside", band=band, hours=phrases.hours(one.hours_outside))
            if one.hours_outside
            else say("month_within", band=band)
        )
    parts.append(say("month_room_none") if one.room is None else say("month_room", **_levels(one.room)))
    return "; ".join(parts) + "."


def _levels(air: MonthOfAir) -> dict[str, str]:
    return {
        "mean": formats.number(air.mean, 1, "%RH"),
        "lowest": formats.number(air.lowest, 1),
        "highest": formats.number(air.highest, 1),
    }


def _outlook(one: FrameInReview, zone: str, say: Words) -> str:
    parts = []
    if one.half_time_days is not None:
        parts.append(say("half_time", days=phrases.days(one.half_time_days)))
    if one.leave_from is not None:
        parts.append(say("leave_from", date=formats.date(one.leave_from, zone)))
    text = "; ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _event(event: Event, zone: str, say: Words) -> str:
    figures = "" if event.rh_percent is None else f", {event.rh_percent:g} %RH"
    figures += "" if event.warp_mm is None else f", {event.warp_mm:g} mm"
    figures += f", {event.note}" if event.note else ""
    return say("event", date=formats.date(event.time_utc, zone), kind=event.kind, figures=figures)


def _quality(review: Review, say: Words) -> dict[str, Any]:
    counts = Counter(one.summary.data.name for one in review.frames)
    doubtful = [one for one in review.frames if one.summary.data.name != "sound"]
    doubtful.sort(key=lambda one: (DATA_ORDER.index(one.summary.data.name), one.summary.frame_id))
    return {
        "counts": say("quality_counts", **{name.replace(" ", "_"): counts.get(name, 0) for name in DATA_ORDER}),
        "rows": [
            [
                one.summary.frame_id,
                one.summary.data.name,
                " ".join(reason.text for reason in one.summary.data.reasons) or formats.MISSING,
            ]
            for one in doubtful
        ],
    }


def _file(one: FileInReview, zone: str) -> list[str]:
    counts = (one.in_file, one.kept, one.flagged, one.duplicate, one.conflicting, one.rejected)
    span = f"{formats.date(one.first_utc, zone)} to {formats.date(one.last_utc, zone)}"
    return [one.file, one.logger, formats.date(one.received_utc, zone), span, *(formats.count(n) for n in counts)]


def _signed(review: Review, say: Words) -> list[dict[str, Any]]:
    """Return what was already written and signed for this month."""
    written = []
    for row in sorted(review.signed, key=lambda row: int(row["number"])):
        lines = []
        for who, when, key in (
            (row["signed_by"], row["signed_on"], "signed_by"),
            (row["second_signed_by"], row["second_signed_on"], "second_signed_by"),
        ):
            if who and when:
                signed_on = formats.date(pd.Timestamp(when).tz_convert("UTC"), review.time_zone)
                lines.append(say(key, name=who, date=signed_on))
        written.append(
            {
                "heading": say("addendum", number=int(row["number"]) - 1) if int(row["number"]) > 1 else "",
                "text": row["text"],
                "lines": lines,
            }
        )
    return written


def review_tables(review: Review) -> dict[str, tuple[list[str], list[list[Cell]]]]:
    """Return the review's tables for a spreadsheet: frames, due, files; times in UTC."""
    frames: list[list[Cell]] = [
        [
            one.summary.frame_id, one.summary.painting, one.summary.room, one.summary.standing.name,
            one.summary.standing.direction, one.summary.standing.by, one.summary.data.name, one.changed,
            None if one.before is None else _named(*one.before),
            *(_rounded(getattr(one.inside, name, None)) for name in ("mean", "lowest", "highest")),
            _rounded(None if one.inside is None else 100 * one.inside.coverage), _rounded(one.hours_outside),
            _rounded(getattr(one.room, "mean", None)), _rounded(one.half_time_days), one.leave_from, one.decision,
            " ".join(reason.text for reason in one.summary.standing.reasons),
        ]
        for one in review.frames
    ]  # fmt: skip
    heads = [
        "frame", "painting", "room", "standing", "direction", "by (UTC)", "record", "changed", "before",
        "inside mean %RH", "inside lowest %RH", "inside highest %RH", "inside covered %", "hours outside band",
        "room mean %RH", "half-time days", "may leave from (UTC)", "decision", "reasons",
    ]  # fmt: skip
    due: list[list[Cell]] = [
        [one.kind, one.logger, one.place, pd.Timestamp(one.due), one.is_overdue, one.text] for one in review.due
    ]
    files: list[list[Cell]] = [
        [one.file, one.sha256, one.logger, one.received_utc, one.first_utc, one.last_utc, one.in_file, one.kept,
         one.flagged, one.duplicate, one.conflicting, one.rejected]
        for one in review.files
    ]  # fmt: skip
    file_heads = [
        "file", "sha256", "logger", "received (UTC)", "first reading (UTC)", "last reading (UTC)", "rows", "kept",
        "flagged", "duplicate", "conflicting", "rejected",
    ]  # fmt: skip
    return {
        "frames": (heads, frames),
        "due": (["kind", "logger", "place", "due (UTC)", "overdue", "text"], due),
        "files": (file_heads, files),
    }


def _rounded(value: float | None) -> float | None:
    """Return a figure as people read it in a table: to the tenth."""
    return None if value is None else round(value, 1)
