"""The register in the browser: described by forms, changed, put back; markup is text; nothing is in the way."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

NARROW, WIDE = 420, 1440
MARKUP = "<img src=x onerror=\"document.title='run'\"><script>document.title='run'</script>"
KINDS = ("loggers", "placements", "calibrations", "recipes", "loans", "documents")
FORMS = ("frames", "calibrations", "documents")


def opened(chromium: Any, address: str, faults: list[str], *, width: int = WIDE) -> Any:
    page = chromium.new_page(viewport={"width": width, "height": 900})
    page.set_default_timeout(10_000)
    page.on("pageerror", lambda error: faults.append(f"script error: {error}"))
    page.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    page.goto(address)
    page.wait_for_selector("#content h1")
    return page


def show(page: Any, address: str) -> None:
    """Open another part without loading the scripts anew."""
    before = page.locator(".records-page h1").element_handle()
    page.evaluate("path => window.dash_clientside.set_props('url', { pathname: path })", address)
    before.wait_for_element_state("hidden")
    page.wait_for_selector(".records-page h1")


def keep(page: Any, button: str) -> None:
    page.get_by_role("button", name=button).click()


def choose(page: Any, label: str, option: str) -> None:
    page.get_by_role("textbox", name=label).click()
    page.get_by_role("option", name=option).click()


def test_a_frame_its_room_and_its_logger_are_described_by_forms(chromium: Any, two_frames: Any) -> None:
    archive, address = two_frames
    faults: list[str] = []
    page = opened(chromium, f"{address}/register", faults)
    page.get_by_role("link", name="Rooms", exact=True).click()
    page.get_by_role("link", name="Add a room").click()
    page.get_by_label("Short name").fill("R9")
    page.get_by_label("Name", exact=True).fill("Tower room")
    keep(page, "Keep this room")
    page.wait_for_url("**/register/rooms/R9")

    show(page, "/register/frames/~new")
    page.get_by_label("Frame", exact=True).fill("F9")
    page.get_by_label("Painting").fill(MARKUP)
    page.get_by_label("Agreed band, from").fill("45")
    keep(page, "Register the frame")
    page.get_by_text("one limit only").wait_for()
    page.get_by_label("Agreed band, to").fill("55,5")
    choose(page, "Room", "R9 · Tower room")
    keep(page, "Register the frame")
    page.wait_for_url("**/register/frames/F9")
    page.locator("h1", has_text="<script>").wait_for()
    assert archive.record("frames", {"id": "F9"})["band"] == [45, 55.5]
    assert page.locator("#its-locations a").first.inner_text().startswith("R9 · Tower room, from 16 Feb 2026")

    show(page, "/register/loggers/~new")
    page.get_by_label("Short name").fill("L9")
    page.get_by_label("Uncertainty").fill("two")
    keep(page, "Keep this logger")
    page.get_by_text("Write a number from 0 to 100 [%RH], such as 12.5").wait_for()
    page.get_by_label("Uncertainty").fill("2")
    keep(page, "Keep this logger")
    page.wait_for_url("**/register/loggers/L9")
    page.get_by_role("link", name="Add a placement").click()
    choose(page, "Frame, measured inside", "F9")
    page.get_by_label("From", exact=True).fill("2026-01-05 09:30")
    keep(page, "Keep this placement")
    page.wait_for_url("**/register/placements/L9~~2026*")
    assert archive.records("placements")[-1]["from"] == "2026-01-05T08:30:00.000000Z"

    show(page, "/register/placements/~new~logger~L9")
    choose(page, "Room, measured", "R9 · Tower room")
    page.get_by_label("From", exact=True).fill("2026-02-01")
    keep(page, "Keep this placement")
    page.get_by_text("one place at a time").wait_for()
    page.close()
    assert faults == []


def test_a_change_stands_in_the_history_and_can_be_put_back(chromium: Any, two_frames: Any) -> None:
    archive, address = two_frames
    faults: list[str] = []
    page = opened(chromium, f"{address}/register/frames/F01", faults)
    page.get_by_label("Owner").fill(MARKUP)
    page.get_by_label("Thickness").fill("12")
    keep(page, "Keep")
    page.get_by_text("Kept: changed just now.").wait_for()
    first = page.locator("#register-history li").first
    assert "SECRETOWNER → <img" in first.inner_text().replace("\n", " ")
    assert "Panel: thickness" in first.inner_text()
    keep(page, "Keep")
    page.get_by_text("Nothing was changed.").wait_for()
    first.get_by_role("button", name="Put back").click()
    page.get_by_text("12 mm → 9 mm").wait_for()
    assert archive.record("frames", {"id": "F01"})["owner"] == "SECRETOWNER"
    assert archive.record("frames", {"id": "F01"})["panel"]["thickness_mm"] == 9

    page.get_by_text("Retire or remove").click()
    page.get_by_text("It cannot be removed.").wait_for()
    show(page, "/register/venues/~new")
    page.get_by_label("Short name").fill("a/b ~ö")
    keep(page, "Keep this venue")
    page.wait_for_selector(".ends summary")
    page.get_by_text("Remove", exact=True).click()
    keep(page, "Remove this venue")
    page.wait_for_url("**/register/venues")
    page.get_by_text("No venues yet").wait_for()
    assert page.title() != "run"
    page.close()
    assert faults == []


def test_markup_in_every_text_field_of_a_logger_is_text(chromium: Any, two_frames: Any) -> None:
    archive, address = two_frames
    archive.put("loggers", {"id": "L1" + MARKUP, "serial": MARKUP, "files": [MARKUP], "note": MARKUP})
    archive.put("calibrations", {"logger": "L1" + MARKUP, "channel": MARKUP, "date": "2026-01-01", "offset_percent": 1,
                                 "certificate": MARKUP, "as_found": {MARKUP: MARKUP}, "note": MARKUP})  # fmt: skip
    faults: list[str] = []
    page = opened(chromium, f"{address}/register/loggers", faults)
    page.get_by_role("link", name="L1<img").click()
    page.wait_for_selector(".record-form")
    for path in ("/register/calibrations", "/register/trail", "/register"):
        page.goto(address + path)
        page.wait_for_selector(".records-page h1")
        page.wait_for_timeout(100)
        assert page.locator("#content img[src=x]").count() == 0
        assert page.title() != "run"
    page.close()
    assert faults == []


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_every_part_fits_its_screen_and_has_no_serious_barrier(chromium: Any, two_frames: Any, width: int) -> None:
    archive, address = two_frames
    archive.put("terms", {"id": "T1", "clauses": [
        {"air": "inside", "quantity": "rh_percent", "kind": "range", "low": 45.0, "high": 55.0}]})  # fmt: skip
    archive.put("frames", {"id": "F01", "terms": "T1"})
    faults: list[str] = []
    page = opened(chromium, f"{address}/register", faults, width=width)
    narrow = ["/frames", "/events", "/trail", "/storage", "/description", "/frames/F01", "/terms/T1", "/users/~new"]
    wide = [
        "",
        "/proof",
        "/frames/F77",
        "/collection",
        *(f"/{kind}" for kind in KINDS),
        *(f"/{kind}/~new" for kind in FORMS),
    ]
    barriers = {}
    for path in narrow if width == NARROW else [*narrow, *wide]:
        show(page, f"/register{path}")
        page.wait_for_timeout(50)
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), path
        found = [one for one in Axe().run(page).response["violations"] if one["impact"] in {"serious", "critical"}]
        barriers |= {(path, one["id"]): [node["html"][:160] for node in one["nodes"][:2]] for one in found}
    page.close()
    assert barriers == {}
    assert faults == []
