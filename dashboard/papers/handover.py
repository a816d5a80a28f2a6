"""The handover sheet of one leg of a loan, one page: what travels, who is called, what was agreed, who signs."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pandas as pd

from isohume.analysis.frame import FrameFacts
from isohume.analysis.terms import ClimateTerms
from isohume.dashboard import formats
from isohume.dashboard.papers.qr import checked_address, qr_svg
from isohume.dashboard.papers.typeset import Paper, pdf
from isohume.dashboard.papers.words import Words, words

# Frames and clauses that are tried until all fits on one page; the register and the agreement hold the rest.
MOST_LINES = (8, 7, 6, 5, 4, 3, 2, 1)
LONGEST_TEXT = 300
_N_PAGES = re.compile(rb"/Type/Pages/Count (\d+)")


def handover_sheet(
    *,
    collection: Mapping[str, Any],
    loan: Mapping[str, Any],
    leg: Mapping[str, Any],
    venue: Mapping[str, Any] | None,
    frames: list[FrameFacts],
    terms: ClimateTerms | None,
    as_of: pd.Timestamp,
    address: str = "",
    paper: Paper = "a4",
) -> bytes:
    """Set the sheet of one leg.

    Parameters
    ----------
    collection : mapping
        `name`, `time_zone` and `invented` of the site.
    loan, leg, venue : mappings
        Their records; no venue where none is named.
    frames : list of FrameFacts
        What travels.
    terms : ClimateTerms or None
        What was agreed.
    as_of : Timestamp
        The moment the sheet speaks of.
    address : str
        Of the loan's page, for the code; "" for none.
    paper : {"a4", "us-letter"}

    Returns
    -------
    bytes
        A PDF.

    Raises
    ------
    ValueError
        The address is none.
    """
    say, zone = words("handover"), str(collection["time_zone"])
    labels = say.labels()
    place = (venue or {}).get("name") or (venue or {}).get("id") or formats.MISSING
    text = checked_address(address)
    data = {
        "language": say.language,
        "paper": paper,
        "labels": labels,
        "title": say("title"),
        "collection": collection["name"],
        "invented": say("invented") if collection["invented"] else "",
        "loan": loan["title"] or loan["id"],
        "leg": f"{say(str(leg['kind']))}: {place}" if place != formats.MISSING else say(str(leg["kind"])),
        "as_of": say("as_of", moment=formats.moment(as_of, zone), zone=zone),
        "qr": {"svg": qr_svg(text) if text else "", "text": text},
        "leg_facts": _pairs(
            [
                (labels["place"], place),
                (labels["address"], (venue or {}).get("address")),
                (labels["from"], formats.moment(_time(leg["from"]), zone)),
                (labels["to"], formats.moment(_time(leg["to"]), zone)),
                (labels["crate"], leg["crate"]),
                (labels["courier"], leg["courier"]),
            ]
        ),
        "contacts": _pairs(
            [
                (labels["lender"], loan["lender"]),
                (labels["lender_contact"], loan["contact"]),
                (labels["venue_contact"], (venue or {}).get("contact")),
            ]
        ),
        "noted": _short(leg["handover"]),
        "frame_heads": [labels[name] for name in ("frame", "painting", "size", "band", "opened_by")],
        "condition_heads": ["", labels["given"], labels["taken"]],
        "conditions": [*say.paragraphs("conditions"), say("strip")],
        "cautions": say.paragraphs("cautions"),
        "caution": say("decision_support"),
        "signatures": [say("signature_given"), say("signature_taken")],
    }
    made = b""
    for most in MOST_LINES:
        listed = {
            "frames": [_frame(one, say) for one in frames[:most]],
            "more_frames": _more(len(frames) - most, "more_frames", say),
            "terms": _terms(terms, most, say),
        }
        made = pdf("handover", {**data, **listed}, dated=as_of)
        if n_pages(made) == 1:
            break
    return made


def n_pages(made: bytes) -> int:
    """Count the pages of a PDF of ours."""
    found = _N_PAGES.search(made)
    return int(found[1]) if found else 0


def _frame(facts: FrameFacts, say: Words) -> list[str]:
    panel = facts.panel
    sizes = [f"{side:g}" for side in (panel.width_mm, panel.height_mm) if side is not None] if panel else []
    return [
        facts.frame_id,
        facts.painting or formats.MISSING,
        say("size", sizes=" × ".join(sizes)) if len(sizes) == 2 else formats.MISSING,
        formats.band(facts.band),
        facts.opened_by or formats.MISSING,
    ]


def _terms(terms: ClimateTerms | None, most: int, say: Words) -> dict[str, Any]:
    if terms is None:
        return {"name": "", "rows": [], "note": say("no_terms")}
    rows = [
        [clause.in_words(), say("notice", text=_short(clause.notice)) if clause.notice else ""]
        for clause in terms.clauses[:most]
    ]
    source = say("source", source=_short(terms.source).rstrip(".")) if terms.source else ""
    more = _more(len(terms.clauses) - most, "more_clauses", say)
    return {"name": terms.name, "rows": rows, "note": " ".join(text for text in (more, source) if text)}


def _pairs(pairs: list[tuple[str, str | None]]) -> list[list[str]]:
    return [[label, _short(text or formats.MISSING)] for label, text in pairs]


def _short(text: str) -> str:
    return text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT].rstrip()} …"


def _more(n: int, key: str, say: Words) -> str:
    return say(key, n=formats.count(n)) if n > 0 else ""


def _time(text: str | None) -> pd.Timestamp | None:
    return None if text is None else pd.Timestamp(text)
