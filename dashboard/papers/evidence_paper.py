"""The evidence paper as plain texts for its template: every section, in the order in which it is set."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.frame import Event
from isohume.analysis.readings import RH, TEMPERATURE
from isohume.analysis.terms import Clause
from isohume.dashboard import formats
from isohume.dashboard.papers import charts
from isohume.dashboard.papers.computed import Computed
from isohume.dashboard.papers.evidence import Evidence
from isohume.dashboard.papers.evidence_findings import (
    buffering_rows,
    cannot_say,
    excursions,
    in_brief,
    terms_parts,
)
from isohume.dashboard.papers.evidence_measured import coverage_parts, measured
from isohume.dashboard.papers.typeset import pdf
from isohume.dashboard.papers.words import Words, words


def evidence_pdf(
    evidence: Evidence, computed: Computed, *, document_id: str, readings_sha256: str, fingerprint: str
) -> bytes:
    """Set the paper.

    Parameters
    ----------
    evidence, computed : Evidence, Computed
        What the pack holds, and the figures that follow from it.
    document_id : str
        On every page.
    readings_sha256 : str
        Of readings.csv; on every page.
    fingerprint : str
        Of the signing key.
    """
    data = paper(evidence, computed, document_id=document_id, readings_sha256=readings_sha256, fingerprint=fingerprint)
    return pdf("evidence", data, dated=evidence.end, portable=True)


def paper(
    evidence: Evidence, computed: Computed, *, document_id: str, readings_sha256: str, fingerprint: str
) -> dict[str, Any]:
    """Return everything the template sets."""
    say = words("evidence")
    zone = evidence.time_zone
    facts, known = computed.frame, evidence.parameters
    labels = say.labels()
    start, end = (formats.moment(edge, zone) for edge in (evidence.start, evidence.end))
    terms = [judged.terms.name for judged in computed.terms]
    given = [labels["terms_row"], "; ".join(terms) or say("no_terms" if facts.band else "no_terms_no_band")]
    return {
        "language": say.language,
        "paper": known["paper"],
        "labels": labels,
        "title": say("title"),
        "painting": facts.painting or facts.frame_id,
        "frame_id": facts.frame_id,
        "issuer": known["collection"]["name"],
        "document_id": document_id,
        "readings_sha256": readings_sha256,
        "invented": say("invented") if known["collection"]["invented"] else "",
        "facts": [
            [labels["frame"], facts.frame_id],
            [labels["collection"], known["collection"]["name"] or formats.MISSING],
            [labels["period"], say("period", start=start, end=end)],
            given,
            *([[say("band_name"), phrases.band(facts.band)]] if facts.band else []),
            [labels["document"], document_id],
            [labels["made_with"], f"isohume {known['isohume_version']}"],
        ],
        "times": say("times", zone=zone),
        "brief": in_brief(computed, say),
        "measured": measured(evidence, computed, say),
        "coverage": coverage_parts(computed, say),
        "terms": terms_parts(computed, say),
        "terms_note": say("terms_note"),
        "charts": _charts(evidence, computed, say),
        "excursions": excursions(computed, say),
        "buffering": buffering_rows(computed, say),
        "events": [
            [str(number), formats.moment(event.time_utc, zone), event.kind, _figures(event, say)]
            for number, event in enumerate(facts.events, start=1)
        ],
        "no_events": say("no_events"),
        "cannot_say": cannot_say(computed, say),
        "cautions": [say("decision_support"), say("caution_glass")],
        "files": [_file(one, zone) for one in evidence.originals],
        "files_note": say("files_note"),
        "check": [*say.paragraphs("check"), say("fingerprint", value=fingerprint)],
        "signatures": [say("signature_issued"), say("signature_checked"), say("signature_received")],
    }


def _figures(event: Event, say: Words) -> str:
    """Write what an event's record says in figures."""
    parts = [
        say(key, value=f"{value:g}")
        for key, value in (
            ("event_rh", event.rh_percent), ("event_water", event.water_g), ("event_board", event.board_kg)
        )
        if value is not None
    ]  # fmt: skip
    if event.warp_mm is not None:
        where, how = (f", {text}" if text else "" for text in (event.warp_where, event.warp_how))
        parts.append(say("event_warp", value=f"{event.warp_mm:g}", where=where, how=how))
    return ", ".join(parts) or formats.MISSING


def _file(one: Mapping[str, Any], zone: str) -> dict[str, Any]:
    rows = one["rows"]
    counts = (rows["in_file"], rows["kept"], sum(one["used"].values()))
    return {
        "file": one["file"],
        "logger": one["logger"],
        "rows": " · ".join(formats.count(count) for count in counts),
        "received": formats.date(pd.Timestamp(one["received_utc"]), zone),
        "sha256": one["sha256"],
    }


def _charts(evidence: Evidence, computed: Computed, say: Words) -> list[dict[str, str]]:
    facts = computed.frame
    clauses = [clause for judged in computed.terms for clause in judged.terms.clauses]
    band = None if facts.band is None else charts.Limits(low=facts.band[0], high=facts.band[1])
    if computed.inside is None:
        band = None  # it is agreed for the air inside
    rh_limits = band or _limits_of(clauses, RH)
    warmth_limits = _limits_of(clauses, TEMPERATURE)
    span = charts.Span(start=evidence.start, end=evidence.end, time_zone=evidence.time_zone)
    events = [event.time_utc for event in facts.events]
    event_words = say("chart_events") if events else ""
    if band is not None and facts.band is not None:
        rh_words = say("chart_band", band=phrases.band(facts.band))
    else:
        rh_words = "" if rh_limits is None else say("chart_limits", limits=_in_words(rh_limits, "%RH"))
    warmth_words = "" if warmth_limits is None else say("chart_limits", limits=_in_words(warmth_limits, "°C"))
    return [
        {
            "svg": charts.record_chart(
                computed.inside, computed.room, span, quantity=RH, limits=rh_limits, events=events, height_inches=2.75
            ),
            "alt": say("chart_alt_rh"),
            "caption": say("chart_rh_caption", limits=rh_words, events=event_words) + say("chart_gaps"),
        },
        {
            "svg": charts.record_chart(
                computed.inside, computed.room, span, quantity=TEMPERATURE, limits=warmth_limits, height_inches=1.9
            ),
            "alt": say("chart_alt_temperature"),
            "caption": say("chart_temperature_caption", limits=warmth_words),
        },
    ]


def _limits_of(clauses: list[Clause], quantity: str) -> charts.Limits | None:
    """Return the limits of the first clause that sets a range for a quantity."""
    for clause in clauses:
        if clause.kind == "range" and clause.quantity == quantity:
            return charts.Limits(low=clause.low, high=clause.high)
    return None


def _in_words(limits: charts.Limits, unit: str) -> str:
    known = [f"{value:g}" for value in (limits.low, limits.high) if value is not None]
    return f"{'–'.join(known)} {unit}"
