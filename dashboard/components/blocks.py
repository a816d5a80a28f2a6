"""The few building blocks of which every page is made."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import plotly.graph_objects as go
from dash import dcc, html

# Plotly offers by default to upload a chart to its vendor's cloud; nothing may leave this machine.
GRAPH_CONFIG: Any = {
    "showSendToCloud": False,
    "displaylogo": False,
    "displayModeBar": False,
    "responsive": True,
    "scrollZoom": False,
}
Content = Any  # whatever Dash accepts as children


class KeyFigure(NamedTuple):
    """One number with what it is, and the period or coverage it holds for."""

    label: str
    value: str
    note: str = ""


def aria(**told: str) -> Any:
    """Return attributes for those who hear the page: `aria(label="Pages")`."""
    return {f"aria-{name}": value for name, value in told.items()}


def graph(figure: go.Figure, *, description: str, graph_id: str | None = None) -> html.Figure:
    """Place a figure; the only way a graph gets onto a page."""
    named: Any = {} if graph_id is None else {"id": graph_id}
    height = figure.layout.height
    plot = dcc.Graph(figure=figure, config=GRAPH_CONFIG, style={"height": f"{height}px"}, **named)
    return html.Figure([html.Div(plot, role="img", **aria(label=description))], className="graph")


def section(anchor: str, title: str, *children: Content, lede: Content = None) -> html.Section:
    """Set one part of a page under its heading, with one line that says what it is."""
    heading: list[Content] = [html.H2(title, id=f"{anchor}-title")]
    if lede is not None:
        heading.append(html.P(lede, className="lede"))
    return html.Section(
        [html.Div(heading, className="section-head"), *children],
        id=anchor,
        className="section",
        **aria(labelledby=f"{anchor}-title"),
    )


def no_result(why: str, *, lead: str = "No result.") -> html.P:
    """Say why a part of a page has nothing to show."""
    return html.P([html.Strong(f"{lead} "), why], className="no-result")


def key_figures(figures: Sequence[KeyFigure]) -> html.Dl:
    """Set a row of numbers, each under its name and over its note."""
    return html.Dl(
        [
            html.Div(
                [
                    html.Dt(figure.label),
                    html.Dd(figure.value, className="value"),
                    html.Dd(figure.note, className="note"),
                ]
            )
            for figure in figures
        ],
        className="key-figures",
    )


def bar(name: str, value: float, longest: float, *, words: str, kind: str) -> html.Div:
    """Set one amount as a bar against the longest of its group; `kind` (inside, room) gives its colour."""
    length = html.Span(className=f"bar {kind}", style={"width": f"{100 * value / longest if longest else 0:.1f}%"})
    return html.Div([html.Dt(name), html.Dd([html.Span(length, className="track"), html.Span(words)])])


def facts(pairs: Sequence[tuple[str, Content]]) -> html.Dl:
    """Set facts as on a wall label: name and value, line by line."""
    return html.Dl([html.Div([html.Dt(name), html.Dd(value)]) for name, value in pairs], className="facts")


def table(
    headings: Sequence[str], rows: Sequence[Sequence[Content]], *, caption: str, numeric: Sequence[int] = ()
) -> html.Div:
    """Set a table that scrolls by itself where the page is narrow; `numeric` columns align right."""

    def cell(kind: type, place: int, content: Content, **more: str) -> Any:
        return kind(content, className="number" if place in numeric else None, **more)

    head = html.Tr([cell(html.Th, place, text, scope="col") for place, text in enumerate(headings)])
    body = [html.Tr([cell(html.Td, place, content) for place, content in enumerate(row)]) for row in rows]
    whole = html.Table([html.Caption(caption), html.Thead(head), html.Tbody(body)])
    # Focusable, so that the keyboard can scroll it.
    return html.Div(whole, className="table-scroll", tabIndex="0", role="region", **aria(label=caption))


def message(title: str, text: Content, *more: Content) -> html.Div:
    """Fill an empty page or list with what is missing and what to do."""
    return html.Div([html.H2(title), html.P(text), *more], className="message")
