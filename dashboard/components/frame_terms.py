"""Climate terms held against the frame's record over a chosen period: published sets, its own, or those of a loan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple
from urllib.parse import quote

import dash_mantine_components as dmc
import pandas as pd
from dash import dcc, html

from isohume.analysis import phrases
from isohume.analysis.readings import AirRecord
from isohume.analysis.terms import Air, ClimateTerms, find_terms, published_terms
from isohume.analysis.terms_judge import ClauseResult, judge_terms
from isohume.dashboard import ids
from isohume.dashboard.components.blocks import no_result, section, table
from isohume.dashboard.current import current_archive
from isohume.dashboard.formats import MISSING, date, moment, number, share
from isohume.dashboard.papers.terms_chosen import kept_terms
from isohume.dashboard.views import FrameView, Site

NAME = "Climate terms"
LEDE = (
    "The record held against agreed or published terms, clause by clause, with the worst case. Terms of a loan are "
    "worked on at the loan; light, shock and pollutants are not judged here."
)
AIRS: Mapping[str, str] = {"room": "the room", "inside": "the inside of the frame"}
PERIODS: Mapping[str, str] = {
    "365": "last 12 months",
    "90": "last 90 days",
    "30": "last 30 days",
    "all": "whole record",
}
CLAUSE_HEADINGS = ("clause", "result", "breached [h]", "beyond doubt [h]", "worst case", "unit", "worst at (UTC)",
                   "covered [0-1]", "uncertainty (k = 2)", "why")  # fmt: skip
Span = tuple[pd.Timestamp, pd.Timestamp]
# Means at the edges of a period reach beyond it by half a season's window.
EDGE = pd.Timedelta(days=31)


class Offered(NamedTuple):
    """A set of terms that can be chosen: its key, its name, and the loan it comes from."""

    key: str
    label: str
    loan: str = ""


def terms(view: FrameView, query: Mapping[str, str]) -> html.Section:
    """Build the section: what to hold the record to, over which period; the callback fills in the result."""
    offered, periods = offered_terms(view.facts.frame_id), offered_periods(view.facts.frame_id)
    keys = [one.key for one in offered]
    chosen = query.get("terms", "") if query.get("terms", "") in keys else keys[0]
    period = query.get("period", "") if query.get("period", "") in periods else next(iter(periods))
    air = query.get("air", "") if query.get("air", "") in AIRS else "inside"
    controls = [
        dmc.Select(
            id=ids.FRAME_TERMS, label="Terms", value=chosen, allowDeselect=False, searchable=True, className="wide",
            data=[{"value": one.key, "label": one.label} for one in offered],
        ),
        dmc.Select(
            id=ids.FRAME_TERMS_AIR, label="Air, where the terms do not say", value=air, allowDeselect=False,
            data=[{"value": value, "label": label} for value, label in AIRS.items()],
        ),
        dmc.Select(
            id=ids.FRAME_TERMS_PERIOD, label="Over", value=period, allowDeselect=False,
            data=[{"value": value, "label": label} for value, label in periods.items()],
        ),
    ]  # fmt: skip
    return section(
        "terms",
        NAME,
        html.Div(controls, className="term-controls"),
        html.Div(html.P("Judging …", className="reading"), id=ids.FRAME_TERMS_RESULT),
        dcc.Store(id=ids.FRAME_TERMS_ADDRESS),
        lede=LEDE,
    )


def offered_terms(frame_id: str) -> list[Offered]:
    """Return what the record can be held to: the frame's own terms and those of its loans first."""
    offered: list[Offered] = []
    archive = current_archive()
    if archive is not None:
        kept = {row["id"]: row["name"] or row["id"] for row in archive.records("terms")}
        frame = archive.record("frames", {"id": frame_id}) or {}
        if frame.get("terms"):
            own = str(frame["terms"])
            key = f"kept:{own}" if own in kept else f"published:{own}"
            offered.append(Offered(key, f"Agreed for this frame: {kept.get(own, own)}"))
        offered += [
            Offered(
                f"loan:{loan['id']}", f"Loan {loan['title'] or loan['id']}: {kept.get(loan['terms'], '')}", loan["id"]
            )
            for loan in loans_of(frame_id)
            if loan["terms"] in kept
        ]
        offered += [Offered(f"kept:{key}", name) for key, name in kept.items()]
    offered += [Offered(f"published:{one.name}", one.name) for one in published_terms()]
    return list({one.key: one for one in reversed(offered)}.values())[::-1]


def offered_periods(frame_id: str) -> dict[str, str]:
    """Return the periods to choose from: named ones, and the time of each loan."""
    spans = {f"loan:{loan['id']}": f"loan {loan['title'] or loan['id']}" for loan in loans_of(frame_id) if _span(loan)}
    return {**PERIODS, **spans}


def loans_of(frame_id: str) -> list[dict[str, Any]]:
    """Return the loans that a frame belongs to."""
    archive = current_archive()
    return [] if archive is None else [loan for loan in archive.records("loans") if frame_id in (loan["frames"] or [])]


