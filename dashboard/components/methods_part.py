"""One method on the page: what it tells, its formulas, how it is worked out, its limits, sources, pictures, tables."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.dashboard.components.blocks import aria, section, table
from isohume.dashboard.components.methods_formula import formula, inline
from isohume.dashboard.methods_text.method import Method, Source
from isohume.dashboard.methods_text.pictures_told import PICTURES
from isohume.dashboard.methods_text.published import Aim, PublishedTable
from isohume.dashboard.methods_text.tables import tables

TABLE_ROUTE = "/methods/table/"
PICTURE_ROUTE = "/methods/picture/"
MOST_ROWS_OPEN = 20  # a longer table is folded
LONG_TEXT = 28  # characters from which a cell may break over lines


def method_part(method: Method, *, shown: dict[str, Any] | None = None) -> html.Section:
    """Build the section of one method.

    Parameters
    ----------
    method : Method
    shown : dict of name to component, optional
        Tables that the page draws in its own way, instead of plainly.
    """
    known, own = tables(), shown or {}
    parts: list[Any] = [html.Span(id=anchor, className="other-anchor") for anchor in method.also]
    parts += [formula(text) for text in method.formulas]
    if method.symbols:
        parts.append(
            html.Dl(
                [html.Div([html.Dt(inline(symbol)), html.Dd(inline(text))]) for symbol, text in method.symbols],
                className="symbols",
            )
        )
    parts += [html.P(text, className="prose") for text in method.meaning]
    if method.pictures:
        parts.append(html.Div([_picture(name) for name in method.pictures], className="pictures"))
    parts += [own.get(name) or published(known[name]) for name in method.tables if name in known]
    if method.limits:
        parts.append(
            html.Div(
                [html.H3("What it does not say"), *(html.P(text, className="prose") for text in method.limits)],
                className="not-said",
            )
        )
    parts.append(_sources(method.sources))
    return section(method.anchor, method.name, *parts, lede=method.says)


def published(one: PublishedTable, cells: list[list[Any]] | None = None) -> html.Div:
    """Set a table with its files, where it comes from, and what was to be reached."""
    body = cells or [
        [html.Strong(text) if place in one.emphasised else _wrapped(text) for text in row]
        for place, row in enumerate(one.printed())
    ]
    files = [
        html.A(
            kind.upper(),
            href=f"{TABLE_ROUTE}{one.name}.{kind}",
            download="",
            **aria(label=f"{one.caption}: {kind.upper()}"),
        )
        for kind in ("csv", "xlsx")
    ]
    whole: Any = table(one.headings(), body, caption=one.caption, numeric=one.numeric())
    if len(one.rows) > MOST_ROWS_OPEN:
        whole = html.Details([html.Summary(f"{one.caption}: {len(one.rows)} rows"), whole])
    made_by = [html.Span(one.made_by, className="by")] if one.made_by else []
    return html.Div(
        [
            whole,
            html.P([*made_by, html.Span(files, className="as-file")], className="note made-by"),
            *([_aims(one.aims)] if one.aims else []),
        ],
        className="published",
        id=f"table-{one.name}",
    )


def _wrapped(text: str) -> Any:
    return html.Span(text, className="long") if len(text) > LONG_TEXT else text


def _aims(aims: tuple[Aim, ...]) -> html.Details:
    missed = sum(not aim.met for aim in aims)
    told = "all reached" if not missed else f"{missed} of {len(aims)} not reached"
    rows = [
        html.Li(
            [
                html.Span("reached" if aim.met else "not reached", className="met" if aim.met else "missed"),
                html.Span(f"{aim.text}; found {aim.reached}"),
            ]
        )
        for aim in aims
    ]
    return html.Details(
        [html.Summary(f"What was to be reached: {told}"), html.Ul(rows, className="aims")], open=bool(missed)
    )


def _sources(sources: tuple[Source, ...]) -> html.Div:
    return html.Div(
        [
            html.H3("Sources"),
            html.Ul([html.Li([inline(source.text), " ", status(source.status)]) for source in sources]),
        ],
        className="sources",
    )


def status(name: str) -> html.Span:
    """Set how sure a source is."""
    return html.Span(name, className=f"status {name.replace(' ', '-')}")


def _picture(name: str) -> html.Figure:
    told = PICTURES[name]
    return html.Figure(
        [
            html.Img(src=f"{PICTURE_ROUTE}{name}.svg", alt=told.description, width=460, height=260),
            html.Figcaption(told.caption),
        ]
    )
