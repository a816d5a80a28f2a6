"""The monthly review as plain texts for its template."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from isohume.analysis import phrases
from isohume.analysis.results import StandingName
from isohume.dashboard import formats
from isohume.dashboard.components.glyphs import standing_svg
from isohume.dashboard.papers.review import Review
from isohume.dashboard.papers.review_air import MonthOfAir
from isohume.dashboard.papers.review_differences import Amendment, Difference
from isohume.dashboard.papers.review_files import FileInReview
from isohume.dashboard.papers.review_frame import Decision, EarlierMonth, EventInReview, FrameInReview, Stood
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.papers.review_rows import Written
from isohume.dashboard.papers.small_picture import small_picture_svg
from isohume.dashboard.papers.typeset import Paper, pdf
from isohume.dashboard.papers.words import Words, words
from isohume.dashboard.urgency import DATA_ORDER, STANDING_ORDER

# Rows of each list on the first page; every frame has its block behind, what is due stands in the tables.
MOST_NEEDS, MOST_CHANGED, MOST_DUE = 8, 4, 4


def review_pdf(review: Review, *, paper: Paper = "a4", amendments: Sequence[Amendment] = ()) -> bytes:
    """Set the review; of a signed one, with what its addenda changed."""
    return pdf("review", {**review_data(review, amendments), "paper": paper}, dated=review.as_of)


def review_data(review: Review, amendments: Sequence[Amendment] = ()) -> dict[str, Any]:
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
        "signed": _signed(review, amendments, say),
        "decision_support": say("decision_support"),
        "signatures": _signatures_wanted(review, say),
    }


def _standings(review: Review) -> list[dict[str, Any]]:
    """Count the frames of each standing, most urgent first."""
    counts = Counter((one.summary.standing.name, one.summary.standing.direction) for one in review.frames)
    order = sorted(counts, key=lambda key: (STANDING_ORDER.index(key[0]), key[1] or ""))
    return [
        {"sign": standing_svg(name, direction), "name": _named(name, direction), "n": counts[name, direction]}
        for name, direction in order
    ]


def _named(name: StandingName, direction: str | None, joined: str = ": ") -> str:
    return f"{name}{joined}{direction}" if direction else name


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
    return stood_in_words(one.before, now=Stood.of(one.summary)) if one.changed else say("unchanged")


def stood_in_words(before: Stood, *, now: Stood | None = None, joined: str = ": ") -> str:
    """Write how a frame stood: "leaving band: too dry, record stale"; beside `now` only what differs from it."""
    standing, record = _named(before.standing, before.direction, joined), f"record {before.data}"
    if now is None:
        return standing if before.data == "sound" else f"{standing}, {record}"
    differs = [
        *([standing] if (before.standing, before.direction) != (now.standing, now.direction) else []),
        *([record] if before.data != now.data else []),
    ]
    return ", ".join(differs)


def decision_in_words(decision: Decision) -> str:
    """Write a decision with who is to do it and until when; texts as typed."""
    until = f"by {decision.by_date}" if decision.by_date else ""
    named = ", ".join(part for part in (decision.who, until) if part)
    return f"{decision.text} ({named})" if named and decision.text else decision.text or named


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
        "before": say("was", before=_before(one, say)) if one.changed else "",
        "reasons": [reason.text for reason in found.standing.reasons],
        "next_step": say("next_step", text=found.standing.next_step) if found.standing.next_step else "",
        "month": _month(one, say),
        "earlier": [_earlier(month, say) for month in one.earlier if month.air.inside or month.air.room],
        "outlook": _outlook(one, review, say),
        "record": ""
        if found.data.name == "sound"
        else say("record", name=found.data.name, reasons=" ".join(reason.text for reason in found.data.reasons)),
        "events": [_event(event, zone, say) for event in one.events],
        "decided_before": say(
            "decided_before", month=month_in_words(review.compared_with), text=decision_in_words(one.decided_before)
        )
        if one.decided_before
        else "",
        "decision": say("decision", text=decision_in_words(one.decision)) if one.decision else "",
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


def _earlier(month: EarlierMonth, say: Words) -> str:
    """Write an earlier month beside the present one, with how it was reviewed."""
    air, parts = month.air, []
    if air.inside is not None:
        parts.append(say("month_inside", coverage=phrases.share(air.inside.coverage), **_levels(air.inside)))
    if air.hours_outside is not None:
        parts.append(say("earlier_outside", hours=phrases.hours(air.hours_outside)))
    if air.room is not None:
        parts.append(say("month_room", **_levels(air.room)))
    if month.stood is not None:
        parts.append(say("earlier_stood", stood=stood_in_words(month.stood)))
    return say("earlier", month=month_in_words(month.month), figures="; ".join(parts))


def _levels(air: MonthOfAir) -> dict[str, str]:
    return {
        "mean": formats.number(air.mean, 1, "%RH"),
        "lowest": formats.number(air.lowest, 1),
        "highest": formats.number(air.highest, 1),
    }


def _outlook(one: FrameInReview, review: Review, say: Words) -> str:
    parts = [] if one.half_time_days is None else [say("half_time", days=phrases.days(one.half_time_days))]
    if one.leave_from is not None and one.leave_from < review.as_of:
        parts.append(say("outside_now"))
    elif one.leave_from is not None:
        parts.append(say("leave_from", date=formats.date(one.leave_from, review.time_zone)))
    text = "; ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _event(event: EventInReview, zone: str, say: Words) -> str:
    figures = "" if event.rh_percent is None else f", {event.rh_percent:g} %RH"
    figures += "" if event.warp_mm is None else f", {event.warp_mm:g} mm"
    figures += f", {event.by}" if event.by else ""
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


def _signed(review: Review, amendments: Sequence[Amendment], say: Words) -> list[dict[str, Any]]:
    """Return what was written and signed for this month: the review, and its addenda with what they changed."""
    changed = {one.number: one.differences for one in amendments}
    return [
        {
            "heading": say("addendum", number=row.number - 1) if row.number > 1 else "",
            "text": row.text,
            "lines": [
                say(key, name=who, date=formats.date(when, review.time_zone)) for who, when, key in _signers(row)
            ],
            "rows": [_difference(one) for one in changed.get(row.number, ())],
            "decisions": [
                f"{frame_id}: {decision_in_words(one)}"
                for frame_id, one in sorted(row.decisions.items())
                if row.number > 1
            ],
        }
        for row in review.signed
        if row.is_signed
    ]


def _signers(row: Written) -> list[tuple[str, Any, str]]:
    named = (
        (row.signed_by, row.signed_on, "signed_by"),
        (row.second_signed_by, row.second_signed_on, "second_signed_by"),
    )
    return [(who, when, key) for who, when, key in named if who and when is not None]


def _difference(one: Difference) -> list[str]:
    return [one.frame_id, one.what, one.then, one.now]


def _signatures_wanted(review: Review, say: Words) -> list[str]:
    """Name the lines left for signing by hand: those that nobody has given yet."""
    row = next((one for one in review.signed if one.number == 1 and one.is_signed), None)
    second = review.second_signature and not (row and row.second_signed_by)
    return [*([] if row else [say("signature_review")]), *([say("signature_second")] if second else [])]
