"""A loan in the browser: written, its own terms, results, preview, pack; markup stays text; nothing is in the way."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

NARROW, WIDE = 420, 1440
MARKUP = "<img src=x onerror=\"document.title='run'\"><script>document.title='run'</script>"
LOAN = {"id": "7 a", "title": "Winter Light", "frames": ["F01"], "status": "running"}
HOURS = [f"2025-01-{day:02d} {hour:02d}:00:00,20.0,{30 + hour / 8:.2f}" for day in range(1, 32) for hour in range(24)]
VENUE = "\n".join(["Time,Temperature (°C),Humidity (%RH)", *HOURS, ""]).encode()


def opened(chromium: Any, address: str, faults: list[str], *, width: int = WIDE) -> Any:
    page = chromium.new_context(viewport={"width": width, "height": 900}, accept_downloads=True).new_page()
    page.set_default_timeout(20_000)
    page.on("pageerror", lambda error: faults.append(f"script error: {error}"))
    page.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
    page.goto(address)
    page.wait_for_selector("#content h1, #content .message")
    return page


def choose(page: Any, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).click()
    page.get_by_role("option", name=option).click()


def show_part(page: Any, name: str) -> None:
    page.locator(".loan-parts").get_by_role("link", name=name).click()
    page.locator(".loan-parts a.here", has_text=name).wait_for()


def until(page: Any, script: str) -> None:
    """Wait until a script is true; by asking again and again, since the page's own policy forbids evaluating text."""
    for _ in range(100):
        if page.evaluate(script):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never became true: {script}")


def clause(page: Any, number: int, label: str) -> Any:
    return page.locator(f'#own input[id*="clauses:{number}:{label}"]')


def pick(page: Any, number: int, label: str, option: str) -> None:
    clause(page, number, label).click()
    page.get_by_role("option", name=option, exact=True).click()


def issued(page: Any, target: Path) -> bytes:
    """Issue what is previewed, and download it."""
    page.get_by_role("button", name="Issue this pack").click()
    with page.expect_download() as download:
        page.get_by_role("link", name="Download the pack").click()
    download.value.save_as(target)
    return target.read_bytes()


def test_from_a_new_loan_to_a_pack_that_verifies(chromium: Any, two_frames: Any, tmp_path: Path) -> None:
    from isohume.dashboard.papers.verify import verify_pack

    archive, address = two_frames
    faults: list[str] = []
    page = opened(chromium, f"{address}/loans", faults)
    page.get_by_text("No loan yet").wait_for()
    page.locator('input[id*=\'"name":"title"\']').fill(MARKUP)
    page.locator('input[id*=\'"name":"lender"\']').fill(MARKUP)
    page.locator('input[id*=\'"name":"frames"\']').click()
    page.get_by_role("option", name="F01").click()
    page.get_by_role("button", name="Keep this loan").click()
    page.wait_for_url("**/loan/2026-01")
    page.locator("h1", has_text="<script>").wait_for()

    show_part(page, "Terms")
    page.get_by_text("Write them clause by clause").click()
    pick(page, 0, "air", "inside")
    pick(page, 0, "quantity", "relative humidity")
    pick(page, 0, "kind", "range")
    clause(page, 0, "low").fill("60")
    clause(page, 0, "high").fill("45")
    page.get_by_role("button", name="Keep and agree them").click()
    page.get_by_text("its low limit lies above its high one").wait_for()
    clause(page, 0, "low").fill("45")
    clause(page, 0, "high").fill("58")
    page.get_by_role("button", name="Keep and agree them").click()
    page.locator(".terms-agreed li", has_text="stays between 45 and 58 %RH").wait_for()

    show_part(page, "Results")
    page.locator('input[id*="loan-asked"][id*="from"]').fill("2026-01-02")
    page.get_by_role("button", name="Show").click()
    page.locator(".clause.breached", has_text="Breached").wait_for()
    page.wait_for_url("**?from=2026-01-02*")

    show_part(page, "Papers")
    page.locator('input[id*="loan-asked"][id*="from"]').fill("2026-01-02")
    page.locator('input[id*="loan-asked"][id*="to"]').fill("2026-01-31")
    page.get_by_role("button", name="Look at the preview").click()
    page.get_by_role("heading", name="What would leave").wait_for()
    assert "SECRET" not in page.locator("#content").inner_html()
    members = page.locator(".pack-members li > code").all_inner_texts()
    data = issued(page, tmp_path / "pack.zip")
    with zipfile.ZipFile(io.BytesIO(data)) as pack:
        assert sorted(members) == sorted(pack.namelist())
    found = verify_pack(data, key=page.locator(".pack-made .hash").first.inner_text())
    assert found.agrees, found.report()
    assert page.locator("#issued tbody tr").count() == 1
    assert archive.history("evidence")[0]["after"]["loan"] == "2026-01"
    assert page.title() != "run"
    assert faults == []
    page.context.close()


