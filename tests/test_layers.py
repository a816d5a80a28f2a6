"""Data flows one way: ingest → analysis → dashboard. Each room may import only what its row allows."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ROOMS = ("ingest", "analysis", "dashboard", "sample_logs")
# The shared contract, the facts the register hands over, and the psychrometrics (dew point to RH, salt points).
INGEST_MAY_USE_OF_ANALYSIS = (
    "isohume.analysis.readings",
    "isohume.analysis.frame",
    "isohume.analysis.terms",
    "isohume.analysis.psychrometrics",
    "isohume.analysis.salts",
)
FORBIDDEN = {
    "ingest": ("isohume.dashboard", "isohume.sample_logs", "dash", "plotly", "matplotlib"),
    "analysis": (
        "isohume.ingest",
        "isohume.dashboard",
        "isohume.sample_logs",
        "dash",
        "plotly",
        "matplotlib",
        "polars",
        "sqlalchemy",
        "requests",
        "urllib",
        "logging",
        "os",
    ),
    "dashboard": (),
    "sample_logs": ("isohume.ingest", "isohume.dashboard", "dash", "plotly"),
}


def imported_names(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names: list[str] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write imports in full, from isohume"
            names += [f"{node.module}.{alias.name}" for alias in node.names]
    return names


def modules() -> list[Path]:
    return [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py"))]


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_module_imports_only_what_its_room_may(path: Path) -> None:
    room = path.relative_to(ROOT).parts[0]
    for name in imported_names(path):
        for banned in FORBIDDEN[room]:
            assert not f"{name}.".startswith(f"{banned}."), (
                f"{path.relative_to(ROOT)} imports {name}: code that needs it does not belong in {room}/"
            )
        if room == "ingest" and name.startswith("isohume.analysis"):
            assert name.startswith(INGEST_MAY_USE_OF_ANALYSIS), (
                f"{path.relative_to(ROOT)} imports {name}: of analysis, ingest may use only "
                f"{', '.join(INGEST_MAY_USE_OF_ANALYSIS)}"
            )


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_module_stays_under_300_lines(path: Path) -> None:
    n_lines = len(path.read_text(encoding="utf-8").splitlines())
    assert n_lines <= 300, f"{path.relative_to(ROOT)} has {n_lines} lines: split it by quantity"
