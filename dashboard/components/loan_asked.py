"""What is asked of a part of the Loan page: a form whose answers stand in the address, and the work that follows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar, cast

import dash_mantine_components as dmc
import pandas as pd
from dash import html

from isohume.analysis.terms import published_terms
from isohume.dashboard import formats
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.blocks import aria, no_result
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.current import background
from isohume.dashboard.loan_record import (
    AskedError,
    LoanView,
    day_text,
    loan_address,
    period_of,
    state_of,
    usual_period,
)
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

T = TypeVar("T")

AIRS = (("room", "in the room"), ("inside", "inside the frame"))
A_DATE = "2026-03-01"
AGREED = "agreed"  # the terms of the loan, which its address need not name


@dataclass(frozen=True, slots=True)
class Refused:
    """What was asked has no answer; nothing failed."""

    why: str


def field_id(part: str, name: str) -> dict[str, str]:
    """Name a control whose answer stands in the address."""
    return {"type": "loan-asked", "part": part, "name": name}


def text_field(part: str, name: str, label: str, value: str, *, placeholder: str = "") -> Any:
    """Draw a control for a short text."""
    return dmc.TextInput(
        id=field_id(part, name), label=label, value=value, placeholder=placeholder, autoComplete="off"
    )  # fmt: skip


def choice(part: str, name: str, label: str, data: Sequence[Any], value: str | None, **more: Any) -> Any:
    """Draw a control with choices; data as Mantine takes them."""
    return dmc.Select(
        id=field_id(part, name), label=label, data=list(data), value=value, nothingFoundMessage="Nothing of that name",
        **more,
    )  # fmt: skip


def asked_form(part: str, fields: Sequence[Any], *, submit: str, more: Any = None) -> html.Div:
    """Draw the form of a part."""
    button = dmc.Button(submit, id={"type": "loan-show", "part": part}, size="sm")
    return html.Div(
        [html.Div([*fields, button], className="asked-fields"), more],
        className="loan-asked",
        role="group",
        **aria(label="What to show"),
    )


def period_fields(part: str, loan: LoanView, asked: Mapping[str, str], site: Site) -> list[Any]:
    """Draw the two ends of a period, in the site's zone."""
    zone = site.time_zone
    try:
        start, end = period_of(loan, asked, now=site.now, zone=zone)
        shown = day_text(start, zone), day_text(end, zone, is_end=True)
    except AskedError:
        shown = asked.get("from", ""), asked.get("to", "")
    return [
        text_field(part, "from", "From", shown[0], placeholder=A_DATE),
        text_field(part, "to", "To, that day included", shown[1], placeholder=A_DATE),
    ]


def period_text(start: pd.Timestamp, end: pd.Timestamp, *, zone: str) -> str:
    """Write a period: 3 Nov 2026 to 5 Nov 2026, whole days where it has them."""
    first, last = formats.moment(start, zone), formats.moment(end, zone)
    if first.endswith("00:00") and last.endswith("00:00"):
        return f"{formats.date(start, zone)} to {formats.date(end - pd.Timedelta(seconds=1), zone)}, whole days"
    return f"{first} to {last}"


def period_links(loan: LoanView, part: str, site: Site) -> Any:
    """Offer the periods that a loan has by itself: all of it, and each leg as far as it has passed."""
    zone = site.time_zone
    start, end = usual_period(loan, site.now)
    whole = "whole loan so far" if loan.span and loan.span[0] < site.now else "last year"
    offered = [(whole, start, end)]
    offered += [
        (leg.in_words(zone), leg.start, min(leg.end or site.now, site.now))
        for leg in loan.legs
        if leg.start < site.now and len(loan.legs) > 1
    ]
    links = [
        html.A(
            name,
            href=loan_address(
                loan.loan_id, part, **{"from": day_text(first, zone), "to": day_text(last, zone, is_end=True)}
            ),
        )
        for name, first, last in offered
    ]
    return html.P(["Periods: ", *[part for link in links for part in (link, " · ")][:-1]], className="period-links")


def terms_choice(part: str, archive: Archive, loan: LoanView, asked: Mapping[str, str]) -> list[Any]:
    """Draw the choice of climate terms, those of the loan in front."""
    own = loan.facts["terms"]
    kept = [{"value": row["id"], "label": row["name"] or row["id"]} for row in archive.records("terms")]
    agreed = "agreed for the loan" if own else "agreed for each frame"
    published = [{"value": one.name, "label": one.name} for one in published_terms()]
    data: list[Any] = [{"group": "Agreed", "items": [{"value": AGREED, "label": f"Those {agreed}"}]}]
    if kept:
        data.append({"group": "Of the register", "items": kept})
    data.append({"group": "Published", "items": published})
    return [
        choice(part, "terms", "Climate terms", data, asked.get("terms") or AGREED, searchable=True,
               allowDeselect=False),
        choice(part, "air", "Published terms speak of the air", [{"value": v, "label": w} for v, w in AIRS],
               asked.get("air") if asked.get("air") in dict(AIRS) else "room", allowDeselect=False),
    ]  # fmt: skip


def work_of(
    archive: Archive,
    what: str,
    loan: LoanView,
    query: Mapping[str, str],
    *,
    title: str,
    work: Callable[[Progress], T],
    stamp: str = "",
) -> tuple[T | None, Any]:
    """Return what long work has found; or None and what to show instead: how far it is, or why it failed.

    The same question about the same state of the archive, and of what `stamp` tells, is worked on once.
    """

    def answered(progress: Progress) -> T | Refused:
        try:
            return work(progress)
        except AskedError as error:
            return Refused(str(error))

    key = f"loan {what} {loan.loan_id} {sorted(query.items())} {state_of(archive)} {stamp}"
    task = background().task(key)
    if task is None:
        task = background().start(key, title, answered, by=person().name)
    if isinstance(task.result, Refused):
        return None, no_result(task.result.why, lead="Cannot say.")
    if task.state == "done":
        return cast("T", task.result), None
    if task.state == "failed":
        button = dmc.Button("Try again", id={"type": "loan-again", "key": key}, variant="default", size="xs")
        return None, html.Div([no_result(task.told, lead="Not done."), button], className="loan-failed")
    return None, long_work(task)
