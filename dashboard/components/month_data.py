"""The frames of a month's review: what assets/month.js draws them from."""

from __future__ import annotations

from typing import Any

from isohume.analysis import phrases
from isohume.dashboard.components.frame_row import frame_address, title_and_support
from isohume.dashboard.components.glyphs import URGENCY, data_uri_of, standing_uri, standing_words
from isohume.dashboard.components.picture import drawing_uri, in_words
from isohume.dashboard.formats import MISSING, band, count, date, due, number, share, signed
from isohume.dashboard.papers.review import Review
from isohume.dashboard.papers.review_air import AirInReview
from isohume.dashboard.papers.review_frame import Decision, EventInReview, FrameInReview, Stood
from isohume.dashboard.papers.review_month import MONTH_NAMES, month_in_words
from isohume.dashboard.papers.review_paper import decision_in_words, stood_in_words

HEADINGS = ("", "Inside mean %RH", "lowest–highest", "Outside band", "Covered", "Room mean %RH", "As reviewed")
# Below this a month's mean says little about the month; the same share makes a whole record "too little".
LITTLE_COVERED = 0.7


def month_document(review: Review, *, writes: bool) -> dict[str, Any]:
    """Return the groups, and everything the page says of every frame.

    Parameters
    ----------
    review : Review
    writes : bool
        Whether decisions may be noted.
    """
    # A column only where there is something in it.
    n = len(HEADINGS) - (not any(month.stood for one in review.frames for month in one.earlier))
    frames = [frame_document(one, review) for one in review.frames]
    return {
        "month": review.month,
        "writes": writes,
        "headings": HEADINGS[:n],
        "groups": groups(review, writes=writes),
        "frames": [{**frame, "rows": [row[:n] for row in frame["rows"]]} for frame in frames],
        "files": [_file(one, review.time_zone) for one in review.files],
        "file_headings": (
            "File", "Logger", "Received", "Readings", "Rows", "kept", "flagged", "duplicate", "contradicting",
            "rejected",
        ),
    }  # fmt: skip


def groups(review: Review, *, writes: bool) -> list[dict[str, str]]:
    """Return the groups of frames in their order, each with one line that says what it is."""
    together = "Signed together with the review; a note is needed only where there is something to say."
    decision = {"key": "decision", "title": "Needs a decision", "lede": "The frame or its record asks for somebody."}
    if not review.compared_with:
        calm = {"key": "calm", "title": "Nothing to decide", "lede": together if writes else "No rule asks for hands."}
        return [decision, calm]
    before = month_in_words(review.compared_with)
    return [
        decision,
        {"key": "changed", "title": "Changed", "lede": f"Nothing to decide, but not as in the review of {before}."},
        {"key": "calm", "title": "Unchanged", "lede": f"As in the review of {before}. {together if writes else ''}"},
    ]


def group_of(one: FrameInReview) -> str:
    """Return the group a frame is listed in."""
    if one.summary.needs_decision:
        return "decision"
    return "changed" if one.changed else "calm"


def frame_document(one: FrameInReview, review: Review) -> dict[str, Any]:
    """Return everything the page says of one frame."""
    found, zone = one.summary, review.time_zone
    title, support = title_and_support(found.painting)
    return {
        "id": found.frame_id,
        "address": frame_address(found.frame_id),
        "group": group_of(one),
        "tier": URGENCY[found.standing.name],
        "sign": standing_uri(found.standing.name, found.standing.direction),
        "standing": standing_words(found.standing),
        "due": due(found.standing.by, review.as_of, zone),
        "was": change_in_words(one, review),
        "title": title,
        "support": support,
        "place": f"{found.room or 'no room given'} · {band(found.band)}",
        "reasons": [reason.text for reason in found.standing.reasons],
        "next_step": found.standing.next_step or "",
        "record": found.data.name,
        "record_sign": data_uri_of(found.data.name),
        "doubts": [] if found.data.name == "sound" else [reason.text for reason in found.data.reasons],
        "picture": drawing_uri(found.picture, band=found.band, estimated=found.estimated),
        "picture_words": in_words(found.picture, zone=zone, estimated=found.estimated),
        "estimated": found.estimated,
        "rows": rows(one, review),
        "outlook": outlook(one, review),
        "events": [event_in_words(event, zone) for event in one.events],
        "decided_before": ""
        if one.decided_before is None
        else f"Decided in {month_in_words(review.compared_with)}: {decision_in_words(one.decided_before)}",
        "decision": (one.decision or Decision(text="")).document(),
        "told": f"{found.frame_id} {found.painting} {found.room} {found.standing.name} {found.data.name}".lower(),
    }


