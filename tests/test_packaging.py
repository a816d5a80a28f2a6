"""What is on disk is what is installed."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
TOP_LEVEL = {"ingest", "analysis", "dashboard", "tests", "sample_logs", "README.md", "DEVELOPERS.md"}
TOP_LEVEL |= {"pyproject.toml", "LICENSE", "build", "dist", "isohume.egg-info", "venv"}


def test_every_package_folder_is_listed() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    listed = set(settings["tool"]["setuptools"]["packages"])
    found = {
        "isohume." + ".".join(path.parent.relative_to(ROOT).parts)
        for room in ("ingest", "analysis", "dashboard", "sample_logs")
        for path in (ROOT / room).rglob("__init__.py")
    }
    assert listed == found


def test_top_level_holds_the_three_rooms_and_their_papers_only() -> None:
    strangers = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - TOP_LEVEL
    assert not strangers, f"The top level is for the rooms and their papers; move {sorted(strangers)}"
