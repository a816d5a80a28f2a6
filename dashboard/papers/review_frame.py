"""One frame in a review: its figures, those of two earlier months, what changed, what hands did, what was decided."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import pandas as pd

from isohume.analysis.results import DataName, StandingName
from isohume.dashboard.papers.review_air import AirInReview, MonthOfAir
from isohume.dashboard.summaries import from_document, to_document
from isohume.dashboard.views import FrameSummary


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """How a frame stood at some moment; two are equal when nothing changed between them."""

    standing: StandingName
    direction: str | None
    data: DataName

    @classmethod
    def of(cls, summary: FrameSummary) -> Stood:
        """Return how a frame in the list of frames stands."""
        return cls(standing=summary.standing.name, direction=summary.standing.direction, data=summary.data.name)

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> Stood:
        """Return what was kept with a signature."""
        return cls(standing=document["standing"], direction=document["direction"], data=document["data"])


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierMonth:
    """The same frame in an earlier month.

    Attributes
    ----------
    month : str
        "2026-09".
    air : AirInReview
        Its hours outside are those outside the band agreed now.
    stood : Stood or None
        As reviewed then; None where that month was never reviewed.
    half_time_days : float or None
        From the findings of that review.
    """

    month: str
    air: AirInReview
    stood: Stood | None = None
    half_time_days: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EventInReview:
    """What hands did to the frame within the month."""

    time_utc: pd.Timestamp
    kind: str
    by: str
    note: str
    rh_percent: float | None
    water_g: float | None
    board_kg: float | None
    warp_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """What was decided for a frame; texts as people typed them.

    Attributes
    ----------
    text : str
    who : str
        Who is to do it, "" for nobody.
    by_date : str
        ISO date until when, "" for none.
    noted_by : str
        Who wrote it down.
    """

    text: str
    who: str = ""
    by_date: str = ""
    noted_by: str = ""

    @classmethod
    def from_document(cls, written: Any) -> Decision:
        """Return what was kept: a table, or a bare text."""
        if not isinstance(written, Mapping):
            return cls(text=str(written))
        return cls(**{name: str(written.get(name, "")) for name in ("text", "who", "by_date", "noted_by")})

    def document(self) -> dict[str, str]:
        """Return it as values that JSON can hold."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameInReview:
    """One frame in a review.

    Attributes
    ----------
    summary : FrameSummary
        As the list of frames shows it, at the review's moment.
    air : AirInReview
        Of the month.
    half_time_days, leave_from : float, Timestamp or None
        From the findings at the review's moment.
    earlier : tuple of EarlierMonth
        The month before, and the same month of the year before.
    events : tuple of EventInReview
        Of the month.
    before : Stood or None
        In the review before; None where there is none.
    decision, decided_before : Decision or None
        In this review, and in the review before.
    """

    summary: FrameSummary
    air: AirInReview
    half_time_days: float | None
    leave_from: pd.Timestamp | None
    earlier: tuple[EarlierMonth, ...]
    events: tuple[EventInReview, ...]
    before: Stood | None = None
    decision: Decision | None = None
    decided_before: Decision | None = None

    @property
    def inside(self) -> MonthOfAir | None:
        """The inside in the month; None without a usable reading."""
        return self.air.inside

    @property
    def room(self) -> MonthOfAir | None:
        """The room in the month; None without a usable reading."""
        return self.air.room

    @property
    def hours_outside(self) -> float | None:
        """Hours of the month outside the band [h]; None without a band or an inside record."""
        return self.air.hours_outside

    @property
    def changed(self) -> bool | None:
        """Whether standing or record are others than in the review before; None where there is none."""
        return None if self.before is None else self.before != Stood.of(self.summary)

    def document(self) -> dict[str, Any]:
        """Return everything a page or paper says of the frame, as values that JSON can hold."""
        return {
            **asdict(Stood.of(self.summary)),
            "needs_decision": self.summary.needs_decision,
            "summary": to_document(self.summary),
            "air": self.air.document(),
            "half_time_days": self.half_time_days,
            "leave_from": None if self.leave_from is None else self.leave_from.isoformat(),
            "earlier": [
                {"month": one.month, "air": one.air.document(), "half_time_days": one.half_time_days,
                 "stood": None if one.stood is None else asdict(one.stood)}
                for one in self.earlier
            ],
            "events": [{**asdict(one), "time_utc": one.time_utc.isoformat()} for one in self.events],
            "before": None if self.before is None else asdict(self.before),
            "decided_before": None if self.decided_before is None else self.decided_before.document(),
        }  # fmt: skip

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> FrameInReview:
        """Return the frame as it was kept; what was decided is kept beside the figures."""
        found, leave, before = from_document(document["summary"]), document["leave_from"], document["before"]
        decided = document["decided_before"]
        return cls(
            summary=replace(found, needs_decision=document["needs_decision"]),
            air=AirInReview.from_document(document["air"]),
            half_time_days=document["half_time_days"],
            leave_from=None if leave is None else pd.Timestamp(leave),
            earlier=tuple(_earlier(one) for one in document["earlier"]),
            events=tuple(
                EventInReview(**{**one, "time_utc": pd.Timestamp(one["time_utc"])}) for one in document["events"]
            ),
            before=None if before is None else Stood.from_document(before),
            decided_before=None if decided is None else Decision.from_document(decided),
        )


def _earlier(document: Mapping[str, Any]) -> EarlierMonth:
    stood = document["stood"]
    return EarlierMonth(
        month=document["month"],
        air=AirInReview.from_document(document["air"]),
        stood=None if stood is None else Stood.from_document(stood),
        half_time_days=document["half_time_days"],
    )
