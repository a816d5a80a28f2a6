"""Formulas as HTML: subscripts, superscripts, fractions and roots from a small notation, readable without a script.

`x_{1}` and `x^{2}` lower and raise; `{a // b}` is a fraction; `√{a}` a root; text in "double quotes" stands upright.
A single letter is a variable and set in italics, with a `d` or `Δ` before it too; words stand upright.
"""

from __future__ import annotations

import re
from typing import Any

from dash import html

from isohume.dashboard.components.blocks import aria

_TOKENS = re.compile(r'[_^√]?\{|//|\}|"[^"]*"|[^\W\d_]+\u0304?|[^{}"/_^√\w]+|[\d.]+|.')
_VARIABLE = re.compile(r"[dΔ]?[^\W\d_]\u0304?")
_LEVELS = {"_{": "sub", "^{": "sup", "√{": "root", "{": "group"}


def formula(text: str) -> html.P:
    """Set one formula on a line of its own; those who hear the page get it as plain text."""
    return html.P(html.Span(_parsed(text), role="math", **aria(label=spoken(text))), className="formula typeset")


def inline(text: str) -> html.Span:
    """Set a symbol within a text."""
    return html.Span(_parsed(text), className="typeset")


def spoken(text: str) -> str:
    """Return a formula as plain text: fractions in brackets, subscripts behind a low line."""
    plain = re.sub(r"√\{([^{}]*)\}", r"√(\1)", text.replace('"', ""))
    plain = re.sub(r"\^\{([^{}]*)\}", r"^\1", re.sub(r"_\{([^{}]*)\}", r" \1", plain))
    while (simpler := re.sub(r"\{([^{}]*) // ([^{}]*)\}", r"(\1) / (\2)", plain)) != plain:
        plain = simpler
    return re.sub(r"√\{([^{}]*)\}", r"√(\1)", plain).replace("{", "(").replace("}", ")")


def _parsed(text: str) -> list[Any]:
    tokens = _TOKENS.findall(text)
    parts, rest = _read(tokens, 0)
    if rest != len(tokens):
        raise ValueError(f'The formula "{text}" closes a bracket that was not opened.')
    return parts[0]


def _read(tokens: list[str], at: int) -> tuple[list[list[Any]], int]:
    """Return the parts of a group, divided by `//`, and where it ends."""
    parts: list[list[Any]] = [[]]
    while at < len(tokens) and tokens[at] != "}":
        token = tokens[at]
        if token in _LEVELS:
            inner, at = _read(tokens, at + 1)
            if at == len(tokens):
                raise ValueError(f"A formula opens a bracket and does not close it: {''.join(tokens)}")
            parts[-1].append(_placed(_LEVELS[token], inner))
        elif token == "//":  # noqa: S105 - a mark of the notation
            parts.append([])
        else:
            parts[-1].append(_word(token))
        at += 1
    return parts, at


def _word(token: str) -> Any:
    if token.startswith('"'):
        return html.Span(token.strip('"'), className="upright")
    return html.I(token) if _VARIABLE.fullmatch(token) and token != "Σ" else token  # noqa: S105 - a sign of sums


def _placed(level: str, parts: list[list[Any]]) -> Any:
    if level == "sub":
        return html.Sub(parts[0])
    if level == "sup":
        return html.Sup(parts[0])
    if level == "root":
        return html.Span(["√", html.Span(parts[0], className="under-root")], className="root")
    if len(parts) == 1:
        return html.Span(parts[0])
    above, below = parts
    return html.Span([html.Span(above, className="above"), html.Span(below, className="below")], className="fraction")
