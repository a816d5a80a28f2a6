"""A month's file in the browser: chosen, understood, kept, undone; a broken one says why."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

from werkzeug.serving import make_server

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
CSV = "Time,Temperature (°C),RH (%)\n" + "".join(
    f"2025-03-{day:02d} {hour:02d}:00:00,20.0,{48 + hour / 10:.1f}\n" for day in range(14, 18) for hour in range(24)
)


def test_files_are_received_kept_and_undone(chromium: Any, tmp_path: Path) -> None:
    from isohume.dashboard.app import create_app
    from isohume.dashboard.store import Store
    from isohume.ingest.archive.archive import Archive

    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as archive:
        archive.load_register(tmp_path / "register.toml")
        server = make_server("127.0.0.1", 0, create_app(Store(archive)).server, threaded=True)
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        thread.start()
        page = chromium.new_page()
        page.goto(f"http://127.0.0.1:{server.server_port}/files")
        page.wait_for_selector("#files-choose")
        with page.expect_file_chooser() as chooser:
            page.click("#files-choose")
        chooser.value.set_files(
            [
                {"name": "hall_1.csv", "mimeType": "text/csv", "buffer": CSV.encode()},
                {"name": "bad<b>.csv", "mimeType": "text/csv", "buffer": b"\x00\x01 no"},
            ]
        )
        page.get_by_role("button", name="Keep this").click()
        page.get_by_text("kept as import 1").wait_for()
        page.get_by_text("cannot be read").wait_for()
        page.get_by_role("button", name="Undo this import").click()
        page.get_by_role("button", name="Undo it").click()
        page.get_by_text("undone by").wait_for()
        page.close()
        server.shutdown()
        thread.join()
        server.server_close()
