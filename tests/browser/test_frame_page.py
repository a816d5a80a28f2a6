"""A frame's page in the browser: findings that come, an event and a photograph added in place, an estimate."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image

NARROW, WIDE = 420, 1440
MARKUP = "<img src=x onerror=alert(1)>"


def serious(page: Any) -> list[str]:
    return [
        f"{barrier['id']}: {[node['html'][:160] for node in barrier['nodes'][:3]]}"
        for barrier in Axe().run(page).response["violations"]
        if barrier["impact"] in {"serious", "critical"}
    ]


def until(page: Any, script: str) -> None:
    """Wait until a script is true, by asking: the page's own policy forbids evaluating text while it waits."""
    for _ in range(300):
        if page.evaluate(script):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never became true: {script}")


def test_findings_come_and_an_event_and_a_photograph_are_added_in_place(chromium: Any, two_frames: Any) -> None:
    archive, address = two_frames
    frame = archive.frame_ids()[0]
    page = chromium.new_page(viewport={"width": WIDE, "height": 900})
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("dialog", lambda dialog: faults.append(dialog.message))

    # The list is there at once; the findings follow by themselves.
    page.goto(f"{address}/frames")
    page.wait_for_selector(".frame-row")
    until(page, "!document.querySelector('.frame-row.waiting') && !document.querySelector('.findings-waiting')")

    page.goto(f"{address}/frame/{frame}")
    page.locator("#add-event summary").click()
    form = page.locator(".add-event")
    form.get_by_label("Humidity").wait_for()
    assert serious(page) == []
    form.get_by_label("Humidity").fill("147")
    form.get_by_role("button", name="Add: strip read").click()
    page.get_by_text("Not kept.").wait_for()
    assert all(row["kind"] != "strip read" for row in archive.records("events"))
    form.get_by_label("When").fill("2026-01-20 10:00")
    form.get_by_label("Humidity").fill("47,5")
    form.get_by_label("Note").fill(MARKUP)
    form.get_by_role("button", name="Add: strip read").click()
    row = page.locator("#events tbody tr", has_text="strip read")
    row.wait_for()
    assert MARKUP in row.inner_text()
    assert "at 47.5 %RH" in row.inner_text()

    page.locator("#add-event summary").click()
    page.locator("#frame-photograph-time").fill("2026-01-21 10:00")
    page.locator("#frame-photograph-note").fill(MARKUP)
    for name, data, answer in (("no.png", b"<svg onload=alert(1)>", "no JPEG, PNG or WebP"), ("recto.png", None, "")):
        held = io.BytesIO()
        Image.new("RGB", (40, 30), "#0072B2").save(held, "PNG")
        with page.expect_file_chooser() as chooser:
            page.locator("#frame-photograph-choose").click()
        chooser.value.set_files([{"name": name, "mimeType": "image/png", "buffer": data or held.getvalue()}])
        if answer:
            page.get_by_text(answer).wait_for()
    page.locator("#events img.photograph").wait_for()
    until(page, "document.querySelector('#events img.photograph').naturalWidth === 40")
    assert page.locator("#events img.photograph").get_attribute("alt") == MARKUP

    # Its history stands in the register.
    until(page, "!document.querySelector('.findings-waiting')")
    page.locator("#events tbody tr", has_text="strip read").get_by_role("link", name="change").click()
    page.wait_for_url("**/register/events/**")
    page.get_by_text("added").first.wait_for()
    page.close()
    assert faults == []


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_an_estimated_frame_is_seen_to_be_one(visit: Callable[..., Any], width: int) -> None:
    page = visit("/frame/F08", width=width)
    page.wait_for_selector("#frame-record .scatterlayer .trace path")
    page.wait_for_selector("#frame-terms-result table")
    assert page.locator(".estimated-mark").inner_text() == "Estimated: no logger inside. Not evidence."
    assert page.locator(".verdict.estimated").count() == 1
    drawn = page.evaluate(
        "() => { const g = document.querySelector('#frame-record .js-plotly-plot') ||"
        " document.querySelector('#frame-record.js-plotly-plot');"
        " const told = (one) => [one.name, [(one.line || {}).dash, (one.fillpattern || {}).shape]];"
        " return Object.fromEntries(g._fullData.map(told)); }"
    )
    assert drawn["Inside, estimated"][0] == "6px,4px"
    assert drawn["Inside, estimated: 95 % interval"][1] == "/"
    assert page.locator(".parts a").all_inner_texts()[2] == "Needs a logger"
    assert page.locator("#exchange").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert serious(page) == []


def test_terms_are_judged_as_chosen_and_the_address_says_which(visit: Callable[..., Any]) -> None:
    page = visit("/frame/F02?terms=published%3ABizot%20Green%20Protocol%20(refreshed)%2C%202023&air=room&period=90")
    page.wait_for_selector("#frame-terms-result table")
    assert "in the room" in page.locator("#frame-terms-result tbody").inner_text()
    page.locator("#frame-terms-period").click()
    page.get_by_role("option", name="whole record").click()
    until(page, "document.querySelector('#frame-terms-result caption').innerText.includes('2025')")
    until(page, "location.search.includes('period=all')")
