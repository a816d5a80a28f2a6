"""The workbench in the browser: reckoned as one types, shared by its address, kept by whoever may."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

Visit = Callable[..., Any]
NARROW, WIDE = 420, 1440
expect.set_options(timeout=20_000)  # on a busy machine
TOOLS = ("", "/before-it-is-built", "/reconditioning", "/salts", "/plant-failure")


def figure(page: Any, label: str) -> Any:
    """The number under a label of the key figures."""
    return page.locator(".key-figures div", has=page.get_by_text(label, exact=True)).locator(".value").first


def test_a_frame_on_paper_follows_what_is_typed_and_its_address_can_be_shared(visit: Visit) -> None:
    page = visit("/workbench")
    page.get_by_role("link", name="Before it is built").click()
    page.wait_for_url("**/workbench/before-it-is-built")
    expect(figure(page, "Half-time")).to_have_text("11 months")
    page.get_by_label("Air changes").fill("20")
    expect(figure(page, "Half-time")).not_to_have_text("11 months")
    page.get_by_label("Rebate, depth").fill("20")
    expect(figure(page, "Collar")).to_have_text("6.9 mm")
    half = figure(page, "Half-time").inner_text()
    shared = urlsplit(page.url)
    typed = parse_qs(shared.query)
    assert (typed["exchange"], typed["rebate"]) == (["20"], ["20"])
    again = visit(f"{shared.path}?{shared.query}")
    assert again.get_by_label("Air changes").input_value() == "20"
    assert again.get_by_label("Rebate, depth").input_value() == "20"
    expect(figure(again, "Half-time")).to_have_text(half)
    expect(figure(again, "Collar")).to_have_text("6.9 mm")
    drawing = again.locator("img.workbench-section")
    assert drawing.evaluate("image => image.complete && image.naturalWidth > 0")
    assert "rebate 20 mm" in drawing.get_attribute("alt")


def test_an_answer_that_was_overtaken_is_dropped(visit: Visit) -> None:
    # The server answers several requests at once; which comes last is chance, so the rule itself is asked.
    shown = visit("/workbench").evaluate(
        """() => {
          const answer = { values: ["3", null], content: "of 3", faults: [null, null] };
          const ask = (values) => window.dash_clientside.isohume.workbench_answer(answer, values);
          return [ask(["3", null])[0], ask(["4", null])[0] === window.dash_clientside.no_update];
        }"""
    )
    assert shown == ["of 3", True]


def test_nonsense_is_told_at_its_field_as_text(visit: Visit) -> None:
    page = visit("/workbench/before-it-is-built")
    field, told = page.get_by_label("Air volume"), page.locator(".mantine-InputWrapper-error")
    for text, said in (("<img src=x onerror=alert(1)>", "Not a number"), ("1e308", "Out of range"), ("", "Needed")):
        field.fill(text)
        expect(told).to_contain_text(f"{said}: 0.01 to")
        assert field.get_attribute("aria-invalid") == "true"
        assert told.get_attribute("id") in field.get_attribute("aria-describedby")
    expect(page.locator("#climate .workbench-result")).to_contain_text("No result yet.")
    expect(page.locator("#build-up .workbench-result")).to_contain_text("Collar")
    field.fill("3")
    expect(figure(page, "Half-time")).to_have_text("11 months")


def test_from_a_frame_to_its_water_a_calibration_kept_and_a_plant_that_fails(
    chromium: Any, two_frames: tuple[Any, str]
) -> None:
    held, address = two_frames
    page = chromium.new_page()
    page.goto(f"{address}/workbench/reconditioning")
    page.get_by_role("textbox", name="Fill in from a frame").click()
    page.get_by_role("option", name="F01").click()
    expect(page.get_by_label("Thickness")).to_have_value("9")
    expect(page.get_by_label("Panel, as weighed")).to_have_value("")
    expect(page.locator(".workbench-result")).to_contain_text("No amount of water: the mass of the panel")
    page.get_by_label("Panel, as weighed").fill("0.8")
    page.get_by_label("Board, dry").fill("0.3")
    page.get_by_label("Wood lining, dry").fill("0.1")
    expect(page.locator(".workbench-result")).to_contain_text("Water to add")
    assert "frame=F01" in page.url

    page.goto(f"{address}/workbench/salts")
    page.get_by_role("textbox", name="Logger", exact=True).click()
    page.get_by_role("option", name="L03").click()
    page.get_by_label("Done on").fill("2026-02-01")
    page.wait_for_url("**date=2026-02-01**")
    page.get_by_role("button", name="Keep as a calibration").click()
    page.get_by_text("Kept as a calibration of logger L03 from 1 Feb 2026").wait_for()
    kept = [row for row in held.records("calibrations") if row["logger"] == "L03"]
    assert [row["method"] for row in kept] == ["salts"]

    page.goto(f"{address}/workbench/plant-failure")
    page.get_by_label("Relative humidity").fill("30")
    page.wait_for_url("**rh=30**")
    expect(page.locator(".workbench-result")).to_contain_text("Not reckoned yet")
    page.get_by_role("button", name="Reckon all frames").click()
    expect(page.locator(".workbench-result table")).to_contain_text("=Two Herons", timeout=60_000)
    expect(page.locator(".workbench-result")).to_contain_text("All rooms go to 30 %RH and 12 °C")
    assert page.get_by_label("Relative humidity").input_value() == "30"
    with page.expect_download() as download:
        page.get_by_role("link", name="Sheet as PDF").click()
    assert download.value.path().read_bytes().startswith(b"%PDF")
    page.close()


@pytest.mark.parametrize("tool", TOOLS)
def test_a_tool_fits_its_screen_and_has_no_serious_barrier(visit: Visit, tool: str) -> None:
    page = visit(f"/workbench{tool}", width=NARROW)
    if tool == "/before-it-is-built":
        page.wait_for_selector(".scatterlayer .trace path")
        page.get_by_label("Air volume").fill("-1")
        page.wait_for_selector(".mantine-InputWrapper-error")
    for width in (NARROW, WIDE):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        found = Axe().run(page).response["violations"]
        serious = [
            f"{width}: {barrier['id']}: {barrier['help']}: {[node['html'][:160] for node in barrier['nodes'][:3]]}"
            for barrier in found
            if barrier["impact"] in {"serious", "critical"}
        ]
        assert serious == []
