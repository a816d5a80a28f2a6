"""A month reviewed in the browser: looked at, decided, signed, frozen; a late file becomes an addendum."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from axe_playwright_python.sync_playwright import Axe

from isohume.dashboard.papers.review import month_review
from isohume.dashboard.papers.review_frame import Decision
from isohume.dashboard.papers.review_rows import note_decision, sign
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

NARROW, WIDE = 420, 1440
MARKUP = "<img src=x onerror=alert(1)>"


def late_file(level: float) -> bytes:
    """Readings of 21 to 23 January 2026, which the first file lacks."""
    start = pl.datetime(2026, 1, 21, 20, time_zone="UTC")
    table = pl.select(time=pl.datetime_range(start, start + pl.duration(hours=47), "1h"))
    values = level + 0.1 * np.sin(np.arange(table.height))
    lines = [
        f"{time:%Y-%m-%d %H:%M:%S},20.{place % 9},{values[place]:.2f}" for place, (time,) in enumerate(table.rows())
    ]
    return "\n".join(["Time,Temperature (°C),Humidity (%RH)", *lines, ""]).encode()


@pytest.fixture(scope="module")
def reviewed_folder(two_frames_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The archive of two frames, with its January computed."""
    folder = tmp_path_factory.mktemp("reviewed") / "archive"
    shutil.copytree(two_frames_folder, folder)
    with Archive.open(folder) as held:
        month_review(held, "2026-01")
    return folder


@pytest.fixture
def reviewed(reviewed_folder: Path, tmp_path: Path, serving: Callable[..., Any]) -> Iterator[tuple[Any, str]]:
    """A copy of it, and the address at which its pages are served."""
    shutil.copytree(reviewed_folder, tmp_path / "archive")
    with Archive.open(tmp_path / "archive") as held, serving(Store(held)) as found:
        yield held, found


@pytest.fixture
def opened(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Open an address; a script error, or a request that leaves the server, fails the test."""
    contexts, faults = [], []

    def visit(address: str, path: str) -> Any:
        context = chromium.new_context(viewport={"width": WIDE, "height": 900})
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(f"script error: {error}"))
        page.on(
            "request", lambda asked: None if asked.url.startswith((address, "data:")) else faults.append(asked.url)
        )
        page.on("dialog", lambda dialog: faults.append(f"dialog: {dialog.message}"))
        page.goto(address + path)
        page.wait_for_selector("#content h1")
        return page

    yield visit
    for context in contexts:
        context.close()
    assert faults == []


def serious(page: Any) -> list[str]:
    return [
        f"{barrier['id']}: {[node['html'][:160] for node in barrier['nodes'][:3]]}"
        for barrier in Axe().run(page).response["violations"]
        if barrier["impact"] in {"serious", "critical"}
    ]


def fits_without_barrier(page: Any) -> None:
    for width in (WIDE, NARROW):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        assert serious(page) == []


def test_a_month_is_reviewed_signed_and_amended(two_frames: tuple[Any, str], opened: Callable[..., Any]) -> None:
    archive, address = two_frames
    archive.put("collection", {"second_signature": True})
    page = opened(address, "/month")  # computed while it is waited for
    page.get_by_role("heading", name="January 2026").wait_for()
    page.wait_for_selector(".month-frame")
    assert page.locator(".month-frame").count() == 2
    first = page.locator(".month-frame", has_text="Two Herons")
    assert "Dec 2025" in first.inner_text()
    if first.locator("details").count():
        first.locator("summary").click()
    first.get_by_label("Decision or note for F01").fill(f"Recondition {MARKUP}")
    first.get_by_label("Who for F01").fill("A. <b>Sommer</b>")
    first.get_by_label("Until for F01").fill("2026-02-20")
    page.keyboard.press("Tab")
    planned = page.locator("#month-planned tr", has_text=f"Recondition {MARKUP}")
    planned.get_by_text("2026-02-20").wait_for()

    page.get_by_role("button", name="Sign this review").click()
    page.get_by_text("Nobody is named").wait_for()
    page.get_by_label("Remarks on the whole").fill(f"Seen {MARKUP}")
    page.get_by_label("Your name").fill(f"A. Sommer {MARKUP}")
    page.get_by_role("button", name="Sign this review").click()
    page.locator(".month-state.signed", has_text=f"by A. Sommer {MARKUP}").wait_for()

    page.get_by_label("Your name").fill(f"a.  sommer {MARKUP}")
    page.get_by_role("button", name="Sign as second").click()
    page.get_by_text("the second is for somebody else").wait_for()
    page.get_by_label("Your name").fill("B. Winter")
    page.get_by_role("button", name="Sign as second").click()
    page.get_by_text("Second signature: ").wait_for()


def test_a_late_file_shows_what_differs_and_becomes_an_addendum(
    reviewed: tuple[Any, str], opened: Callable[..., Any]
) -> None:
    archive, address = reviewed
    decision = Decision(text=f"Recondition {MARKUP}", who="A. <b>Sommer</b>", by_date="2026-02-20")
    note_decision(archive, "2026-01", 1, "F01", decision)
    review = month_review(archive, "2026-01")
    sign(archive, "2026-01", 1, figures=review.figures(), text="", name="A. Sommer")
    archive.ingest(late_file(70), name="inside_2.csv")
    page = opened(address, "/month/2026-01")
    page.get_by_role("heading", name="The record has changed since").wait_for()
    page.wait_for_selector(".month-frame")
    assert page.locator(".month-frame textarea").count() == 0  # frozen
    decided = page.locator(".month-decided").inner_text()
    assert decided == f"Decision: Recondition {MARKUP} (A. <b>Sommer</b>, by 2026-02-20)"
    kept = page.locator(".month-frame", has_text="Two Herons").locator("tbody tr").first.inner_text()
    changed = page.locator(".month-differs tr", has_text="inside, mean")
    then, now = changed.locator("td").all_inner_texts()[-2:]
    assert then.removesuffix(" %RH") in kept
    assert float(now.split()[0]) > float(then.split()[0])
    page.get_by_label("Your name").fill("B. Winter")
    page.get_by_role("button", name="Sign the addendum").click()
    page.get_by_role("heading", name="Addendum 1").wait_for()
    page.get_by_text("The present record gives the same figures.").wait_for()
    assert then.removesuffix(" %RH") in page.locator(".month-frame", has_text="Two Herons").inner_text()
    page.get_by_role("link", name="Show its figures").click()
    page.get_by_text("those kept with the signature of addendum 1").wait_for()
    page.wait_for_selector(".month-frame")
    assert now.removesuffix(" %RH") in page.locator(".month-frame", has_text="Two Herons").inner_text()
    assert page.locator("#content img[src='x']").count() == 0
    assert page.request.get(f"{address}/month/2026-01/review.pdf").body().startswith(b"%PDF")

    fits_without_barrier(page)  # frozen, with an addendum and its differences


def test_an_open_month_fits_and_has_no_serious_barrier(reviewed: tuple[Any, str], opened: Callable[..., Any]) -> None:
    page = opened(reviewed[1], "/month/2026-01")
    page.wait_for_selector(".month-frame")
    for summary in page.locator(".month-frame summary").all():
        summary.click()
    fits_without_barrier(page)


def test_an_address_that_is_no_month_is_told_as_text(reviewed: tuple[Any, str], opened: Callable[..., Any]) -> None:
    page = opened(reviewed[1], "/month/%3Cscript%3Ealert(1)%3C%2Fscript%3E")
    page.get_by_text('Month "<script>alert(1)</script>": expected a month such as 2026-10.').wait_for()
