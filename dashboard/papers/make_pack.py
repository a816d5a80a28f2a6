"""An evidence pack from start to end: members, figures, paper, manifest, signature; same input, same bytes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from isohume.dashboard.papers.computed import Computed, compute
from isohume.dashboard.papers.evidence import Evidence, csv_of, from_parquet, parquet_of
from isohume.dashboard.papers.evidence_paper import evidence_pdf
from isohume.dashboard.papers.keys import SigningKey
from isohume.dashboard.papers.pack import json_bytes, parsed, sha256, write_pack
from isohume.dashboard.papers.words import words
from isohume.ingest.archive.rebuild import Progress, no_progress

README, PAPER, CSV, PARQUET = "README.txt", "evidence.pdf", "readings.csv", "readings.parquet"
FINDINGS, PARAMETERS = "findings.json", "parameters.json"
CALIBRATIONS, EVENTS, ORIGINALS = "calibrations.json", "events.json", "originals.json"
# What the figures and the paper follow from, in the order in which they are hashed into the document's id.
GIVEN = (PARQUET, PARAMETERS, CALIBRATIONS, EVENTS, ORIGINALS)
MEMBERS = (README, PAPER, CSV, FINDINGS, *GIVEN)
DIGITS_OF_ID = 12
_STEPS = 4
_KEPT = 2  # packs whose figures stay in memory: a page asks again for what a person just looked at


@dataclass(frozen=True, slots=True)
class Worked:
    """What follows from the given members of a pack."""

    evidence: Evidence
    computed: Computed
    findings: Mapping[str, Any]


def given_of(evidence: Evidence) -> dict[str, bytes]:
    """Return the members from which everything else in a pack follows."""
    return {
        PARQUET: parquet_of(evidence.readings),
        PARAMETERS: json_bytes(evidence.parameters),
        CALIBRATIONS: json_bytes({"calibrations": list(evidence.calibrations)}),
        EVENTS: json_bytes({"events": list(evidence.events)}),
        ORIGINALS: json_bytes({"originals": list(evidence.originals)}),
    }


def make_pack(evidence: Evidence, key: SigningKey, *, progress: Progress = no_progress) -> bytes:
    """Return the bytes of a signed pack.

    Parameters
    ----------
    evidence : Evidence
    key : SigningKey
    progress : callable
        Told how many steps of how many are done.

    Raises
    ------
    EvidenceError
        Nothing was measured.
    """
    given = given_of(evidence)
    progress(1, _STEPS)
    worked = work_out(*given.values())
    progress(2, _STEPS)
    members = {
        **given,
        CSV: csv_of(evidence.readings),
        FINDINGS: json_bytes(worked.findings),
    }
    about = about_of(given, worked.evidence, key.public_hex)
    hash_of_csv = sha256(members[CSV])
    members[PAPER] = paper_of(*given.values(), hash_of_csv, key.fingerprint)
    members[README] = readme_of(about, key.fingerprint)
    progress(3, _STEPS)
    return write_pack(members, about=about, key=key)


@lru_cache(maxsize=_KEPT)
def work_out(parquet: bytes, parameters: bytes, calibrations: bytes, events: bytes, originals: bytes) -> Worked:
    """Compute every figure from the given members.

    Raises
    ------
    EvidenceError, ValueError, TypeError, KeyError
        They are not what a pack holds.
    """
    evidence = Evidence(
        readings=from_parquet(parquet),
        parameters=parsed(parameters),
        calibrations=parsed(calibrations)["calibrations"],
        events=parsed(events)["events"],
        originals=parsed(originals)["originals"],
    )
    computed = compute(evidence)
    # Once through JSON, so that what was just computed and what was read back are the same kinds of values.
    return Worked(evidence, computed, parsed(json_bytes(computed.document())))


@lru_cache(maxsize=2 * _KEPT)
def paper_of(  # noqa: PLR0917 - the given members, and what is on every page
    parquet: bytes,
    parameters: bytes,
    calibrations: bytes,
    events: bytes,
    originals: bytes,
    hash_of_csv: str,
    fingerprint: str,
) -> bytes:
    """Set the paper that follows from the given members."""
    worked = work_out(parquet, parameters, calibrations, events, originals)
    return evidence_pdf(
        worked.evidence,
        worked.computed,
        document_id=document_id(parquet, parameters, calibrations, events, originals),
        readings_sha256=hash_of_csv,
        fingerprint=fingerprint,
    )


def document_id(*given: bytes) -> str:
    """Return the id of a document: the same for the same content."""
    return "E-" + sha256("".join(sha256(data) for data in given).encode())[:DIGITS_OF_ID]


def about_of(given: Mapping[str, bytes], evidence: Evidence, public_hex: str) -> dict[str, Any]:
    """Return what the manifest says beside the hashes."""
    known = evidence.parameters
    return {
        "document": document_id(*(given[name] for name in GIVEN)),
        "frame": known["frame"]["frame_id"],
        "period": known["period"],
        "issued_by": known["collection"]["name"],
        "isohume_version": known["isohume_version"],
        "public_key": public_hex,
    }


def readme_of(about: Mapping[str, Any], fingerprint: str) -> bytes:
    """Return the text that explains the pack."""
    say = words("readme")
    text = say(
        "text",
        document=about["document"],
        frame_id=about["frame"],
        start=about["period"]["start_utc"],
        end=about["period"]["end_utc"],
        collection=about["issued_by"],
        version=about["isohume_version"],
        fingerprint=fingerprint,
        decision_support=say("decision_support"),
    )
    return text.strip().encode() + b"\n"
