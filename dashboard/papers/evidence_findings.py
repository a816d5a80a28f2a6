"""The findings of an evidence paper as texts and table rows."""

from __future__ import annotations

from typing import Any

from isohume.analysis import phrases
from isohume.analysis.readings import UNCALIBRATED_UNCERTAINTY_PERCENT
from isohume.analysis.results import Excursion
from isohume.analysis.terms_judge import ClauseResult
from isohume.analysis.wording import exchange_in_words, ratio_in_words
from isohume.dashboard import formats
from isohume.dashboard.papers.computed import Computed, JudgedTerms
from isohume.dashboard.papers.evidence import SIDES
from isohume.dashboard.papers.words import Words

SWAPPED = "sides swapped"  # the rule of standing that a lender must hear of
MOST_EXCURSIONS = 60  # more would bury the longest; all are in findings.json
VERDICTS = {
    "breached": "verdict_breached",
    "met": "verdict_met",
    "no breach in what is covered": "verdict_partly",
    "cannot say": "verdict_cannot",
}
SOURCES = {"verified": "source_verified", "memory": "source_memory", "agreed": "source_agreed"}


def in_brief(computed: Computed, say: Words) -> list[str]:
    """Return the few sentences that somebody reads who reads no more."""
    inside, room = (computed.coverage[side] for side in SIDES)
    shares = {
        "share": "" if inside is None else phrases.share(inside.share),
        "room_share": "" if room is None else phrases.share(room.share),
    }
    key = "brief_room_only" if inside is None else "brief_inside_only" if room is None else "brief_covered"
    sentences = [say(key, **shares)]
    sentences += [_terms_in_brief(judged, say) for judged in computed.terms]
    band = computed.assessment.band
    if band is not None:
        outside = band.hours_below + band.hours_above
        limits, covered = phrases.band((band.low, band.high)), phrases.hours(band.hours_covered)
        if outside > 0 and band.share_within is not None:
            sentences.append(
                say(
                    "brief_band", band=limits, hours=phrases.hours(outside), covered=covered,
                    share=phrases.share(1 - band.share_within), certain=phrases.hours(band.hours_outside_beyond_doubt),
                    uncertainty=f"{band.uncertainty_percent:g}",
                )
            )  # fmt: skip
        else:
            sentences.append(say("brief_band_within", band=limits, covered=covered))
    sentences += [reason.text for reason in computed.assessment.standing.reasons if reason.rule == SWAPPED]
    data = computed.assessment.data
    if data.name != "sound":
        sentences.append(say("brief_record", name=data.name, reasons=" ".join(reason.text for reason in data.reasons)))
    return sentences


def _terms_in_brief(judged: JudgedTerms, say: Words) -> str:
    counts = []
    for verdict, key in (
        ("breached", "brief_breached"),
        ("met", "brief_met"),
        ("no breach in what is covered", "brief_partly"),
        ("cannot say", "brief_unsaid"),
    ):
        found = [result for result in judged.results if result.verdict == verdict]
        if found:
            certain = sum(result.beyond_doubt for result in found)
            counts.append(say(key, n=len(found), certain=certain or "none"))
    key = "brief_one_clause" if len(judged.results) == 1 else "brief_terms"
    return say(key, name=judged.terms.name, of=len(judged.results), counts="; ".join(counts))


def terms_parts(computed: Computed, say: Words) -> list[dict[str, Any]]:
    """Return each set of terms, clause by clause."""
    zone = computed.frame.time_zone
    return [
        {
            "name": judged.terms.name,
            "source": say(SOURCES[judged.terms.status], source=judged.terms.source or formats.MISSING),
            "note": judged.terms.note,
            "rows": [clause_row(result, zone, say) for result in judged.results],
        }
        for judged in computed.terms
    ]


