"""The published tables that travel with the package, read once."""

from __future__ import annotations

import csv
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of `analysis/data/NAME.csv`; its first line, a `#` comment, states the source.

    Raises
    ------
    FileNotFoundError
        No such table is packaged.
    """
    text = files("isohume.analysis").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return tuple(csv.DictReader(lines))


@cache
def document(name: str) -> dict[str, Any]:
    """Return the packaged TOML document `analysis/data/NAME.toml`."""
    return tomllib.loads(files("isohume.analysis").joinpath("data", f"{name}.toml").read_text(encoding="utf-8"))
