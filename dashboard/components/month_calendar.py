"""The months of a collection on one small calendar: which have readings, which are signed, which is open."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from isohume.dashboard.components.blocks import aria
from isohume.dashboard.papers.review_month import MONTH_NAMES, month_in_words
from isohume.dashboard.papers.review_months import MonthListed

# Sign and words of each state; the signs differ in shape, and the words are read aloud.
STATES: dict[str, tuple[str, str]] = {
    "open": ("○", "not reviewed"),
    "begun": ("◐", "begun, not signed"),
    "half signed": ("◑", "second signature missing"),
    "signed": ("●", "signed"),
}


def calendar(listed: Sequence[MonthListed], chosen: str) -> html.Nav:
    """Draw the months, year by year; the one that is open is marked."""
    by_month = {one.month: one for one in listed}
    years = sorted({one.month[:4] for one in listed}, reverse=True)
    return html.Nav(
        [
            html.Div(
                [
                    html.Span(year, className="month-year"),
                    html.Ol(
                        [html.Li(_cell(by_month.get(f"{year}-{n:02d}"), n, chosen)) for n in range(1, 13)],
                        className="month-cells",
                    ),
                ],
                className="month-row",
            )
            for year in years
        ]
        + [html.P([html.Span(f"{sign} {words}") for sign, words in STATES.values()], className="month-key")],
        className="month-calendar",
        **aria(label="Months"),
    )


def _cell(one: MonthListed | None, n: int, chosen: str) -> Any:
    name = MONTH_NAMES[n - 1][:3]
    if one is None:
        return html.Span(name, className="month-cell none")
    sign, words = STATES[one.state]
    more = (
        [f"{one.n_addenda} addend{'um' if one.n_addenda == 1 else 'a'}"] if one.n_addenda else [],
        ["running"] if one.is_running else [],
        [] if one.has_readings else ["no readings"],
    )
    told = ", ".join([month_in_words(one.month), words, *(text for part in more for text in part)])
    is_chosen = one.month == chosen
    named: Any = {**aria(label=told), **(aria(current="page") if is_chosen else {})}
    mark = f"{sign}{f'+{one.n_addenda}' if one.n_addenda else ''}"
    face = [html.Span(name), html.Span(mark, className="month-mark", **aria(hidden="true"))]
    look = f"month-cell{' here' if is_chosen else ''}"
    # A plain anchor, since a Link of Dash takes no ARIA attributes.
    return html.A(face, href=f"/month/{one.month}", title=told, className=look, **named)
