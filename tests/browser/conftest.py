"""A real Chromium before the real application: over the invented series of tests/dashboard, served by one thread."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from werkzeug.serving import make_server

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
# Widths of a telephone and of a desk, in pixels.
NARROW, WIDE = 420, 1440


def module_at(path: str) -> Any:
    """Load a conftest of tests/dashboard; conftest files cannot import each other."""
    found = Path(__file__).parents[1] / "dashboard" / path
    spec = importlib.util.spec_from_file_location(f"invented_{found.parent.name}", found)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@contextmanager
def served(store: Any, **options: Any) -> Iterator[str]:
    """Serve the pages over a store, and yield their address."""
    from isohume.dashboard.app import create_app

    server = make_server("127.0.0.1", 0, create_app(store, **options).server, threaded=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="session")
def serving() -> Any:
    """`served`, for tests with an archive of their own: conftest files cannot be imported."""
    return served


@pytest.fixture(scope="session")
def address() -> Iterator[str]:
    with served(module_at("conftest.py").FakeStore()) as found:
        yield found


@pytest.fixture(scope="session")
def two_frames_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of two frames, three loggers and 45 days of readings, as tests/dashboard/papers describes it."""
    from isohume.ingest.archive.archive import Archive

    told = module_at("papers/conftest.py")
    folder = tmp_path_factory.mktemp("two-frames")
    (folder / "register.toml").write_text(told.REGISTER, encoding="utf-8")
    with Archive.create(folder / "archive") as held:
        held.load_register(folder / "register.toml")
        for name, level, swing in (("inside_1.csv", 52, 0.3), ("room_1.csv", 46, 5), ("other_1.csv", 50, 1)):
            held.ingest(told.file_of(told.logged(level, swing, len(name))), name=name)
    return folder / "archive"


@pytest.fixture
def two_frames(two_frames_folder: Path, tmp_path: Path) -> Iterator[tuple[Any, str]]:
    """A copy of that archive, and the address at which its pages are served; whatever is done to it is forgotten."""
    from isohume.dashboard.store import Store
    from isohume.ingest.archive.archive import Archive

    shutil.copytree(two_frames_folder, tmp_path / "archive")
    with Archive.open(tmp_path / "archive") as held, served(Store(held)) as found:
        yield held, found


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    if not CHROMIUM.exists():
        if os.environ.get("ISOHUME_CI"):
            pytest.fail(f"{CHROMIUM} is missing, and this run must test the pages in a browser")
        pytest.skip(f"{CHROMIUM} is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(ARGUMENTS))
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium: Any, address: str) -> Iterator[Callable[..., Any]]:
    """Open an address of the application; fails on any script error and on any request to another host."""
    contexts, faults = [], []

    def see(request: Any) -> None:
        if not request.url.startswith((address, "data:", "blob:")):
            faults.append(f"asked another host: {request.url}")

    def open_page(path: str, *, width: int = WIDE) -> Any:
        context = chromium.new_context(viewport={"width": width, "height": 900})
        contexts.append(context)
        page = context.new_page()
        page.on("request", see)
        page.on("pageerror", lambda error: faults.append(f"script error: {error}"))
        page.on("console", lambda told: faults.append(told.text) if told.type == "error" else None)
        page.goto(address + path)
        page.wait_for_selector("#content h1, #content .message")
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert faults == []
