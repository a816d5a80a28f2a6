"""The Methods page in a browser: found by its anchors, readable at both widths and on paper.

`test_pages.py` looks for hurdles on it as on every page.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Visit = Callable[..., Any]
NARROW, WIDE = 420, 1440


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_nothing_reaches_beyond_the_screen(visit: Visit, width: int) -> None:
    page = visit("/methods", width=width)
    page.wait_for_selector("#cautions")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    # Formulas cannot be scrolled by keyboard, so they may not need to be.
    beyond = page.evaluate(
        "[...document.querySelectorAll('.formula')].filter((one) => one.scrollWidth > one.clientWidth + 1).length"
    )
    assert beyond == 0


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
