"""The visual language stands in two places, which must agree; the small pictures stay small and safe."""

from __future__ import annotations

import ast
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.results import Ratio, Standing
from isohume.dashboard import theme
from isohume.dashboard.components import glyphs
from isohume.dashboard.components.picture import drawing, drawing_uri, in_words
from isohume.dashboard.components.waves import waves
from isohume.dashboard.views import SmallPicture

DASHBOARD = Path(__file__).parents[2] / "dashboard"
STANDINGS = list(glyphs.URGENCY)


def picture(n: int = 52) -> SmallPicture:
    weeks = np.arange(n)
    inside = 47 + 5 * np.sin(weeks / 8)
    inside[10:14] = np.nan
    return SmallPicture(
        end_utc=pd.Timestamp("2026-11-20", tz="UTC"), inside=inside, room_low=inside - 8, room_high=inside + 6
    )


def test_colours_of_figures_and_pages_are_the_same() -> None:
    tokens = dict(re.findall(r"--([\w-]+): (#[0-9A-F]{6});", (DASHBOARD / "assets/10_tokens.css").read_text("utf-8")))
    pairs = {
        "paper": theme.PAPER,
        "sheet": theme.SHEET,
        "ink": theme.INK,
        "quiet": theme.QUIET,
        "hairline": theme.HAIRLINE,
        "inside": theme.INSIDE_COLOUR,
        "room": theme.ROOM_COLOUR,
        "band": theme.BAND_COLOUR,
        "act": theme.VERMILION,
        "soon": theme.ORANGE,
        "calm": theme.BLUISH_GREEN,
        "unknown": theme.QUIET,
    }
    assert {name: tokens[name] for name in pairs} == pairs


def test_every_graph_goes_through_the_one_helper() -> None:
    # Only there is the button left out that would upload a chart to a cloud.
    for path in DASHBOARD.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Attribute) and node.attr == "Graph":
                assert path.name == "blocks.py", f"{path} builds a graph by itself; use components.blocks.graph"


def test_nothing_in_the_assets_asks_another_host() -> None:
    for path in (DASHBOARD / "assets").rglob("*"):
        if path.suffix in {".css", ".js"}:
            assert not re.search(r"(https?:)?//[a-z0-9.-]+\.[a-z]{2,}", path.read_text("utf-8")), path


def test_every_bundled_font_stands_beside_its_licence() -> None:
    fonts = DASHBOARD / "assets/fonts"
    families = {re.match(r"source-\w+-\d", path.name)[0] for path in fonts.glob("*.woff2")}
    assert families
    for family in families:
        assert "SIL OPEN FONT LICENSE" in (fonts / f"LICENSE-{family}.txt").read_text("utf-8").upper()


def test_signs_of_standing_differ_without_their_colours() -> None:
    def outline(name: str, direction: str | None) -> str:
        return re.sub(r"%23[0-9A-F]{6}|#[0-9A-F]{6}", "", glyphs.standing_uri(name, direction))

    drawn = [outline(name, None) for name in STANDINGS]
    drawn += [outline(name, "too damp") for name in ("needs reconditioning", "leaving band")]
    assert len(set(drawn)) == len(drawn)


@pytest.mark.parametrize("name", STANDINGS)
def test_a_sign_is_a_whole_drawing(name: str) -> None:
    uri = glyphs.standing_sign(Standing(name=name)).src
    ET.fromstring(unquote(uri.removeprefix("data:image/svg+xml,")))  # noqa: S314 - our own text


def test_the_small_picture_is_light_and_whole() -> None:
    uri = drawing_uri(picture(), band=(45.0, 55.0))
    assert len(uri) < 4_000
    svg = ET.fromstring(unquote(uri.removeprefix("data:image/svg+xml,")))  # noqa: S314 - our own text
    lines = [node for node in svg if node.tag.endswith("polyline")]
    assert len(lines) == 2, "a gap of four weeks splits the line"
    assert "42 to 52 %RH" in in_words(picture(), zone="Europe/Berlin", estimated=False)


def test_an_estimated_frame_is_drawn_differently() -> None:
    assert "stroke-dasharray" in drawing(picture(), band=None, estimated=True)
    assert "stroke-dasharray" not in drawing(picture(), band=None, estimated=False)
    known = picture()
    hatched = replace(known, inside_low=known.inside - 3, inside_high=known.inside + 3)
    drawn = ET.fromstring(drawing(hatched, band=None, estimated=True))  # noqa: S314 - our own text
    interval = [part for part in drawn if part.get("fill") == "url(#h)"]
    assert len(interval) == 2, "the gap of four weeks parts it in two"
    assert "url(#h)" not in drawing(known, band=None, estimated=True)


def test_a_frame_without_readings_has_a_picture_that_says_so() -> None:
    nothing = np.full(52, np.nan)
    empty = SmallPicture(end_utc=pd.Timestamp.now("UTC"), inside=nothing, room_low=nothing, room_high=nothing)
    assert "No usable inside readings" in in_words(empty, zone="UTC", estimated=False)


def test_waves_stand_in_the_measured_ratio() -> None:
    svg = unquote(waves(Ratio(ratio=4.0, low=3.0, high=5.0), cycles=3).src)
    heights = []
    for points in re.findall(r'<polyline points="([^"]+)"', svg):
        y = np.array([float(pair.split(",")[1]) for pair in points.split()])
        heights.append(np.ptp(y))
    assert heights[0] / heights[1] == pytest.approx(4.0, rel=0.02)  # one decimal of a pixel


def test_markup_in_a_name_is_disarmed_for_figures() -> None:
    assert theme.as_plot_text("<b>&</b>") == "&lt;b&gt;&amp;&lt;/b&gt;"
