"""How the fields of a part are drawn, and how a result is marked as reckoned."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

import dash_mantine_components as dmc
from dash import html

from isohume.dashboard import ids
from isohume.dashboard.components.blocks import aria, no_result
from isohume.dashboard.workbench.fields import Choice, Day, Field, Number, Text, Typed
from isohume.dashboard.workbench.part import CannotReckonError, Context, Part, Texts, Tool

# Long enough to finish a number, short enough to feel live.
TYPING_PAUSE_MS = 300
NOT_YET = "Put right what is marked in the form."


def field_id(part: Part, name: str) -> dict[str, str]:
    """Name a field."""
    return {"type": ids.WORKBENCH_FIELD, "part": part.key, "name": name}


def form(part: Part, context: Context, texts: Texts, picked: str, typed: Typed) -> html.Div:
    """Draw all fields of a part, in groups."""
    picks = part.picks(context)
    picker = (
        [
            dmc.Select(
                id={"type": ids.WORKBENCH_PICK, "part": part.key, "name": "pick"},
                label=part.picks_label,
                data=[{"value": value, "label": label} for value, label in picks],
                value=picked or None,
                placeholder="type the values yourself",
                clearable=True,
                searchable=True,
                className="workbench-picker",
            )
        ]
        if picks
        else []
    )
    groups = [
        html.Fieldset(
            [
                html.Legend(group.title),
                *([html.P(group.note, className="remark")] if group.note else []),
                html.Div(
                    [control(part, one, texts.get(one.name, ""), typed.faults.get(one.name)) for one in group.fields],
                    className=f"workbench-fields {group.rows}",
                ),
            ]
        )
        for group in part.groups(context)
    ]
    return html.Div([*picker, *groups], className="workbench-form", role="form", **aria(label=part.title))


def control(part: Part, one: Field, text: str, fault: str | None) -> Any:
    """Draw one field with its unit, and what is wrong with it."""
    named: dict[str, Any] = {
        "id": field_id(part, one.name),
        "error": fault,
        "description": one.note or None,
        "inputWrapperOrder": ["label", "input", "description", "error"],  # the inputs of a line stand level
    }
    if isinstance(one, Choice | Text) and one.wide:
        named["className"] = "wide"
    if isinstance(one, Choice):
        return dmc.Select(
            label=one.label,
            data=[{"value": value, "label": label} for value, label in one.choices],
            value=text or one.default,
            allowDeselect=False,
            searchable=len(one.choices) > 8,
            **named,
        )
    unit = f" [{one.unit}]" if isinstance(one, Number) and one.unit else ""
    placeholder = "2026-11-20" if isinstance(one, Day) else None
    return dmc.TextInput(
        label=f"{one.label}{unit}",
        value=text,
        debounce=TYPING_PAUSE_MS,
        placeholder=placeholder,
        autoComplete="off",
        required=one.needed,
        **named,
    )


def reckoned(part: Part, tool: Tool, context: Context, *, typed: Typed, texts: Texts, picked: str) -> list[Any]:
    """Return the result of a part: marked as reckoned, or why there is none."""
    if typed.faults:
        return [no_result(NOT_YET, lead="No result yet.")]
    try:
        content = part.result(context, typed, picked)
    except CannotReckonError as error:
        return [no_result(str(error))]
    if not part.finished(context, typed):
        return content
    marked = html.P(html.Span("reckoned, not measured", className="tag reckoned"), className="workbench-mark")
    return [marked, *content, *downloads(part, tool, texts)]


def downloads(part: Part, tool: Tool, texts: Texts) -> list[Any]:
    """Link the tables of a result as files."""
    if part.sheets is None:
        return []
    query = urlencode({name: text for name, text in texts.items() if text})
    at = f"/workbench/{tool.slug}/{part.key}"
    kinds = [("Table as CSV", "csv"), ("as XLSX", "xlsx"), *([("Sheet as PDF", "pdf")] if part.paper else [])]
    links = [html.A(word, href=f"{at}.{kind}?{query}", download="") for word, kind in kinds]
    return [html.P(links, className="workbench-downloads")]


def as_texts(names: Mapping[str, Any]) -> dict[str, str]:
    """Return what the browser sent as texts; anything else than text or a number counts as not typed."""
    return {name: str(value) for name, value in names.items() if isinstance(value, str | int | float)}
