"""What the figures mean, where they come from, how sure they are, and what they must not be used for."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, cast

from dash import Dash, html
from flask import Response, abort

from isohume.analysis.results import DataName, Standing, StandingName
from isohume.dashboard.components.blocks import aria, section
from isohume.dashboard.components.glyphs import data_sign, standing_sign
from isohume.dashboard.components.methods_part import PICTURE_ROUTE, TABLE_ROUTE, method_part, published, status
from isohume.dashboard.exports import csv_bytes, xlsx_bytes
from isohume.dashboard.methods_text.method import STATUSES, Group, groups, introduction
from isohume.dashboard.methods_text.published import PublishedTable
from isohume.dashboard.methods_text.tables import tables

TITLE = "Methods"
SIGN_SIZE = 22
TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def layout(**_query: str) -> html.Div:
    """Build the page."""
    head = html.Div(
        [
            html.H1("Methods"),
            html.P(
                "What each figure means, how it is worked out, where that comes from, how sure it is, and what it "
                "does not say. The page prints as it stands.",
                className="lede",
            ),
        ],
        className="page-head",
    )
    cautions = [html.Li(text) for text in introduction()["caution"]]
    parts = [
        _how_sure(),
        *(part for group in groups() for part in _group(group)),
        section("cautions", "Cautions", html.Ul(cautions, className="prose cautions")),
    ]
    return html.Div(
        [head, html.Div([_contents(), html.Div(parts, className="sections")], className="with-parts")],
        className="page methods-page",
    )


def _contents() -> html.Nav:
    listed: list[Any] = [html.A("How sure", href="#sure")]
    for group in groups():
        listed.append(html.Span(group.name, className="group-name"))
        listed += [html.A(method.name.split(":")[0], href=f"#{method.anchor}") for method in group.methods]
    listed.append(html.A("Cautions", href="#cautions"))
    return html.Nav(listed, className="parts", **aria(label="Parts of this page"))


def _how_sure() -> html.Section:
    return section(
        "sure",
        "How sure it is",
        html.Dl(
            [html.Div([html.Dt(status(name)), html.Dd(meaning)]) for name, meaning in STATUSES.items()],
            className="statuses",
        ),
        *(html.P(text, className="prose") for text in introduction()["accuracy"]),
        lede="Every formula and figure names its source, and how well that source was checked.",
    )


def _group(group: Group) -> list[Any]:
    signed = {"standing_rules": _with_signs(tables()["standing_rules"], standing=True)}
    signed["record_rules"] = _with_signs(tables()["record_rules"], standing=False)
    return [
        html.P(group.name, className="group-title"),
        *(method_part(method, shown=signed) for method in group.methods),
    ]


def _with_signs(one: PublishedTable, *, standing: bool) -> html.Div:
    """Set the signs of the frames’ list beside the words of a table of rules."""
    cells: list[list[Any]] = []
    for name, *rest in one.printed():
        sign = (
            standing_sign(Standing(name=cast("StandingName", name)), size=SIGN_SIZE)
            if standing
            else data_sign(cast("DataName", name))
        )
        named = html.Span([sign, html.Span(name)], className="with-sign")
        cells.append([named, rest[0], *(html.Span(text, className="long") for text in rest[1:])])
    return published(one, cells)


def table_file(name: str, kind: str) -> Response:
    """Answer with one table as a file."""
    one = tables().get(name)
    if one is None or kind not in TYPES:
        abort(HTTPStatus.NOT_FOUND)
    rows = [list(row) for row in one.rows]
    body = csv_bytes(one.headings(), rows) if kind == "csv" else xlsx_bytes({one.name: (one.headings(), rows)})
    disposition = f'attachment; filename="isohume_methods_{one.name}.{kind}"'
    return Response(body, content_type=TYPES[kind], headers={"Content-Disposition": disposition})


def picture_file(name: str) -> Response:
    """Answer with one picture; it is worked out when first asked for."""
    from isohume.dashboard.figures.methods_pictures import DRAWN, picture

    if name not in DRAWN:
        abort(HTTPStatus.NOT_FOUND)
    return Response(picture(name), content_type="image/svg+xml; charset=utf-8")


def register(app: Dash) -> None:
    """Add the addresses of tables and pictures; nothing else on this page answers."""
    app.server.add_url_rule(f"{TABLE_ROUTE}<name>.<kind>", endpoint="methods_table", view_func=table_file)
    app.server.add_url_rule(f"{PICTURE_ROUTE}<name>.svg", endpoint="methods_picture", view_func=picture_file)