def clause_row(result: ClauseResult, zone: str, say: Words) -> dict[str, str]:
    """Return what a record says of one clause, in words: the same on paper and on a page."""
    unit = result.clause.unit
    outside = formats.MISSING
    if result.verdict == "breached":
        figures = {
            "hours": phrases.hours(result.hours_breached),
            "uncertainty": f"{result.uncertainty:.1f}",
            "unit": unit,
        }
        outside = (
            say("beyond", certain=phrases.hours(result.hours_beyond_doubt), **figures)
            if result.beyond_doubt
            else say("within_uncertainty", **figures)
        )
    worst = formats.MISSING
    if result.worst is not None:
        worst = say(
            "worst", value=formats.number(result.worst, 1), unit=unit, when=formats.moment(result.worst_utc, zone)
        )
    notice = say("notice", text=result.clause.notice) if result.clause.notice else ""
    return {
        "mark": result.verdict,
        "clause": result.clause.in_words(),
        "notice": notice,
        "verdict": say(VERDICTS[result.verdict]),
        "outside": result.why if result.verdict == "cannot say" else outside,
        "worst": worst,
        "covered": "–" if result.verdict == "cannot say" else phrases.share(result.coverage),
    }


def excursions(computed: Computed, say: Words) -> dict[str, Any]:
    """Return the excursions from the band; of very many the longest."""
    band = computed.assessment.band
    if band is None:
        return {"rows": [], "note": say("no_inside" if computed.inside is None else "no_band")}
    if not band.excursions:
        return {"rows": [], "note": say("no_excursions", band=phrases.band((band.low, band.high)))}
    note = say("excursions_note", low=f"{band.low:g}", high=f"{band.high:g}")
    shown = sorted(band.excursions, key=lambda one: -one.hours)[:MOST_EXCURSIONS]
    if len(shown) < len(band.excursions):
        note += " " + say("excursions_more", shown=len(shown), n=formats.count(len(band.excursions)))
    rows = [_excursion(one, computed.frame.time_zone, say) for one in sorted(shown, key=lambda one: one.start_utc)]
    return {"rows": rows, "note": note}


def _excursion(one: Excursion, zone: str, say: Words) -> list[str]:
    marks = (("mark_start", one.open_at_start), ("mark_gap", one.cut_by_gap), ("mark_ongoing", one.ongoing))
    return [
        formats.moment(one.start_utc, zone),
        formats.moment(one.end_utc, zone),
        phrases.hours(one.hours),
        one.side,
        f"{phrases.rh(one.extreme_percent)}, {formats.moment(one.extreme_utc, zone)}",
        "; ".join(say(key) for key, is_so in marks if is_so) or formats.MISSING,
    ]


def buffering_rows(computed: Computed, say: Words) -> dict[str, Any]:
    """Return buffering on each scale and the half-time, with intervals."""
    if not computed.compared:
        return {"rows": [], "notes": [say("not_compared")]}
    found, exchange = computed.assessment.buffering, computed.assessment.exchange
    rows = [
        [say("row_daily"), ratio_in_words(found.daily)],
        [say("row_daily_removed"), ratio_in_words(found.daily_temperature_removed)],
        [say("row_weekly"), ratio_in_words(found.weekly)],
        [say("row_seasonal"), ratio_in_words(found.seasonal)],
    ]
    told = exchange_in_words(exchange)
    return {
        "rows": rows,
        "notes": [say("buffering_note")],
        # Without the notes on the fit, which speak to whoever works with the model.
        "half_time": [say("row_half_time"), *(_ended(text) for text in told[: len(told) - len(exchange.notes)])],
        "half_time_note": say("half_time_note"),
    }


def cannot_say(computed: Computed, say: Words) -> list[str]:
    """Return what the record leaves open, first what is special to this one."""
    special = []
    if computed.inside is None:
        special.append(say("cannot_say_no_inside"))
    if computed.room is None:
        special.append(say("cannot_say_no_room"))
    records = (computed.inside, computed.room)
    if any(record is not None and record.calibrated_on is None for record in records):
        special.append(say("cannot_say_uncalibrated", value=f"{UNCALIBRATED_UNCERTAINTY_PERCENT:g}"))
    if computed.compared and not computed.assessment.exchange.determined:
        why = computed.assessment.exchange.why.rstrip(". ")
        special.append(_ended(say("cannot_say_exchange", why=why[:1].lower() + why[1:])))
    return [*special, say("cannot_say_surface"), *say.paragraphs("cannot_say")]


def _ended(text: str) -> str:
    """End a sentence once, where a question stands within it."""
    return text.replace("?.", "?")