def test_a_venue_s_record_is_uploaded_tried_and_removed(chromium: Any, two_frames: Any) -> None:
    archive, address = two_frames
    archive.put("loans", LOAN)
    faults: list[str] = []
    page = opened(chromium, f"{address}/loan/7%20a/trial", faults)
    for name, data in (("<b>venue</b>.csv", VENUE), ("broken.csv", b"\x00\x01 no")):
        with page.expect_file_chooser() as chooser:
            page.get_by_role("button", name="Choose a file").click()
        chooser.value.set_files([{"name": name, "mimeType": "text/csv", "buffer": data}])
        page.locator(".received", has_text="broken" if "broken" in name else "b>.csv").wait_for()
    page.locator(".received", has_text="broken").get_by_text("cannot be read").wait_for()
    asked = page.locator(".received", has_text="asks a question")
    asked.locator('input[id*="time_zone"]').fill("Europe/Berlin")
    asked.get_by_role("button", name="Read it so").click()
    page.locator(".received", has_text="understood").wait_for()
    for _ in range(2):
        before = page.locator(".received").count()
        page.get_by_role("button", name="Remove this record").first.click()
        until(page, f"document.querySelectorAll('.received').length < {before}")
    assert archive.imports()[0]["file"] != "b>.csv"
    assert faults == []
    page.context.close()


@pytest.fixture
def filled(two_frames: Any) -> str:
    """The address of an archive with a loan whose every text field holds markup."""
    archive, address = two_frames
    texts = dict.fromkeys(("title", "lender", "contact", "note"), MARKUP)
    archive.put("venues", {"id": "V", "name": MARKUP, "address": MARKUP, "contact": MARKUP, "note": MARKUP})
    clauses = [{"air": "inside", "quantity": "rh_percent", "kind": "range", "low": 45, "high": 58, "notice": MARKUP},
               {"air": "room", "quantity": "temperature_celsius", "kind": "range", "low": 16, "high": 25}]  # fmt: skip
    archive.put("terms", {"id": "T", "name": MARKUP, "source": MARKUP, "note": MARKUP, "clauses": clauses})
    archive.put("loans", {**LOAN, **texts, "frames": ["F01", "F02", "F9"], "terms": "T"})
    told = dict.fromkeys(("crate", "courier", "handover", "note"), MARKUP)
    archive.put("legs", {"loan": "7 a", "from": "2026-01-02", "to": "2026-02-01", "venue": "V", **told})
    return str(address)


FITS = "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
PATHS = {
    "/loans": ".loans-list", "/loan/7%20a": ".legs", "/loan/7%20a/terms": ".terms-agreed",
    "/loan/7%20a/results": ".clauses", "/loan/7%20a/trial": ".venue-records",
    "/loan/7%20a/papers?frame=F01": ".pack-preview", "/loan/..%2F..%2Fetc": ".message", "/loan/7%20a/none": ".message",
}  # fmt: skip


def test_markup_is_text_and_no_part_has_a_serious_barrier(chromium: Any, filled: str) -> None:
    faults: list[str] = []
    page = opened(chromium, f"{filled}/loans", faults)
    for path, shown in PATHS.items():
        page.goto(filled + path)
        page.locator(shown).first.wait_for()
        assert page.title() != "run", path
        assert page.locator("#content img[onerror], #content script").count() == 0, path
        for width in (NARROW,) if shown == ".message" else (WIDE, NARROW):
            page.set_viewport_size({"width": width, "height": 900})
            until(page, FITS)  # pictures follow the window a moment later
            serious = [
                f"{path} at {width}: {barrier['id']}: {[node['html'][:160] for node in barrier['nodes'][:3]]}"
                for barrier in Axe().run(page).response["violations"]
                if barrier["impact"] in {"serious", "critical"}
            ]
            assert serious == []
    assert [one for one in faults if "404" not in one] == []
    page.context.close()