def change_in_words(one: FrameInReview, review: Review) -> str:
    """Say what was, where it was otherwise: "was steady, record stale"."""
    if not one.changed or one.before is None:
        return ""
    was = stood_in_words(one.before, now=Stood.of(one.summary), joined=", ")
    return f"was {was} in {month_in_words(review.compared_with)}"


def rows(one: FrameInReview, review: Review) -> list[list[str]]:
    """Return the month's figures and those of the earlier months, line by line under HEADINGS."""
    mean = None if one.inside is None else one.inside.mean
    own = [short_month(review.month), *_air(one.air), ""]
    return [
        own,
        *(
            [
                short_month(month.month),
                *_air(month.air, beside=mean),
                MISSING if month.stood is None else stood_in_words(month.stood, joined=", "),
            ]
            for month in one.earlier
        ),
    ]


def short_month(month: str) -> str:
    """Write "2026-10" as "Oct 2026"."""
    return f"{MONTH_NAMES[int(month[5:]) - 1][:3]} {month[:4]}"


def _air(air: AirInReview, *, beside: float | None = None) -> list[str]:
    """Write one month's air; with how far the present month's mean lies from it."""
    inside, room = air.inside, air.room
    mean = number(None if inside is None else inside.mean, 1)
    if beside is not None and inside is not None and inside.mean is not None:
        mean = f"{mean} (now {signed(beside - inside.mean, 1)})"
    span = MISSING if inside is None else f"{number(inside.lowest, 1)}–{number(inside.highest, 1)}"
    hours = MISSING if air.hours_outside is None else f"{count(round(air.hours_outside))} h"
    if air.hours_outside is not None and 0 < air.hours_outside < 1:
        hours = "under 1 h"
    covered = share(None if inside is None else inside.coverage)
    if inside is not None and inside.coverage < LITTLE_COVERED:
        covered = f"only {covered}"
    return [mean, span, hours, covered, number(None if room is None else room.mean, 1)]


def outlook(one: FrameInReview, review: Review) -> str:
    """Say the half-time with that of the earlier reviews, and when the frame may leave its band."""
    parts = []
    if one.half_time_days is not None:
        earlier = [
            f"{phrases.days(month.half_time_days)} as reviewed in {month_in_words(month.month)}"
            for month in one.earlier
            if month.half_time_days is not None
        ]
        beside = f" ({'; '.join(earlier)})" if earlier else ""
        parts.append(f"Half-time {phrases.days(one.half_time_days)}{beside}")
    if one.leave_from is not None and one.leave_from < review.as_of:
        parts.append("outside its band at the end of the period (mean of its last 7 days)")
    elif one.leave_from is not None:
        parts.append(f"may leave its band from {date(one.leave_from, review.time_zone)} (one course in ten)")
    text = "; ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def event_in_words(event: EventInReview, zone: str) -> str:
    """Write what hands did: date, what, figures, by whom, note."""
    return f"{date(event.time_utc, zone)}: {event_without_date(event)}"


def event_without_date(event: EventInReview) -> str:
    """Write what hands did, without the date."""
    figures = (
        *(f"{value:g} {unit}" for value, unit in ((event.rh_percent, "%RH"), (event.water_g, "g water"))
          if value is not None),
        *(f"{value:g} {unit}" for value, unit in ((event.board_kg, "kg board"), (event.warp_mm, "mm"))
          if value is not None),
    )  # fmt: skip
    return ", ".join(part for part in (event.kind, *figures, event.note) if part)


def _file(one: Any, zone: str) -> list[str]:
    counts = (one.in_file, one.kept, one.flagged, one.duplicate, one.conflicting, one.rejected)
    span = f"{date(one.first_utc, zone)} – {date(one.last_utc, zone)}"
    return [one.file, one.logger, date(one.received_utc, zone), span, *(count(n) for n in counts)]