def _span(loan: Mapping[str, Any]) -> tuple[pd.Timestamp, pd.Timestamp | None] | None:
    archive = current_archive()
    legs = [] if archive is None else [leg for leg in archive.records("legs") if leg["loan"] == loan["id"]]
    if not legs:
        return None
    ends = [pd.Timestamp(leg["to"]) if leg["to"] else None for leg in legs]
    last = None if None in ends else max(end for end in ends if end is not None)
    return min(pd.Timestamp(leg["from"]) for leg in legs), last


def chosen_terms(key: str, frame_id: str, *, air: Air) -> tuple[ClimateTerms, str] | None:
    """Return the terms of a key and the loan they come from, None for a key that is not offered."""
    kind, _, name = key.partition(":")
    archive, loan = current_archive(), ""
    if key not in {one.key for one in offered_terms(frame_id)}:
        return None
    if kind == "published":
        return find_terms(name, air=air), ""
    if kind == "loan":
        loan = name
        name = next(str(one["terms"]) for one in loans_of(frame_id) if one["id"] == loan)
    row = None if archive is None else archive.record("terms", {"id": name})
    return None if row is None else (kept_terms(row), loan)


def period_of(
    period: str, frame_id: str, inside: AirRecord | None, outside: AirRecord | None, now: pd.Timestamp
) -> Span | None:
    """Return the start and end of a chosen period, None where it lies outside the record or is none."""
    readings = [air.readings.index for air in (inside, outside) if air is not None and not air.readings.empty]
    if not readings:
        return None
    first, last = min(pd.Timestamp(index[0]) for index in readings), max(pd.Timestamp(index[-1]) for index in readings)
    if period.startswith("loan:"):
        spans = [_span(loan) for loan in loans_of(frame_id) if f"loan:{loan['id']}" == period]
        if not spans or spans[0] is None:
            return None
        start, end = spans[0][0], spans[0][1] or now
        end = min(end, now)
        return (start, end) if start < end else None
    return (first if period == "all" else max(first, last - pd.Timedelta(days=int(period)))), last


def judged(
    known: ClimateTerms, loan: str, results: Sequence[ClauseResult] | None, *, span: Span | None, site: Site
) -> list[Any]:
    """Say the result of terms, clause by clause; `results` is None where there is no record in the period."""
    head: list[Any] = [html.P([html.Strong(known.name), f" Source: {known.source}." if known.source else ""])]
    if known.status == "memory":
        head.append(
            html.P("Its figures stand here from memory: check them against the publication.", className="remark")
        )
    if loan:
        head.append(html.P(dcc.Link("Open the loan", href=f"/loan/{quote(loan, safe='')}")))
    if results is None or span is None:
        return [*head, no_result("There is no record in this period. Choose another, or add the missing files.")]
    start, end = span
    caption = (
        f"{date(start, site.time_zone)} to {date(end, site.time_zone)}; the uncertainty is expanded (k = 2); "
        "“met” needs 95 % of the period covered"
    )
    headings = ["Clause", "Result", "Breached", "Beyond doubt", "Worst case", "When", "Covered", "Uncertainty"]
    rows = [_row(result, site) for result in results]
    note = [html.P(known.note, className="remark")] if known.note else []
    return [*head, table(headings, rows, caption=caption), *note]


def results_of(
    known: ClimateTerms, *, inside: AirRecord | None, outside: AirRecord | None, span: Span | None
) -> tuple[ClauseResult, ...] | None:
    """Hold both airs to the terms over a period; None where there is no record in it."""
    if span is None:
        return None
    around = [_around(air, *span) for air in (inside, outside)]
    return judge_terms(known, inside=around[0], room=around[1], start=span[0], end=span[1])


def _row(result: ClauseResult, site: Site) -> list[Any]:
    unit = result.clause.unit
    words = [html.Span(result.clause.in_words(), className="long")]
    if result.why:
        words.append(html.Span(f" {result.why}", className="note long"))
    if result.clause.notice:
        words.append(html.Span(f" Notice: {result.clause.notice}", className="note long"))
    is_breached = result.verdict == "breached"
    return [
        html.Div(words, className="term-clause"),
        html.Strong(result.verdict, className=f"verdict-{result.verdict.split()[0]}"),
        phrases.hours(result.hours_breached) if is_breached else MISSING,
        phrases.hours(result.hours_beyond_doubt) if is_breached else MISSING,
        number(result.worst, 1, unit),
        moment(result.worst_utc, site.time_zone),
        share(result.coverage),
        f"±{number(result.uncertainty, 1, unit)}",
    ]


def _around(air: AirRecord | None, start: pd.Timestamp, end: pd.Timestamp) -> AirRecord | None:
    return None if air is None else replace(air, readings=air.readings.loc[start - EDGE : end + EDGE])


def clause_rows(results: Sequence[ClauseResult]) -> list[list[Any]]:
    """Return the result of each clause as plain values, for a spreadsheet under `CLAUSE_HEADINGS`."""
    return [
        [one.clause.in_words(), one.verdict, one.hours_breached, one.hours_beyond_doubt, one.worst, one.clause.unit,
         one.worst_utc, one.coverage, one.uncertainty, one.why]
        for one in results
    ]  # fmt: skip
