"""Papers out of an archive: only what they are about leaves the house, and they can be made again."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from typer.testing import CliRunner

from isohume.analysis.terms import Clause, ClimateTerms
from isohume.dashboard.cli import app
from isohume.dashboard.exports import xlsx_bytes
from isohume.dashboard.papers.evidence import EvidenceError
from isohume.dashboard.papers.failure import failure_of, failure_pdf, failure_table
from isohume.dashboard.papers.issue import Issued, issue_evidence
from isohume.dashboard.papers.labels import label_sheets
from isohume.dashboard.papers.review import Review, ReviewError, month_review
from isohume.dashboard.papers.review_paper import review_data, review_pdf
from isohume.dashboard.papers.review_tables import review_tables
from isohume.dashboard.papers.sheet import frame_sheet
from isohume.dashboard.papers.verify import verify_pack
from isohume.ingest.archive.archive import Archive

START, END = pd.Timestamp("2026-01-01T00:00Z"), pd.Timestamp("2026-02-15T00:00Z")
TERMS = ClimateTerms(
    name="Loan 7", source="contract",
    clauses=(Clause(air="inside", quantity="rh_percent", kind="range", low=45, high=58),),
)  # fmt: skip


@pytest.fixture(scope="module")
def issued(archive: Archive) -> Issued:
    return issue_evidence(archive, "F01", start=START, end=END, terms=[TERMS])


def documents(data: bytes) -> Iterator[tuple[str, str]]:
    with zipfile.ZipFile(io.BytesIO(data)) as pack:
        for name in pack.namelist():
            yield name, pack.read(name).decode("utf-8", "replace")


def n_pages(pdf: bytes) -> int:
    found = re.search(rb"/Type/Pages/Count (\d+)", pdf)
    assert found
    return int(found[1])


def test_nothing_about_others_and_no_internal_note_leaves_the_house(issued: Issued) -> None:
    for name, text in documents(issued.data):
        for secret in ("SECRET", "F02", "L03", "other_1.csv", "R2"):
            if name not in {"evidence.pdf", "readings.parquet"}:  # their text is compressed, and made of these
                assert secret not in text, f"{secret} in {name}"


def test_readings_are_corrected_and_files_accounted_for(issued: Issued) -> None:
    members = dict(documents(issued.data))
    originals = json.loads(members["originals.json"])["originals"]
    assert [one["file"] for one in originals] == ["inside_1.csv", "room_1.csv"]
    assert all(one["rows"]["in_file"] == 24 * 45 - 48 for one in originals)
    calibration = json.loads(members["calibrations.json"])["calibrations"]
    assert [one["certificate"] for one in calibration] == ["K-1"]
    assert json.loads(members["parameters.json"])["rooms"][0]["name"] == "Hall"
    assert [one["kind"] for one in json.loads(members["events.json"])["events"]] == ["warp measured"]


def test_the_pack_agrees_can_be_made_again_and_stands_in_the_trail(archive: Archive, issued: Issued) -> None:
    assert verify_pack(issued.data, key=issued.fingerprint).agrees
    again = issue_evidence(archive, "F01", start=START, end=END, terms=[TERMS])
    assert again == issued
    assert (archive.folder / "evidence_key.pem").exists()


def test_a_period_without_readings_or_without_length_is_refused(archive: Archive) -> None:
    with pytest.raises(EvidenceError, match="No reading of frame F01"):
        issue_evidence(archive, "F01", start=START - pd.Timedelta(days=900), end=START - pd.Timedelta(days=800))
    with pytest.raises(EvidenceError, match="is none"):
        issue_evidence(archive, "F01", start=END, end=START)


@pytest.fixture(scope="module")
def january(archive: Archive) -> Review:
    return month_review(archive, "2026-01")


def test_a_review_holds_every_frame_and_what_is_overdue(january: Review) -> None:
    assert {one.summary.frame_id for one in january.frames} == {"F01", "F02"}
    assert january.is_complete
    assert january.as_of == pd.Timestamp("2026-01-31T23:00Z")  # midnight in Berlin
    first = next(one for one in january.frames if one.summary.frame_id == "F01")
    assert first.inside is not None
    assert first.inside.coverage == pytest.approx(1 - 49 / 744, abs=0.01)  # 31 days less the gap
    assert [event.kind for event in first.events] == ["warp measured", "note"]
    assert {one.file for one in january.files} == {"inside_1.csv", "room_1.csv", "other_1.csv"}
    assert set(january.figures()["frames"]) == {"F01", "F02"}


def test_a_review_is_kept_and_the_next_one_tells_what_changed(archive: Archive, january: Review) -> None:
    steps: list[tuple[int, int]] = []
    again = month_review(archive, "2026-01", progress=lambda done, of: steps.append((done, of)))
    assert review_data(again) == review_data(january)
    assert steps[-1] == (2, 2)
    february = month_review(archive, "2026-02")
    assert february.compared_with == "2026-01"
    assert not february.is_complete
    assert all(one.before is not None for one in february.frames)
    assert review_pdf(february, paper="us-letter") == review_pdf(february, paper="us-letter")
    assert [row["frame_id"] for row in review_data(february)["blocks"]]


def test_a_month_that_is_none_or_has_not_begun_is_refused(archive: Archive) -> None:
    for month in ("2026-13", "January", "2026-1", "2027-01"):
        with pytest.raises(ReviewError):
            month_review(archive, month)


def test_tables_beside_the_review_hold_no_formula(january: Review) -> None:
    book = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(review_tables(january))))
    assert book.sheetnames == ["frames", "due", "decisions", "done", "files"]
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    assert "'=Two Herons (invented)" in {cell.value for cell in cells}


def test_the_sheet_of_a_frame_is_one_page(archive: Archive) -> None:
    for frame_id in ("F01", "F02"):
        assert n_pages(frame_sheet(archive, frame_id, address="https://frames.example")) == 1


def test_labels_fill_a_sheet_and_unknown_ids_are_named(archive: Archive) -> None:
    assert n_pages(label_sheets(archive, "frames", address="https://frames.example")) == 1
    assert n_pages(label_sheets(archive, "loggers", ids=["L01"] * 31, paper="us-letter")) == 2  # 30 a sheet
    with pytest.raises(LookupError, match='no frame "F9"'):
        label_sheets(archive, "frames", ids=["F9"])


def test_the_failure_sheet_lists_every_frame_and_says_why_it_cannot_say(archive: Archive) -> None:
    found = failure_of(archive, room_rh_percent=25, room_celsius=12)
    assert len(found.frames) == 2
    assert all(one.holds.why or one.holds.hours_likely is None or one.holds.hours_likely >= 0 for one in found.frames)
    assert failure_pdf(found).startswith(b"%PDF")
    assert len(failure_table(found)[1]) == 2
    with pytest.raises(ValueError, match="expected 1 to 100"):
        failure_of(archive, room_rh_percent=0, room_celsius=12)


def test_commands_evidence_and_verify(archive: Archive, tmp_path: Path) -> None:
    run, pack = CliRunner(), tmp_path / "pack.zip"
    period = ["--from", "2026-01-01", "--to", "2026-02-14", "--archive", str(archive.folder)]
    made = run.invoke(app, ["evidence", "F01", *period, "--terms", "AIC interim guideline, 2013", "--out", str(pack)])
    assert made.exit_code == 0, made.output
    good = run.invoke(app, ["verify", str(pack)])
    assert good.exit_code == 0
    assert good.stdout.startswith("ALL AGREES")
    other = run.invoke(app, ["verify", str(pack), "--key", "00" * 16])
    assert other.exit_code == 1
    assert other.stdout.startswith("SIGNED BY ANOTHER KEY")
    data = bytearray(pack.read_bytes())
    data[data.index(b"K-1")] ^= 1
    pack.write_bytes(bytes(data))
    bad = run.invoke(app, ["verify", str(pack), "--json"])
    assert bad.exit_code == 1
    assert json.loads(bad.stdout)["verdict"] == "altered"
    assert run.invoke(app, ["verify", str(tmp_path / "none.zip")]).exit_code == 3
    assert run.invoke(app, ["evidence", "F01", *period, "--terms", "none such"]).exit_code == 2
    assert run.invoke(app, ["evidence", "F9", *period]).exit_code == 3


def test_commands_review_sheet_labels_and_failure(archive: Archive, tmp_path: Path) -> None:
    run, where = CliRunner(), ["--archive", str(archive.folder)]
    for command, name in (
        (["review", "2026-01"], "review.pdf"),
        (["sheet", "F01", "--address", "https://frames.example"], "sheet.pdf"),
        (["labels", "frames", "--paper", "letter"], "labels.pdf"),
        (["failure", "--rh", "25", "--celsius", "12"], "failure.pdf"),
    ):
        out = tmp_path / name
        done = run.invoke(app, [*command, *where, "--out", str(out)])
        assert done.exit_code == 0, done.output
        assert out.read_bytes().startswith(b"%PDF")
    assert (tmp_path / "review.xlsx").exists()
    assert (tmp_path / "review.csv").read_text(encoding="utf-8-sig").startswith("frame,")
    assert run.invoke(app, ["review", "2026-99", *where]).exit_code == 2
    assert run.invoke(app, ["sheet", "F01", "--paper", "a3", *where]).exit_code == 2
