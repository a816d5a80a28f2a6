"""Papers: nothing that people type is taken for markup; files are tagged, embedded and the same every time."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import pandas as pd
import pytest
import typst

from isohume.dashboard.papers.charts import Limits, Span, record_chart, time_ticks
from isohume.dashboard.papers.computed import compute
from isohume.dashboard.papers.evidence import Evidence
from isohume.dashboard.papers.evidence_paper import evidence_pdf, paper
from isohume.dashboard.papers.pdf_pages import pages_that_differ
from isohume.dashboard.papers.typeset import FONTS, TEMPLATES, in_our_fonts, readable
from isohume.dashboard.papers.words import HERE, words

NASTY = '#panic("markup ran") *bold* _it_ $x^2$ <label> @ref \\ // ``` #read("/etc/passwd") [x] "quoted" = heading'
VERDICTS = ["Breached", "Met", "Met"]  # 43.5 %RH under the limit of 45; 1.6 %RH a day under 5; 19 to 21 °C in 16 to 25
ON_EVERY_PAGE = {"document_id": "E-1", "readings_sha256": "ab" * 32, "fingerprint": "00"}


def with_painting(evidence: Evidence, painting: str) -> Evidence:
    parameters = {**evidence.parameters, "frame": {**evidence.parameters["frame"], "painting": painting}}
    return replace(evidence, parameters=parameters)


def set_anew(evidence: Evidence) -> bytes:
    return evidence_pdf(evidence, compute(evidence), **ON_EVERY_PAGE)


def test_what_people_typed_is_never_markup(evidence: Evidence) -> None:
    nasty = with_painting(evidence, NASTY)
    data = paper(nasty, compute(nasty), **ON_EVERY_PAGE)
    shown = typst.query(
        TEMPLATES / "evidence.typ", "heading.where(level: 1)", root=TEMPLATES, one=True, font_paths=[FONTS],
        sys_inputs={"data": json.dumps(data)},
    )  # fmt: skip
    assert json.loads(shown)["body"]["text"] == NASTY  # the whole of it, one piece of text
    assert set_anew(nasty).startswith(b"%PDF-1.7")


def test_the_paper_is_tagged_and_says_which_standards_it_keeps(evidence: Evidence) -> None:
    data = set_anew(evidence)
    assert b"/StructTreeRoot" in data
    assert b"/Lang(en)" in data
    assert b"<pdfaid:part>2</pdfaid:part><pdfaid:conformance>A</pdfaid:conformance>" in data  # ISO 19005-2
    assert b"<pdfuaid:part>1</pdfuaid:part>" in data  # ISO 14289-1
    fonts = re.findall(rb"/FontName/([A-Z]{6}\+[A-Za-z-]+)", data)  # a subset's prefix: it is embedded
    assert {font[7:] for font in fonts} >= {b"SourceSansPro-Regular", b"SourceSerifPro-Semibold"}


def test_us_letter_and_a4_differ_in_size(evidence: Evidence) -> None:
    letter = replace(evidence, parameters={**evidence.parameters, "paper": "us-letter"})
    assert b"/MediaBox[0 0 612 792]" in set_anew(letter)
    assert re.search(rb"/MediaBox\[0 0 595\.2\d* 841\.8\d*\]", set_anew(evidence))


def test_the_same_paper_is_the_same_and_a_changed_page_is_told(evidence: Evidence) -> None:
    once, again = set_anew(evidence), set_anew(evidence)
    assert once == again
    assert pages_that_differ(once, again) == []
    assert pages_that_differ(once, set_anew(with_painting(evidence, "Another"))) is not None
    assert pages_that_differ(once, b"%PDF-1.7 nothing") is None


def test_every_gap_is_listed_and_clauses_carry_their_worst_case(evidence: Evidence) -> None:
    data = paper(evidence, compute(evidence), **ON_EVERY_PAGE)
    inside, room = data["coverage"]["gaps"]
    # Two days without readings, from reading 499 to 548; the flagged spike is one hourly reading and makes no gap:
    # its neighbours are two hours apart, within three logging steps.
    assert [row[2] for row in inside["rows"]] == ["49.0 h"]
    assert [row[2] for row in room["rows"]] == ["49.0 h"]
    clauses = data["terms"][0]["rows"]
    assert [clause["verdict"] for clause in clauses] == VERDICTS
    assert all(re.search(r"\d", clause["worst"]) for clause in clauses)


def test_a_frame_without_an_inside_record_claims_nothing_about_it(evidence: Evidence) -> None:
    import polars as pl

    parameters = {**evidence.parameters, "sides": {**evidence.parameters["sides"], "inside": None}}
    room_only = replace(evidence, parameters=parameters, readings=evidence.readings.filter(pl.col("side") == "room"))
    data = paper(room_only, compute(room_only), **ON_EVERY_PAGE)
    assert "says nothing about the air inside" in data["brief"][0]
    assert data["terms"][0]["rows"][0]["verdict"] == "Cannot say"
    assert data["buffering"]["rows"] == []
    assert set_anew(room_only)


def test_charts_are_the_same_every_time_and_their_text_stays_text(evidence: Evidence) -> None:
    span = Span(start=evidence.start, end=evidence.end, time_zone="Europe/Berlin")
    drawn = [
        record_chart(
            evidence.record("inside"), evidence.record("room"), span, quantity="rh_percent",
            limits=Limits(low=45, high=58),
        )
        for _ in range(2)
    ]  # fmt: skip
    assert drawn[0] == drawn[1]
    assert "Relative humidity (%)" in drawn[0]
    assert "<dc:date>" not in drawn[0]


@pytest.mark.parametrize(
    ("start", "end"), [("2026-03-28", "2026-03-30"), ("2026-01-01", "2026-02-15"), ("2025-01-01", "2026-06-01")]
)
def test_ticks_stand_on_the_wall_of_the_site_and_are_few(start: str, end: str) -> None:
    first, last = (pd.Timestamp(day, tz="Europe/Berlin") for day in (start, end))
    ticks = time_ticks(first, last)
    assert 3 <= len(ticks) <= 15
    assert all(moment.minute == 0 and moment.hour in {0, 12} for moment, _ in ticks)
    assert "2026" in "".join(label for _, label in ticks)


def test_controls_and_turning_marks_are_left_out() -> None:
    assert readable("a\u202eb\x00c\u200fd\ne é Ж 木") == "abcd\ne é Ж 木"


def test_a_script_that_our_fonts_lack_is_written_by_number_and_stops_nothing(evidence: Evidence) -> None:
    assert in_our_fonts("Ω Ж é 木 2\u202f497") == "Ω Ж é [U+6728] 2\u202f497"
    assert set_anew(with_painting(evidence, "木の聖母 🙂")).startswith(b"%PDF")


def test_every_text_of_the_papers_is_used_and_every_key_exists() -> None:
    import tomllib

    document: dict[str, Any] = tomllib.loads((HERE / "en.toml").read_text(encoding="utf-8"))
    code = "".join(path.read_text(encoding="utf-8") for path in HERE.parent.rglob("*.py"))
    templates = "".join(path.read_text(encoding="utf-8") for path in TEMPLATES.glob("*.typ"))
    # Keys that are put together: of a side, a verdict, a method, a leg of a loan, or a part of the frame.
    made = re.compile(
        "journey$|stay$|no_record_|method_|gaps_heading_|inside$|room$|glazing|spacer|buffer|barrier|backing"
    )
    for name, texts in document.items():
        for key in texts:
            if key != "labels" and name != "verify" and not made.match(key):
                assert f'"{key}"' in code, f"{name}.{key} is used nowhere"
        for key in texts.get("labels", {}):
            assert made.match(key) or f"labels.{key}" in templates or f'"{key}"' in code, f"{name}, {key}"
    assert words("evidence").language == "en"
