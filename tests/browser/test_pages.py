"""The pages as a person meets them: look, click, zoom, share an address, use the keyboard, use a narrow screen."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe

Visit = Callable[..., Any]
NARROW, WIDE = 420, 1440


def drawn_points(page: Any) -> int:
    """Count the points of the inside line in the record figure."""
    return page.evaluate(
        "() => { const g = document.querySelector('#frame-record .js-plotly-plot') ||"
        " document.querySelector('#frame-record.js-plotly-plot');"
        " const t = g && g._fullData && g._fullData.find((one) => one.name === 'Inside'); return t ? t.x.length : 0; }"
    )


def until(page: Any, script: str) -> None:
    """Wait until a script is true; by asking again and again, since the page's own policy forbids evaluating text."""
    for _ in range(100):
        if page.evaluate(script):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never became true: {script}")


def wait_for_record(page: Any) -> None:
    page.wait_for_selector("#frame-record .scatterlayer .trace path")
    page.wait_for_selector("#frame-season .scatterlayer .trace path")


def test_from_all_frames_to_the_figures_of_one(visit: Visit) -> None:
    page = visit("/frames")
    assert page.title().startswith("Frames")
    rows = page.locator(".frame-row")
    assert rows.count() == 9
    first = rows.nth(1)
    assert "needs reconditioning, too dry" in first.inner_text()
    assert first.locator("img.small-picture").evaluate("image => image.complete && image.naturalWidth > 0")
    first.get_by_role("link").click()
    page.wait_for_url("**/frame/F02")
    wait_for_record(page)
    assert "Harbour under Snow" in page.locator("h1").inner_text()
    assert drawn_points(page) > 1000
    assert page.locator(".js-plotly-plot").count() >= 4
    assert page.locator("img.waves").count() == 3
    assert page.locator(".modebar-btn").count() == 0
    page.go_back()
    page.wait_for_selector(".frame-row")


def test_a_stretch_of_the_record_can_be_shown_and_shared(visit: Visit) -> None:
    page = visit("/frame/F02")
    wait_for_record(page)
    page.get_by_text("30 days", exact=True).click()
    until(page, "document.querySelector('#frame-window-words').innerText.startsWith('21 Oct 2026')")
    page.get_by_role("button", name="earlier").click()
    until(page, "location.search.includes('from=')")
    shared = urlsplit(page.url)
    asked = parse_qs(shared.query)
    assert asked["to"] == ["2026-11-05T07:00Z"]
    again = visit(f"{shared.path}?{shared.query}")
    wait_for_record(again)
    assert again.locator("#frame-window-words").inner_text() == "6 Oct 2026, 09:00 to 5 Nov 2026, 08:00"


def test_dragging_across_the_record_looks_closer(visit: Visit) -> None:
    page = visit("/frame/F02")
    wait_for_record(page)
    page.locator("#frame-record").scroll_into_view_if_needed()
    box = page.locator("#frame-record .nsewdrag").first.bounding_box()
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.55 * box["width"], box["y"] + 110, steps=6)
    page.mouse.up()
    until(page, "location.search.includes('from=')")
    until(page, "document.querySelector('#frame-window-words').innerText.includes('2026')")
    assert 0 < drawn_points(page) < 1000


def test_an_excursion_of_the_list_is_shown_in_the_record(visit: Visit) -> None:
    page = visit("/frame/F02")
    wait_for_record(page)
    before = page.locator("#frame-window-words").inner_text()
    page.locator("#excursions .text-button").first.click()
    until(page, f"document.querySelector('#frame-window-words').innerText !== '{before}'")


def test_older_excursions_come_on_demand_and_leave_the_picture_alone(visit: Visit) -> None:
    page = visit("/frame/F02")
    wait_for_record(page)
    before = page.locator("#frame-window-words").inner_text()
    listed = page.locator("#excursions tbody tr").count()
    page.get_by_role("button", name="older").click()
    until(page, f"document.querySelectorAll('#excursions tbody tr').length > {listed}")
    assert page.locator("#frame-window-words").inner_text() == before


def test_search_and_filter_narrow_the_list_and_the_address(visit: Visit) -> None:
    page = visit("/frames")
    page.get_by_label("Search").fill("gallery")
    until(page, "document.querySelectorAll('.frame-row').length === 4")
    page.locator(".chips label", has_text="check seal").click()
    until(page, "document.querySelectorAll('.frame-row').length === 1")
    assert parse_qs(urlsplit(page.url).query) == {"q": ["gallery"], "show": ["check seal"]}
    page.get_by_label("Search").fill("nothing of the kind")
    page.wait_for_selector("text=No frame fits")


def test_the_list_is_ordered_as_asked_and_keeps_its_groups(visit: Visit) -> None:
    page = visit("/frames?sort=name")
    order = page.locator(".frame-id").all_inner_texts()
    assert [name.strip() for name in order] == ["F02", "F03", "F04", "F05", "F07", "F09", "F01", "F06", "F08"]
    assert page.locator(".group h2").all_inner_texts() == ["Needs a decision 6", "Nothing to decide 3"]


def test_markup_in_a_name_is_shown_as_text(visit: Visit) -> None:
    page = visit("/frames?q=script")
    assert "<script>alert(1)</script> & Sons" in page.locator(".frame-row h3").inner_text()
    page = visit("/frame/F06")
    assert "<script>alert(1)</script> & Sons" in page.locator("h1").inner_text()


def test_the_keyboard_reaches_the_page_and_its_frames(visit: Visit) -> None:
    page = visit("/frames")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip-link"
    link = page.locator(".frame-row a").nth(2)
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/frame/F07")


@pytest.mark.parametrize("path", ["/frames", "/frame/F02", "/methods", "/frame/F99"])
@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_a_page_fits_its_screen_and_has_no_serious_barrier(visit: Visit, path: str, width: int) -> None:
    page = visit(path, width=width)
    if path == "/frame/F02":
        wait_for_record(page)
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    found = Axe().run(page).response["violations"]
    serious = [
        f"{barrier['id']}: {barrier['help']}: {[node['html'][:160] for node in barrier['nodes'][:3]]}"
        for barrier in found
        if barrier["impact"] in {"serious", "critical"}
    ]
    assert serious == []
