"""The account of a file's rows: a bar with words, and the rows that were rejected."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.dashboard.components.blocks import aria, table
from isohume.dashboard.formats import count, share

# What a row became, in the order of the bar; flagged rows are a part of the kept.
KINDS = ("kept", "flagged", "duplicate", "conflicting", "rejected")
WORDS = {
    "kept": "kept", "flagged": "kept, flagged", "duplicate": "twice the same", "conflicting": "conflicting",
    "rejected": "rejected",
}  # fmt: skip


def row_account(one: dict[str, Any]) -> html.Div:
    """Draw what became of every row of one table."""
    return html.Div([*account_bar(one["rows"]), *rejected_rows(one)], className="row-account")


def account_bar(rows: dict[str, int]) -> list[Any]:
    """Draw the account as a bar, and say it in words."""
    total = rows["in_file"]
    if not total:
        return []
    parts = {**{kind: rows[kind] for kind in KINDS}, "kept": rows["kept"] - rows["flagged"]}
    words = [f"{count(n)} {WORDS[kind]}" for kind, n in parts.items() if n]
    bar = [
        html.Span(className=kind, style={"flexGrow": n}, title=f"{count(n)} {WORDS[kind]}")
        for kind, n in parts.items()
        if n
    ]
    named: Any = aria(hidden="true")
    return [
        html.Div(bar, className="row-bar", **named),
        html.P(
            [
                f"{count(total)} rows: ",
                *(
                    html.Span([html.Span(className=f"row-key {kind}", **named), text], className="row-word")
                    for kind, text in zip([k for k, n in parts.items() if n], words, strict=True)
                ),
            ],
            className="row-words",
        ),
    ]


def rejected_rows(one: dict[str, Any]) -> list[Any]:
    """List the rejected rows with line and reason, folded away."""
    n_rejected, listed = one["rows"]["rejected"], one["rejected"]
    if not n_rejected:
        return []
    total = max(1, one["rows"]["in_file"])
    title = f"{count(n_rejected)} rejected ({share(n_rejected / total)} of the rows)"
    caption = f"{title}, the first {len(listed)} listed" if len(listed) < n_rejected else title
    return [
        html.Details(
            [
                html.Summary("Rejected rows, with line and reason"),
                table(("Line", "Column", "Found", "Why"), listed, caption=caption, numeric=(0,)),
            ]
        )
    ]
