"""What the check of a pack found, as a page shows it: one line, then what does not agree, then what it means."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from isohume.dashboard.formats import count

TONES = {"agrees": "calm", "altered": "act", "other key": "act", "other version": "soon", "does not follow": "act"}
WHERE = {
    "container": "The container", "member": "Members", "signature": "The signature", "reading": "Readings",
    "figure": "Figures", "page": "The paper",
}  # fmt: skip
VERDICTS = {
    "agrees": "All agrees",
    "altered": "Altered since it was signed",
    "other key": "Intact, but signed with another key",
    "other version": "Intact; this version computes other figures",
    "does not follow": "Intact, but its figures do not follow from its readings",
}
FROM_ELSEWHERE = (
    "Without that comparison a pack only vouches for itself: whoever altered one could have signed it anew with a "
    "key of their own."
)


class Told(NamedTuple):
    """A result in parts: the verdict, its tone, the one line, problems by kind, facts, and what to know."""

    verdict: str
    tone: str
    headline: str
    problems: tuple[tuple[str, tuple[str, ...]], ...]
    facts: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


def told(found: Mapping[str, Any], *, key: str) -> Told:
    """Return a result of `verify_pack` in parts; `key` is the fingerprint that was typed in, "" for none."""
    verdict = str(found.get("verdict", ""))
    by_kind: dict[str, list[str]] = {}
    for problem in found.get("problems", ()):
        by_kind.setdefault(WHERE.get(str(problem["where"]), "Further"), []).append(str(problem["text"]))
    signer = str(found.get("fingerprint") or "")
    compared = "not compared with any" if not key else "the one typed in" if key == signer else f"not {key}"
    facts = [
        ("Document", str(found.get("document") or "")),
        ("Frame", str(found.get("frame") or "")),
        ("Issued by", str(found.get("issued_by") or "")),
        ("Signed by", f"{signer} ({compared})" if signer else "no valid signature"),
        ("Readings", count(int(found.get("n_readings") or 0))),
        ("Figures checked", count(int(found.get("n_figures") or 0))),
    ]
    remarks = [str(remark) for remark in found.get("remarks", ())]
    return Told(
        verdict=VERDICTS.get(verdict, verdict),
        tone=TONES.get(verdict, "unknown"),
        headline=_further(verdict, str(found.get("headline", ""))),
        problems=tuple((where, tuple(texts)) for where, texts in by_kind.items()),
        facts=tuple((name, value) for name, value in facts if value),
        remarks=(*remarks, *(() if key or not signer else (FROM_ELSEWHERE,))),
    )


def _further(verdict: str, headline: str) -> str:
    """Return what the one line says beyond the verdict, which stands above it."""
    _, colon, rest = headline.partition(": ")
    if not colon:
        return headline
    return f"Changed: {rest}" if verdict == "altered" else f"{rest[:1].upper()}{rest[1:]}"
