"""The examples in the docstrings of the ingest room run as printed."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

ROOM = Path(__file__).parents[2] / "ingest"
MODULES = sorted(path.stem for path in ROOM.glob("*.py") if ">>>" in path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", MODULES)
def test_examples_run_as_printed(name: str) -> None:
    results = doctest.testmod(importlib.import_module(f"isohume.ingest.{name}"))
    assert results.attempted > 0
    assert results.failed == 0
