"""The examples in the docstrings of the analysis run as printed."""

from __future__ import annotations

import doctest
import importlib

import numpy as np
import pandas as pd
import pytest

MODULES = ("psychrometrics", "sorption", "excursions", "salts", "movement")


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples_hold(name: str) -> None:
    module = importlib.import_module(f"isohume.analysis.{name}")
    with np.printoptions(legacy="1.25"):
        outcome = doctest.testmod(module, extraglobs={"np": np, "pd": pd})
    assert outcome.attempted > 0
    assert outcome.failed == 0
