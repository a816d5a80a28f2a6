"""Previews say what packs hold, results say what packs say, and nothing else leaves the house."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import asdict, replace
from pathlib import Path

import pandas as pd
import pytest

from isohume.analysis.terms import find_terms
from isohume.dashboard.components.loan_results_part import verdict_words
from isohume.dashboard.loan_history import history_of, issued_for
from isohume.dashboard.loan_packs import NoPackError, issue, kept_pack, packs_table
from isohume.dashboard.loan_preview import Preview, preview_of
from isohume.dashboard.loan_record import (
    AskedError,
    UnknownLoanError,
    day_text,
    loan_of,
    loans_of,
    period_of,
    published_copy,
    terms_in_words,
)
from isohume.dashboard.loan_results import LoanResults, results_of, results_table
from isohume.dashboard.papers.handover import handover_sheet, n_pages
from isohume.dashboard.papers.issue import issue_evidence
from isohume.dashboard.papers.terms_chosen import kept_terms
from isohume.dashboard.papers.verify import verify_pack
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.restoring import restore

ASKED = {"frame": "F01", "from": "2026-01-01T01:00", "to": "2026-02-15T01:00", "paper": "us-letter"}


def quiet(_done: int, _total: int) -> None:
    """Nobody watches."""


def preview(archive: Archive, site: Site, **changed: str) -> Preview:
    return preview_of(archive, loan_of(archive, "7/a"), {**ASKED, **changed}, site, quiet)


def results(archive: Archive, site: Site, **asked: str) -> LoanResults:
    return results_of(archive, loan_of(archive, "7/a"), asked, site, quiet)


def test_a_preview_is_the_pack_that_is_issued_from_it(archive: Archive, site: Site) -> None:
    seen = preview(archive, site)
    made = issue(archive, loan_of(archive, "7/a"), {**ASKED, "document": seen.document}, site, quiet)
    assert made["document"] == seen.document
    name, data = kept_pack(archive, made["sha256"])
    assert name == "evidence_F01_2026-01-01.zip"
    with zipfile.ZipFile(io.BytesIO(data)) as pack:
        held = {one: pack.read(one) for one in pack.namelist()}
    assert {one.name for one in seen.members} == set(held)
    for one in seen.members:
        assert one.n_bytes in {None, len(held[one.name])}
        assert not one.text or one.text.encode() == held[one.name]
    assert {one.name for one in seen.members if one.text} == {
        "parameters.json", "calibrations.json", "events.json", "originals.json"
    }  # fmt: skip
    assert seen.n_readings == len(held["readings.csv"].splitlines()) - 1
    assert verify_pack(data, key=made["fingerprint"]).agrees
    assert preview(archive, site).document == seen.document  # issuing changes nothing that a pack holds


def test_a_preview_names_nothing_that_stays(archive: Archive, site: Site) -> None:
    seen = preview(archive, site)
    told = json.dumps([asdict(replace(seen, evidence=None)), seen.evidence.parameters], default=str)  # type: ignore[arg-type]
    for secret in ("SECRET", "F02", "L03", "other_1.csv", '"R2"'):
        assert secret not in told
    assert seen.stays[0] == "1 other frame, with all that is known of them"
    assert "1 event that are notes or photographs" in seen.stays
    assert "of the frame itself: owner, opened by, terms, note" in seen.stays
    assert seen.event_counts == {"warp measured": 1}


def test_what_was_previewed_and_has_changed_is_not_issued(archive: Archive, site: Site) -> None:
    loan, seen = loan_of(archive, "7/a"), preview(archive, site)
    archive.put("frames", {"id": "F01", "painting": "Three Herons (invented)"})
    with pytest.raises(AskedError, match="changed since the preview"):
        issue(archive, loan, {**ASKED, "document": seen.document}, site, quiet)
    with pytest.raises(AskedError, match="Look at the preview first"):
        issue(archive, loan, ASKED, site, quiet)
    assert issued_for(archive, loan) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"frame": "F02"}, "not part of this loan"),
        ({"paper": "a3"}, "choose a4 or us-letter"),
        ({"from": "2026-13-01"}, "expected a date"),
        ({"from": "2026-02-16", "to": "2026-02-14"}, "Give a start before its end"),
        ({"terms": "none such"}, "No climate terms named"),
        ({"from": "2019-01-01", "to": "2019-02-01"}, "No reading of frame F01"),
    ],
)
def test_what_cannot_be_previewed_is_refused(archive: Archive, site: Site, changed: dict[str, str], said: str) -> None:
    with pytest.raises(AskedError, match=said):
        preview(archive, site, **changed)


def test_packs_are_kept_audited_and_backed_up(archive: Archive, site: Site, tmp_path: Path) -> None:
    seen, loan = preview(archive, site), loan_of(archive, "7/a")
    made = issue(archive, loan, {**ASKED, "document": seen.document}, site, quiet)
    issue_evidence(archive, "F01", start=seen.start, end=seen.end, terms=seen.terms, paper="us-letter")  # for no loan
    assert [line["after"].get("loan") for line in issued_for(archive, loan)] == ["7/a", None]
    assert len(packs_table(archive, loan)[1]) == 2
    assert {line["kind"] for line in history_of(archive, loan)} == {"loans", "legs", "terms", "evidence"}
    assert archive.audit(deep=False).is_clean
    archive.back_up(tmp_path / "backup.zip")
    restore(tmp_path / "backup.zip", tmp_path / "again")
    with Archive.open(tmp_path / "again") as again:
        assert kept_pack(again, made["sha256"]) == kept_pack(archive, made["sha256"])
    path = archive.papers.path(made["sha256"])
    path.write_bytes(path.read_bytes() + b" ")
    assert any("Evidence as issued" in one for one in archive.audit(deep=False).problems)
    for wrong in (made["sha256"], "../evidence_key.pem", "0" * 64, made["sha256"].upper(), ""):
        with pytest.raises(NoPackError):
            kept_pack(archive, wrong)


def test_results_are_those_of_the_pack_clause_by_clause(archive: Archive, site: Site) -> None:
    found = results(archive, site, **{name: ASKED[name] for name in ("from", "to")})
    judged = found.frames[0].terms[0].results
    terms = [kept_terms(archive.records("terms")[0])]
    issued = issue_evidence(archive, "F01", start=found.start, end=found.end, terms=terms, paper="us-letter")
    with zipfile.ZipFile(io.BytesIO(issued.data)) as pack:
        clauses = json.loads(pack.read("findings.json"))["terms"][0]["clauses"]
    assert [one["verdict"] for one in clauses] == [one.verdict for one in judged]
    assert [one["worst"] for one in clauses] == [one.worst for one in judged]
    assert [one["hours_breached"] for one in clauses] == [one.hours_breached for one in judged]
    assert [verdict_words(one) for one in judged] == [
        "Breached as read, within the uncertainty" if not judged[0].beyond_doubt else "Breached beyond doubt",
        "Met", "Met", "Cannot say",
    ]  # fmt: skip
    heads, rows = results_table(found)
    assert {len(row) for row in rows} == {len(heads)}


def test_a_frame_without_an_inside_logger_cannot_be_said_to_keep_its_terms(archive: Archive, site: Site) -> None:
    archive.put("loans", {"id": "7/a", "frames": ["F01", "F02", "F99"]})
    archive.remove("placements", {"logger": "L01", "channel": "", "from": "2025-12-31T00:00:00+00:00"})
    found = results(archive, site)
    about_inside = [one for one in found.frames[0].terms[0].results if one.clause.air == "inside"]
    assert {one.verdict for one in about_inside} == {"cannot say"}
    assert not found.frames[0].has_inside
    assert found.frames[2].why == "This frame is not in the register."


def test_a_frame_without_terms_says_what_is_missing(archive: Archive, site: Site) -> None:
    archive.put("loans", {"id": "7/a", "terms": None})
    assert "No climate terms are agreed" in results(archive, site).frames[0].why
    published = results(archive, site, terms="AIC interim guideline, 2013", air="inside")
    assert published.frames[0].terms[0].terms == find_terms("AIC interim guideline, 2013", air="inside")


def test_periods_are_those_of_the_legs_or_as_asked(archive: Archive, site: Site) -> None:
    loan = loan_of(archive, "7/a")
    start, end = period_of(loan, {}, now=site.now, zone=site.time_zone)
    assert (day_text(start, site.time_zone), day_text(end, site.time_zone, is_end=True)) == (
        "2026-01-01",
        "2026-02-14",
    )
    start, end = period_of(loan, {"from": "2026-01-05", "to": "2026-01-06"}, now=site.now, zone=site.time_zone)
    assert end - start == pd.Timedelta(days=2)  # the last day is included
    with pytest.raises(UnknownLoanError, match="No loan"):
        loan_of(archive, "../7")
    archive.put("loans", {"id": "8"})
    assert [one.loan_id for one in loans_of(archive)] == ["8", "7/a"]


def test_published_terms_become_a_record_that_says_whence(archive: Archive) -> None:
    row = published_copy("AIC interim guideline, 2013", "inside", terms_id="mine")
    archive.put("terms", row)
    assert kept_terms(row).clauses == find_terms("AIC interim guideline, 2013", air="inside").clauses
    assert "AIC interim guideline (2013)" in row["source"]
    assert len(terms_in_words(row)) == len(row["clauses"])
    with pytest.raises(AskedError, match="No published climate terms"):
        published_copy("none", "room", terms_id="x")
    with pytest.raises(AskedError, match="cannot be judged"):
        terms_in_words({**row, "clauses": [{"air": "room", "quantity": "RH", "low": 4}]})


def test_the_handover_sheet_is_one_page_however_much_is_said(archive: Archive, site: Site) -> None:
    loan = loan_of(archive, "7/a")
    terms, facts = kept_terms(archive.records("terms")[0]), archive.frame_facts("F01")
    long = {**loan.legs[0].facts, "handover": "scratched " * 60, "crate": "#strong[C] " * 40}
    for frames, clauses, leg in ((1, 1, loan.legs[0].facts), (9, 5, long)):
        sheet = handover_sheet(
            collection={"name": site.name, "time_zone": site.time_zone, "invented": True},
            loan=loan.facts, leg=leg, venue=archive.records("venues")[0], frames=[facts] * frames,
            terms=replace(terms, clauses=terms.clauses * clauses), as_of=site.now,
            address="https://frames.example/loan/7%2Fa",
        )  # fmt: skip
        assert n_pages(sheet) == 1
