"""The monthly review as tables for a spreadsheet."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from isohume.dashboard.exports import Cell
from isohume.dashboard.papers.review import Review
from isohume.dashboard.papers.review_differences import Amendment, Difference
from isohume.dashboard.papers.review_frame import EarlierMonth
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.papers.review_paper import decision_in_words, stood_in_words

Sheet = tuple[list[str], list[list[Cell]]]


def review_tables(
    review: Review, amendments: Sequence[Amendment] = (), since: Sequence[Difference] = ()
) -> dict[str, Sheet]:
    """Return the review's tables for a spreadsheet; times in UTC.

    Parameters
    ----------
    review : Review
    amendments : sequence of Amendment
        What the signed addenda changed.
    since : sequence of Difference
        What the present record gives otherwise.

    Returns
    -------
    dict of name to (headings, rows)
        frames, due, decisions, done, files; addenda and "since signed" where there are any.
    """
    frames: list[list[Cell]] = [
        [
            one.summary.frame_id, one.summary.painting, one.summary.room, one.summary.standing.name,
            one.summary.standing.direction, one.summary.standing.by, one.summary.data.name, one.changed,
            None if one.before is None else stood_in_words(one.before),
            *(_rounded(getattr(one.inside, name, None)) for name in ("mean", "lowest", "highest")),
            _rounded(None if one.inside is None else 100 * one.inside.coverage), _rounded(one.hours_outside),
            _rounded(getattr(one.room, "mean", None)), _rounded(one.half_time_days), one.leave_from,
            *(cell for month in one.earlier for cell in _earlier(month)),
            "" if one.decision is None else decision_in_words(one.decision),
            " ".join(reason.text for reason in one.summary.standing.reasons),
        ]
        for one in review.frames
    ]  # fmt: skip
    heads = [
        "frame", "painting", "room", "standing", "direction", "by (UTC)", "record", "changed", "before",
        "inside mean %RH", "inside lowest %RH", "inside highest %RH", "inside covered %", "hours outside band",
        "room mean %RH", "half-time days", "may leave from (UTC)", *_earlier_heads(review), "decision", "reasons",
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
        "decisions": (["frame", "decision", "who", "until", "noted by"], _decisions(review)),
        "done": (
            ["frame", "time (UTC)", "event", "%RH", "water g", "board kg", "warp mm", "by", "note"],
            _done(review),
        ),
        "files": (file_heads, files),
        **({"addenda": (["addendum", *_DIFFERENCE], _addenda(amendments))} if amendments else {}),
        **({"since signed": (_DIFFERENCE, [_difference(one) for one in since])} if since else {}),
    }


_DIFFERENCE = ["frame", "figure", "as signed", "now"]


def _decisions(review: Review) -> list[list[Cell]]:
    noted = [(one.summary.frame_id, one.decision) for one in review.frames if one.decision is not None]
    return [[frame_id, one.text, one.who, one.by_date, one.noted_by] for frame_id, one in sorted(noted)]


def _done(review: Review) -> list[list[Cell]]:
    return [
        [one.summary.frame_id, event.time_utc, event.kind, event.rh_percent, event.water_g, event.board_kg,
         event.warp_mm, event.by, event.note]
        for one in review.frames
        for event in one.events
    ]  # fmt: skip


def _addenda(amendments: Sequence[Amendment]) -> list[list[Cell]]:
    return [[one.number - 1, *_difference(found)] for one in amendments for found in one.differences]


def _difference(one: Difference) -> list[Cell]:
    return [one.frame_id, one.what, one.then, one.now]


def _earlier_heads(review: Review) -> list[str]:
    months = [month.month for month in review.frames[0].earlier] if review.frames else []
    names = ("inside mean %RH", "inside covered %", "hours outside band", "room mean %RH", "as reviewed")
    return [f"{month_in_words(month)}: {name}" for month in months for name in names]


def _earlier(month: EarlierMonth) -> list[Cell]:
    air = month.air
    return [
        _rounded(getattr(air.inside, "mean", None)),
        _rounded(None if air.inside is None else 100 * air.inside.coverage),
        _rounded(air.hours_outside),
        _rounded(getattr(air.room, "mean", None)),
        None if month.stood is None else stood_in_words(month.stood),
    ]


def _rounded(value: float | None) -> float | None:
    """Return a figure as people read it in a table: to the tenth."""
    return None if value is None else round(value, 1)
