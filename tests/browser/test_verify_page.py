"""A lender drops a pack in the browser; and somebody without an account, and without scripts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from isohume.dashboard.components import verify_open
from isohume.dashboard.components.verify_checks import Checks
from isohume.dashboard.pages import verify
from isohume.ingest.archive.archive import Archive

NARROW, WIDE = 420, 1440
CHANGED = "readings.csv was changed <script>document.title='run'</script>"
KEY = "2d82 b7ad 144b 286c c233 8be9 8c82 0031"


def found(path: Path, _key: str) -> dict[str, Any]:
    """What a check says; checks themselves are tested without a browser."""
    path.unlink()
    return {"verdict": "altered", "headline": "Altered: <b>readings.csv</b>.", "problems": [
        {"where": "member", "member": "readings.csv", "text": CHANGED}
    ], "remarks": ["A signature proves no more than this."], "fingerprint": KEY, "document": "D-1", "frame": "F01",
        "n_readings": 2064, "n_figures": 300}  # fmt: skip


def serious(page: Any) -> list[str]:
    return [one["id"] for one in Axe().run(page).response["violations"] if one["impact"] in {"serious", "critical"}]


def fits(page: Any) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))


def choose(page: Any, name: str, data: bytes) -> None:
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Choose a pack").click()
    chooser.value.set_files([{"name": name, "mimeType": "application/zip", "buffer": data}])


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_a_pack_is_dropped_and_its_verdict_stands_first(
    chromium: Any, two_frames: Any, width: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verify, "checked", found)
    _, address = two_frames
    faults: list[str] = []
    page = chromium.new_page(viewport={"width": width, "height": 900})
    page.on("pageerror", lambda error: faults.append(f"script error: {error}"))
    page.goto(f"{address}/verify")
    page.wait_for_selector(".drop")
    assert serious(page) == []
    page.get_by_label("Fingerprint").fill("twelve")
    choose(page, "loan<i>.zip", b"PK")
    page.get_by_text("is no fingerprint").wait_for()
    page.get_by_label("Fingerprint").fill(KEY)
    choose(page, "loan<i>.zip", b"PK")
    page.get_by_role("heading", name="Altered since it was signed").wait_for()
    assert "loan<i>.zip" in page.locator(".verify-verdict").inner_text()
    assert "(the one typed in)" in page.locator("#pack").inner_text()
    assert fits(page)
    assert serious(page) == []
    assert page.title() != "run"
    page.get_by_role("button", name="Check another pack").click()
    page.wait_for_selector(".drop")
    page.close()
    assert faults == []


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_without_an_account_and_without_scripts(chromium: Any, two_frames: Any, width: int) -> None:
    import threading

    from werkzeug.serving import make_server

    from isohume.dashboard.app import create_app
    from isohume.dashboard.store import Store

    archive: Archive = two_frames[0]
    app = create_app(Store(archive), people=archive, open_verify=True)
    app.server.config[verify_open.CHECKS_KEY] = Checks(found)
    server = make_server("127.0.0.1", 0, app.server, threaded=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    context = chromium.new_context(java_script_enabled=False, viewport={"width": width, "height": 900})
    page = context.new_page()
    page.goto(f"http://127.0.0.1:{server.server_port}/verify")
    page.get_by_label("The pack").set_input_files({"name": "p.zip", "mimeType": "application/zip", "buffer": b"PK"})
    page.get_by_label("Fingerprint").fill(KEY)
    page.get_by_role("button", name="Check this pack").click()
    page.get_by_role("heading", name="Altered since it was signed").wait_for()
    assert "readings.csv was changed <script>" in page.locator("main").inner_text()
    context.close()
    page = chromium.new_page(viewport={"width": width, "height": 900})
    page.goto(f"http://127.0.0.1:{server.server_port}/verify")
    assert fits(page)
    assert serious(page) == []
    page.close()
    server.shutdown()
    thread.join()
    server.server_close()
