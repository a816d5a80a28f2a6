"""The page of one assessment opens anywhere: nothing in it comes from elsewhere, and text stays text."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.assess import assess
from isohume.analysis.exchange.fit import CannotTell
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.dashboard.assessment_page import assessment_page
from isohume.dashboard.record_svg import record_svg

START = pd.Timestamp("2026-01-01T00:00Z")
FRAME = FrameFacts(painting="<script>alert(1)</script> & Saint", band=(45.0, 55.0), time_zone="Europe/Berlin")


def record(values: np.ndarray) -> AirRecord:
    index = pd.date_range(START, periods=len(values), freq="h", name="time_utc").as_unit("us")
    readings = pd.DataFrame({"rh_percent": values, "temperature_celsius": 20.0}, index=index, dtype="float64")
    return AirRecord(readings=readings, n_readings=len(values))


HOURS = np.arange(60 * 24)
ROOM = record(50 + 6 * np.sin(HOURS / 30))
INSIDE = record(50 + np.sin(HOURS / 30 - 1))


@pytest.fixture(autouse=True)
def quick_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the fit of the exchange model, which has tests of its own and takes seconds."""
    unknown = CannotTell(why="Left out in this test.")
    monkeypatch.setattr("isohume.analysis.assess.fit_exchange", lambda *_sides, **_facts: unknown)


def page(frame: FrameFacts) -> str:
    found = assess(INSIDE, ROOM, frame=frame)
    return assessment_page(found, frame=frame, inside=INSIDE, outside=ROOM, files=("inside: <b>.csv",))


def test_page_needs_nothing_from_elsewhere() -> None:
    text = page(FRAME)
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
    assert "<script" not in text
    assert not re.search(r"\b(src|href|url|@import)\b\s*[=(]", text)


def test_names_with_markup_are_shown_as_text() -> None:
    text = page(FRAME)
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; Saint" in text
    assert "inside: &lt;b&gt;.csv" in text


def test_page_says_standing_and_caution() -> None:
    text = page(replace(FRAME, painting="Saint"))
    assert "What it needs" in text
    assert "qualified conservator" in text


def test_drawing_lifts_its_pen_at_a_gap() -> None:
    values = 50 + np.sin(HOURS / 30)
    values[300:600] = np.nan
    drawing = ET.fromstring(record_svg(record(values), None, band=None, time_zone="UTC"))  # noqa: S314 - our own text
    lines = [line for line in drawing.iter() if line.tag.endswith("path") and line.get("stroke-linejoin")]
    assert len(lines) == 1
    assert (lines[0].get("d") or "").count("M") == 2


def test_drawing_without_readings_is_empty() -> None:
    assert record_svg(None, None, band=(45.0, 55.0), time_zone="UTC") == ""
    assert record_svg(record(np.full(5, np.nan)), None, band=None, time_zone="UTC") == ""
