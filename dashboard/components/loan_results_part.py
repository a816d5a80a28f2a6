"""The results of a loan: clause by clause for each frame, with the worst case and a picture of the record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go
from dash import dcc, html

from isohume.analysis.terms_judge import ClauseResult
from isohume.dashboard import formats, loan_results
from isohume.dashboard.background import Progress
from isohume.dashboard.components.blocks import graph, no_result, section
from isohume.dashboard.components.frame_exports import export_links
from isohume.dashboard.components.frame_row import frame_address, painting_words
from isohume.dashboard.components.loan_asked import (
    asked_form,
    period_fields,
    period_links,
    period_text,
    terms_choice,
    work_of,
)
from isohume.dashboard.figures.clause_limits import clause_limits_figure
from isohume.dashboard.loan_record import AskedError, LoanView, period_of
from isohume.dashboard.loan_results import FrameResults, LoanResults
from isohume.dashboard.loan_routes import LOAN_TABLES
from isohume.dashboard.papers.evidence_findings import SOURCES, clause_row
from isohume.dashboard.papers.words import words
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

PART = "results"
ASKED = ("from", "to", "terms", "air")
SIGNS = {"breached": "breached", "met": "met", "no breach in what is covered": "partly", "cannot say": "cannot"}
LEDE = (
    "The record held to the terms, clause by clause: the same figures a pack would state. Hours are time outside the "
    "limit; beyond doubt means farther outside than the loggers’ uncertainty."
)


@dataclass(frozen=True, slots=True)
class DrawnResults:
    """Results with their pictures; the readings themselves are let go."""

    results: LoanResults
    figures: tuple[go.Figure | None, ...]


def results(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> list[Any]:
    """Build the part: what is asked, then the results or how far they are."""
    try:
        period = period_of(loan, asked, now=site.now, zone=site.time_zone)
    except AskedError as error:
        return [_form(archive, loan, asked, site), no_result(str(error), lead="No such period.")]
    if not loan.frames:
        return [no_result("No frame is on this loan yet. Choose them under Record.", lead="Nothing to judge.")]
    query = {name: asked[name] for name in ASKED if asked.get(name)}

    def work(progress: Progress) -> DrawnResults:
        return _drawn(loan_results.results_of(archive, loan, query, site, progress), site.time_zone)

    title = f"Results of {loan.title}"
    done, shown = work_of(archive, "results", loan, query, title=title, work=work)
    if done is None:
        return [_form(archive, loan, asked, site), shown]
    frames = [_frame(one, figure, site) for one, figure in zip(done.results.frames, done.figures, strict=True)]
    links = export_links(f"{LOAN_TABLES}/results", f"Results of loan {loan.loan_id}", loan=loan.loan_id, **query)
    head = html.P(f"{period_text(*period, zone=site.time_zone)}. Times are those of the site ({site.time_zone}).")
    return [_form(archive, loan, asked, site), html.Div([head, links], className="loan-results-head"), *frames]


def _drawn(found: LoanResults, zone: str) -> DrawnResults:
    figures = []
    for one in found.frames:
        judged = [result for terms in one.terms for result in terms.results]
        has_record = one.inside is not None or one.room is not None
        figures.append(
            clause_limits_figure(one.inside, one.room, judged, start=found.start, end=found.end, zone=zone)
            if has_record
            else None
        )
    frames = tuple(loan_results.without_readings(one) for one in found.frames)
    return DrawnResults(LoanResults(start=found.start, end=found.end, frames=frames), tuple(figures))


def _form(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> html.Div:
    fields = [*period_fields(PART, loan, asked, site), *terms_choice(PART, archive, loan, asked)]
    return asked_form(PART, fields, submit="Show", more=period_links(loan, PART, site))


def _frame(found: FrameResults, figure: go.Figure | None, site: Site) -> html.Section:
    title = html.H3(
        [dcc.Link([html.Span(found.frame_id, className="frame-id"), " ", *painting_words(found.painting)],
                  href=frame_address(found.frame_id))]
    )  # fmt: skip
    if found.why and not found.terms:
        return html.Section([title, no_result(found.why, lead="Cannot say.")], className="loan-frame")
    parts: list[Any] = [title]
    if not found.has_inside:
        parts.append(
            no_result(
                "No logger measured inside this frame in the period. Clauses about the air inside cannot be judged; "
                "an estimate from strips and the room is not evidence.",
                lead="Inside not measured.",
            )
        )
    if found.why:
        parts.append(no_result(found.why, lead="Cannot say."))
    if found.doubts:
        parts.append(no_result(" ".join(found.doubts), lead="Look at the record first."))
    if figure is not None:
        described = f"Relative humidity of frame {found.frame_id} and its room with the limits of the clauses."
        parts.append(graph(figure, description=described))
    say = words("evidence")
    for judged in found.terms:
        source = say(SOURCES[judged.terms.status], source=(judged.terms.source or formats.MISSING).rstrip("."))
        parts.append(
            html.Div(
                [
                    html.H4(judged.terms.name),
                    clause_list(judged.results, site),
                    html.P([source, f" {judged.terms.note}" if judged.terms.note else ""], className="remark"),
                ],
                className="loan-terms-result",
            )
        )
    return html.Section(parts, className="loan-frame")


def clause_list(results: Sequence[ClauseResult], site: Site) -> html.Ol:
    """Set results one under the other."""
    return html.Ol([_clause(one, site) for one in results], className="clauses")


def _clause(result: ClauseResult, site: Site) -> html.Li:
    """Set one clause: its sign and verdict, what it says, its figures."""
    row = clause_row(result, site.time_zone, words("evidence"))
    figures = [("Time outside", row["outside"])] if result.verdict == "breached" else []
    if result.worst is not None:
        figures.append(("Worst case", row["worst"]))
    if result.verdict != "cannot say":
        figures.append(("Covered", row["covered"]))
    told = [html.P(row["notice"], className="notice-agreed")] if row["notice"] else []
    return html.Li(
        [
            html.P(
                [html.Span(className=f"verdict-sign {SIGNS[result.verdict]}"), html.Strong(verdict_words(result))],
                className="clause-verdict",
            ),
            html.Div(
                [
                    html.P(row["clause"]),
                    *([html.P(f"{result.why[:1].upper()}{result.why[1:]}", className="remark")] if result.why else []),
                    html.Dl([html.Div([html.Dt(name), html.Dd(text)]) for name, text in figures], className="figures"),
                    *told,
                ],
                className="clause-told",
            ),
        ],
        className=f"clause {SIGNS[result.verdict]}",
    )


def verdict_words(result: ClauseResult) -> str:
    """Say the verdict in a few words."""
    if result.verdict == "breached":
        return "Breached beyond doubt" if result.beyond_doubt else "Breached as read, within the uncertainty"
    if result.verdict == "met":
        return "Met"
    if result.verdict == "cannot say":
        return "Cannot say"
    return f"No breach in the {formats.share(result.coverage)} covered"


def part(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> html.Section:
    """Build the part under its heading."""
    return section("results", "Results", *results(archive, loan, asked, site), lede=LEDE)
