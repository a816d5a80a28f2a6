"""A month's files in the browser: received, understood, set right, kept, undone; and what a viewer may not do."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe

REGISTER = """[collection]
name = "Invented"
time_zone = "Europe/Berlin"
[[rooms]]
id = "R1"
[[loggers]]
id = "L1"
files = ["hall_*.csv"]
time_zone = "+00:00"
[[placements]]
logger = "L1"
room = "R1"
from = 2025-01-01T00:00:00+00:00
"""
MARKUP = "<img src=x onerror=alert(1)>"


def month(number: int) -> bytes:
    rows = [
        f"2025-{number:02d}-{day:02d} {h:02d}:00:00,20.0,{48 + h / 10:.1f}\n" for day in (14, 15) for h in range(24)
    ]
    return ("Time,Temperature (°C),RH (%)\n" + "".join(rows)).encode()


def one_day(number: int) -> bytes:
    """The 3rd of a month, written month first: its only date can be read both ways."""
    rows = "".join(f"{number:02d}/03/2025 {hour:02d}:00,20.0,{48 + hour / 10:.1f}\n" for hour in range(8, 20))
    return ("Time,Temperature (°C),RH (%)\n" + rows).encode()


def drop(page: Any, **files: bytes) -> None:
    with page.expect_file_chooser() as chooser:
        page.click("#files-choose")
    chooser.value.set_files(
        [{"name": f"{name}.csv", "mimeType": "text/csv", "buffer": data} for name, data in files.items()]
    )


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Any]:
    from isohume.ingest.archive.archive import Archive

    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as made:
        made.load_register(tmp_path / "register.toml")
        yield made


@pytest.fixture
def files_page(archive: Any, chromium: Any, serving: Any) -> Iterator[Any]:
    """The Files page of a small archive; fails on any script error."""
    from isohume.dashboard.store import Store

    faults: list[str] = []
    with serving(Store(archive)) as address:
        context = chromium.new_context(viewport={"width": 1440, "height": 900})
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("dialog", lambda told: faults.append(told.message))
        page.goto(f"{address}/files")
        page.wait_for_selector("#files-choose")
        yield page
        context.close()
    assert faults == []


def serious(page: Any) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['help']}" for one in found if one["impact"] in {"serious", "critical"}]


def test_files_are_received_kept_and_undone(files_page: Any) -> None:
    page = files_page
    drop(page, **{"hall_1": month(3), f"bad{MARKUP}": b"\x00\x01 no", "hall_2": month(4)})
    page.get_by_text("2 understood").wait_for()
    page.get_by_text("cannot be read").wait_for()
    assert page.locator(".received h2").nth(1).inner_text() == f"bad{MARKUP}.csv"
    page.get_by_role("button", name="Keep this: hall_1.csv").click()
    page.get_by_text("kept as import 1").wait_for()
    page.get_by_role("button", name="Keep all that are understood").click()
    page.get_by_text("kept as import 2").wait_for()
    page.get_by_role("button", name="Undo import 1, hall_1.csv").click()
    page.get_by_text("48 readings of logger L1").wait_for()
    page.get_by_role("button", name="Leave it").click()
    page.get_by_role("button", name="Undo import 1, hall_1.csv").click()
    page.get_by_role("button", name="Undo it").click()
    page.get_by_text("import 1 was undone by").wait_for()  # the card above follows the history below
    page.get_by_role("button", name="Read it again").click()
    page.get_by_role("button", name="Keep this: hall_1.csv").wait_for()
    with page.expect_download() as download:
        page.get_by_role("link", name="imports as CSV").click()
    assert download.value.suggested_filename == "isohume-imports.csv"


def test_a_wrong_guess_is_set_right_and_the_next_file_is_read_so(files_page: Any) -> None:
    page = files_page
    drop(page, hall_4=one_day(4))
    page.get_by_text("Tentative:").wait_for()
    page.locator(".received input[id*=date_order]").click()
    page.get_by_role("option", name="day, month, year").click()
    page.get_by_role("button", name="Read it so").click()
    page.locator(".received .standing", has_text="understood").wait_for()
    page.get_by_text("4 Mar 2025, 09:00 to 4 Mar 2025, 20:00").wait_for()
    page.get_by_role("button", name="Correct how this was read").click()
    order = page.locator(".file-editor input[id*=order]")
    order.click()
    page.get_by_role("option", name="month, day, year").click()
    drop(page, broken=b"no readings at all")  # another file comes meanwhile: the choice stays
    page.get_by_text("cannot be read").wait_for()
    assert order.input_value() == "month, day, year"
    for width in (420, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
        assert serious(page) == []
    page.get_by_role("button", name="Read it so").click()
    page.get_by_text("3 Apr 2025, 10:00 to 3 Apr 2025, 21:00").wait_for()
    page.get_by_role("button", name="Keep this").click()
    page.get_by_text("kept as import 1").wait_for()
    drop(page, hall_5=one_day(5))
    page.get_by_text("3 May 2025, 10:00 to 3 May 2025, 21:00").wait_for()


def test_a_stranger_s_logger_is_named_on_the_page(files_page: Any, archive: Any) -> None:
    page = files_page
    drop(page, attic_2025=month(5))
    page.locator(".received").get_by_label("Logger", exact=True).first.fill(MARKUP)
    page.get_by_role("textbox", name="Where it was").fill("attic & roof")
    page.get_by_role("button", name="Remember this and read on").click()
    page.get_by_text("room attic & roof").first.wait_for()
    assert archive.record("loggers", {"id": MARKUP})["files"] == ["attic_*.csv"]
    assert page.locator("img[src=x]").count() == 0


def test_a_viewer_looks_and_changes_nothing(chromium: Any, serving: Any, archive: Any) -> None:
    from isohume.dashboard.access.people import add_person
    from isohume.dashboard.store import Store

    archive.ingest(month(3), name="hall_3.csv")
    add_person(archive, "vera", "a long enough word", role="viewer")
    with serving(Store(archive), people=archive) as address:
        context = chromium.new_context()
        page = context.new_page()
        page.goto(f"{address}/login?next=/files")
        page.fill("[name=name]", "vera")
        page.fill("[name=password]", "a long enough word")
        page.press("[name=password]", "Enter")
        page.get_by_text("You can look.").wait_for()
        page.get_by_role("cell", name="hall_3.csv").wait_for()
        assert page.locator("#files-choose, #files-keep-all:visible").count() == 0
        assert page.get_by_role("button", name="Undo").count() == 0
        token = next(one["value"] for one in context.cookies() if one["name"] == "_csrf_token")
        headers = {"X-CSRFToken": token, "X-File-Name": "x.csv"}
        assert context.request.post(f"{address}/files/receive", data=b"x", headers=headers).status == 403
        callback = {
            "output": "files-changed.data", "outputs": {"id": "files-changed", "property": "data"},
            "inputs": [
                [], {"id": "files-keep-all", "property": "n_clicks", "value": 1},
                {"id": "files-clear-kept", "property": "n_clicks"},
            ], "state": [[], []],
            "changedPropIds": ["files-keep-all.n_clicks"],
        }  # fmt: skip
        refused = context.request.post(
            f"{address}/_dash-update-component", data=callback, headers={"X-CSRFToken": token}
        )
        assert refused.status == 403
        context.close()


def test_a_dry_month_shows_on_the_frames(chromium: Any, two_frames: tuple[Any, str]) -> None:
    """The journey of the monitoring staff: drop, keep all, see what changed."""
    _, address = two_frames
    start = dt.datetime(2026, 2, 15, tzinfo=dt.UTC)
    hours = np.arange(30)  # up to the collection's own today
    dry = [f"{start + dt.timedelta(hours=int(h)):%Y-%m-%d %H:%M},20.0,{30 + np.sin(h):.1f}" for h in hours]
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{address}/frames")
    row = page.locator(".frame-row", has_text="F01")
    assessed = row.filter(has_not_text="being assessed")
    assessed.wait_for(timeout=60_000)
    before = assessed.inner_text()
    assert "today" not in before
    page.goto(f"{address}/files")
    page.wait_for_selector("#files-choose")
    drop(page, inside_2=("Time,Temperature (°C),RH (%)\n" + "\n".join(dry)).encode())
    page.get_by_role("button", name="Keep all that are understood").click()
    page.get_by_text("kept as import").wait_for()
    page.get_by_role("link", name="Frames", exact=True).first.click()
    assessed.filter(has_text="today").wait_for(timeout=60_000)
    assert assessed.inner_text() != before
    context.close()
