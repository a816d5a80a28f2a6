"""What a signed review says otherwise than the present record: per frame, then and now, as a reader would see it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from isohume.analysis import phrases
from isohume.dashboard import formats
from isohume.dashboard.papers.review import Review, signed_review
from isohume.dashboard.papers.review_air import MonthOfAir
from isohume.dashboard.papers.review_frame import FrameInReview
from isohume.dashboard.papers.review_rows import written
from isohume.ingest.archive.archive import Archive

NOTHING = "–"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One figure of one frame that reads otherwise.

    Attributes
    ----------
    frame_id : str
    what : str
        The figure's name with its unit.
    then, now : str
        As signed, and as the present record has it.
    """

    frame_id: str
    what: str
    then: str
    now: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Amendment:
    """What an addendum changed against what was signed before it."""

    number: int  # of its record: 2 is the first addendum
    differences: tuple[Difference, ...]


def amendments(archive: Archive, month: str) -> tuple[Amendment, ...]:
    """Return what the signed addenda of a month changed, in their order."""
    with archive.register.reading() as session:
        numbers = [row.number for row in written(session, month) if row.is_signed]
    signed = [signed_review(archive, month, number) for number in numbers]
    return tuple(
        Amendment(number=later.number, differences=differences(earlier, later))
        for earlier, later in pairwise(signed)
        if earlier is not None and later is not None
    )


def differences(signed: Review, present: Review) -> tuple[Difference, ...]:
    """List what reads otherwise, by frame; figures that round to the same count as the same."""
    then = {one.summary.frame_id: one for one in signed.frames}
    now = {one.summary.frame_id: one for one in present.frames}
    found: list[Difference] = []
    for frame_id in sorted(then.keys() | now.keys()):
        if frame_id not in then:
            if not now[frame_id].inside and not now[frame_id].events:
                continue  # registered since, and nothing of it is of that month
            found.append(
                Difference(frame_id=frame_id, what="frame", then="not in the register", now="in the register")
            )
        elif frame_id not in now:
            found.append(Difference(frame_id=frame_id, what="frame", then="reviewed", now="not in the register"))
        else:
            zone = signed.time_zone
            pairs = zip(shown(then[frame_id], zone), shown(now[frame_id], zone), strict=True)
            found += [
                Difference(frame_id=frame_id, what=what, then=was, now=is_)
                for (what, was), (_what, is_) in pairs
                if was != is_
            ]
    return tuple(found)


def shown(one: FrameInReview, zone: str) -> Iterator[tuple[str, str]]:
    """Name every figure of a frame's month with what a reader sees of it; earlier months are no part of it."""
    found = one.summary
    yield "standing", _named(found.standing.name, found.standing.direction)
    yield "record", found.data.name
    yield "band", formats.band(found.band)
    for side, air in (("inside", one.inside), ("room", one.room)):
        yield from _air(side, air)
    yield "hours outside band", NOTHING if one.hours_outside is None else phrases.hours(one.hours_outside)
    yield "half-time", NOTHING if one.half_time_days is None else phrases.days(one.half_time_days)
    yield "may leave its band from", NOTHING if one.leave_from is None else formats.date(one.leave_from, zone)
    events = [f"{formats.date(event.time_utc, zone)} {event.kind}" for event in one.events]
    yield "events of the month", "; ".join(events) or "none"


def _air(side: str, air: MonthOfAir | None) -> Iterator[tuple[str, str]]:
    yield f"{side}, mean", formats.number(getattr(air, "mean", None), 1, "%RH")
    yield f"{side}, lowest", formats.number(getattr(air, "lowest", None), 1, "%RH")
    yield f"{side}, highest", formats.number(getattr(air, "highest", None), 1, "%RH")
    yield f"{side}, covered", formats.share(None if air is None else air.coverage)


def _named(name: str, direction: str | None) -> str:
    return f"{name}, {direction}" if direction else name
