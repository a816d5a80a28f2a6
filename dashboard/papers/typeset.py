"""Typesetting: a template and plain data become a PDF, the same bytes for the same data.

What people typed (paintings, notes, names) reaches a template as data and is set as it stands: nothing in it is
taken for markup or code. Templates hold layout only; their words come from `words`.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

import pandas as pd
import typst

Paper = Literal["a4", "us-letter"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
HERE = Path(__file__).parent
TEMPLATES, FONTS = HERE / "templates", HERE / "fonts"
# PDF/A-2a (ISO 19005-2): fonts embedded, tagged, nothing outside the file; PDF/UA-1 (ISO 14289-1): readable aloud.
STANDARDS: tuple[Literal["a-2a"], Literal["ua-1"]] = ("a-2a", "ua-1")
# Control characters and marks that turn the direction of writing can make a text read as another one.
_FORBIDDEN_CATEGORIES = frozenset({"Cc", "Cs", "Co"})
_KEPT_CONTROLS = frozenset("\n\t")
_TURNING_MARKS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f")


def pdf(template: str, data: Mapping[str, Any], *, dated: pd.Timestamp) -> bytes:
    """Set a paper.

    Parameters
    ----------
    template : str
        Name of a file in `templates`, without its ending.
    data : mapping
        What JSON can hold; texts are set as they stand, SVG pictures are texts too.
    dated : Timestamp
        The date the file carries: of what it is about, never of the run, so that it can be made again.

    Returns
    -------
    bytes
        A tagged PDF/A-2a with embedded fonts.
    """
    made, warnings = typst.compile_with_warnings(
        TEMPLATES / f"{template}.typ",
        root=TEMPLATES,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"data": json.dumps(_clean(data), ensure_ascii=False, allow_nan=False)},
        pdf_standards=list(STANDARDS),
        timestamp=int(dated.timestamp()),
    )
    if warnings:
        raise RuntimeError(f"{template}: {'; '.join(warning.message for warning in warnings)}")
    return made


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[FONTS])


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return readable(value)
    if isinstance(value, Mapping):
        return {str(key): _clean(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(inner) for inner in value]
    return value


def readable(text: str) -> str:
    """Return a text without control characters and marks that turn its direction."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        sign
        for sign in unicodedata.normalize("NFC", text)
        if sign in _KEPT_CONTROLS
        or not (sign in _TURNING_MARKS or unicodedata.category(sign) in _FORBIDDEN_CATEGORIES)
    )
