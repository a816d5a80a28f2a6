"""The examples in the archive's docstrings are true."""

from __future__ import annotations

import doctest
import importlib

import pytest


@pytest.mark.parametrize("module", ["columns", "toml_text"])
def test_examples(module: str) -> None:
    found = doctest.testmod(importlib.import_module(f"isohume.ingest.archive.{module}"))
    assert found.attempted
    assert not found.failed
