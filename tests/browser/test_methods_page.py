"""The Methods page in a browser: found by its anchors, readable at both widths and on paper, no serious hurdle."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

Visit = Callable[..., Any]
NARROW, WIDE = 420, 1440


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_methods_can_be_read_by_everyone(visit: Visit, width: int) -> None:
    page = visit("/methods", width=width)
    page.wait_for_selector("#cautions")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    found = Axe().run(page)
    serious = [rule for rule in found.response["violations"] if rule["impact"] in {"serious", "critical"}]
    assert not serious, [(rule["id"], [node["html"][:200] for node in rule["nodes"][:3]]) for rule in serious]


def test_a_link_to_a_method_leads_there_and_its_table_can_be_taken_along(visit: Visit) -> None:
    page = visit("/methods#seal")
    page.wait_for_function("() => Math.abs(document.getElementById('seal').getBoundingClientRect().top) < 200")
    for image in page.locator("#seal img").all():
        image.scroll_into_view_if_needed()
        page.wait_for_function(
            "() => [...document.querySelectorAll('#seal img')].every((one) => one.naturalWidth > 0)"
        )
    with page.expect_download() as told:
        page.locator("#table-seal_found a", has_text="CSV").click()
    assert told.value.suggested_filename == "isohume_methods_seal_found.csv"


def test_on_paper_the_page_keeps_its_text_and_loses_its_controls(visit: Visit) -> None:
    page = visit("/methods")
    page.wait_for_selector("#cautions")
    page.emulate_media(media="print")
    assert page.locator(".methods-page .parts").is_hidden()
    assert page.locator("#table-exchange .as-file").is_hidden()
    assert page.locator("#table-exchange .aims").is_visible()
    assert page.locator("#cautions").is_visible()
