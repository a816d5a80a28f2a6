"""An empty archive: two files dropped, a few words, and the frame's page answers; then all of it undone."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
from axe_playwright_python.sync_playwright import Axe

DAY = dt.datetime(2025, 3, 1, tzinfo=dt.UTC)


def logged(swing: float, seed: int) -> bytes:
    rng = np.random.default_rng(seed)
    hours = np.arange(24 * 45)
    rh = 50 + swing * np.sin(2 * np.pi * hours / 24) + rng.normal(0, 0.1, hours.size)
    rows = [f"{DAY + dt.timedelta(hours=int(h)):%Y-%m-%d %H:%M},{v:.2f},20.0" for h, v in zip(hours, rh, strict=True)]
    return ("Time,RH (%),Temperature (°C)\n" + "\n".join(rows) + "\n").encode()


def serious(page: Any) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['help']}" for one in found if one["impact"] in {"serious", "critical"}]


def test_two_files_become_a_frame_that_answers_at_once(chromium: Any, serving: Any, tmp_path: Path) -> None:
    from isohume.dashboard.store import Store
    from isohume.ingest.archive.archive import Archive

    with Archive.create(tmp_path / "archive") as held, serving(Store(held)) as address:
        context = chromium.new_context(timezone_id="Europe/Berlin")
        page = context.new_page()
        page.goto(address)
        page.get_by_role("link", name="Drop these two files").click()
        page.get_by_role("heading", name="Begin with two files").wait_for()
        with page.expect_file_chooser() as chooser:
            page.click("#files-choose")
        files = {"hall_2025-03.csv": logged(5, 2), "behind <b>panel</b>_2025-03.csv": logged(0.5, 1)}
        chooser.value.set_files([{"name": n, "mimeType": "text/csv", "buffer": data} for n, data in files.items()])
        page.get_by_text("Guessed: the livelier record is the room.").wait_for()
        sides = [one.input_value() for one in page.locator(".first-sides input:not([type=hidden])").all()]
        assert sides == ["in its room", "inside the frame"]
        for width in (420, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
            assert serious(page) == []
        page.get_by_role("button", name="Make this frame and look at it").click()
        page.get_by_text("Still missing: a name or number for the frame; the room it hangs in.").wait_for()
        page.fill("#files-first-frame", "No. 1/a <i>")
        page.fill("#files-first-room", "Hall")
        page.get_by_role("button", name="Make this frame and look at it").click()
        page.wait_for_url("**/frame/**")
        page.get_by_role("heading", level=1).filter(has_text="No. 1/a <i>").wait_for()
        with held.register.reading() as session:
            assert held.collection(session).time_zone == "Europe/Berlin"
        page.goto(f"{address}/files")
        page.get_by_role("button", name="Undo this step").click()
        page.get_by_role("button", name="Undo it").click()
        page.get_by_text("was undone by").first.wait_for()
        assert held.frame_ids() == []
        context.close()
