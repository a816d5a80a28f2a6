"""Typesetting: a template and plain data become a PDF, the same bytes for the same data.

What people typed (paintings, notes, names) reaches a template as data and is set as it stands: nothing in it is
taken for markup or code. Templates hold layout only; their words come from `words`.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable, Mapping
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
# Typst ends with this where no font has a character: PDF/A forbids to leave it out.
_NO_FONT = "could not be displayed"
CUTS_FOR_TEXT = ("SourceSansPro-Regular", "SourceSansPro-Semibold", "SourceSerifPro-Semibold")
_KEPT_CONTROLS = frozenset("\n\t")
_TURNING_MARKS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f")


def pdf(template: str, data: Mapping[str, Any], *, dated: pd.Timestamp, portable: bool = False) -> bytes:
    """Set a paper.

    Parameters
    ----------
    template : str
        Name of a file in `templates`, without its ending.
    data : mapping
        What JSON can hold; texts are set as they stand, SVG pictures are texts too.
    dated : Timestamp
        The date the file carries: of what it is about, never of the run, so that it can be made again.
    portable : bool
        Use our own fonts only, so that every machine sets the same file. A character that they lack is then written
        by its number, U+6728; otherwise the machine's fonts help out first.

    Returns
    -------
    bytes
        A tagged PDF/A-2a with embedded fonts.
    """
    if not portable:
        try:
            return _set(template, _each_text(data, readable), dated, system_fonts=True)
        except typst.TypstError as error:
            if _NO_FONT not in str(error):
                raise
    return _set(template, _each_text(data, lambda text: in_our_fonts(readable(text))), dated, system_fonts=False)


def _set(template: str, data: Any, dated: pd.Timestamp, *, system_fonts: bool) -> bytes:
    made, warnings = typst.compile_with_warnings(
        TEMPLATES / f"{template}.typ",
        root=TEMPLATES,
        font_paths=_fonts(system_fonts=system_fonts),
        ignore_system_fonts=not system_fonts,
        format="pdf",
        sys_inputs={"data": json.dumps(data, ensure_ascii=False, allow_nan=False)},
        pdf_standards=list(STANDARDS),
        timestamp=int(dated.timestamp()),
    )
    if warnings:
        raise RuntimeError(f"{template}: {'; '.join(warning.message for warning in warnings)}")
    return made


@cache
def _fonts(*, system_fonts: bool) -> typst.Fonts:
    return typst.Fonts(include_system_fonts=system_fonts, include_embedded_fonts=True, font_paths=[FONTS])


@cache
def _covered() -> frozenset[int]:
    """Return the characters that every cut of our fonts has."""
    from matplotlib.ft2font import FT2Font

    charmaps = [frozenset(FT2Font(str(FONTS / f"{name}.otf")).get_charmap()) for name in CUTS_FOR_TEXT]
    return frozenset.intersection(*charmaps)


def in_our_fonts(text: str) -> str:
    """Return a text with every character that our fonts lack written by its number: "[U+6728]"."""
    if text.isascii():
        return text
    covered = _covered()
    return "".join(sign if ord(sign) in covered or sign.isspace() else f"[U+{ord(sign):04X}]" for sign in text)


def _each_text(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, Mapping):
        return {str(key): _each_text(inner, change) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_each_text(inner, change) for inner in value]
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
