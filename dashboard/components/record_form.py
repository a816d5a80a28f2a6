"""One form for records of the register: a control fitting each field, a button, and a place for the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.analysis.frame import Limits
from isohume.analysis.movement import wood_species
from isohume.dashboard.components.blocks import aria
from isohume.dashboard.components.record_field_words import FieldWords
from isohume.dashboard.components.record_values import NO, YES, FieldShape, entry, said, shape_of, shown
from isohume.dashboard.components.record_words import PART, field_words, flat_names, kind_words
from isohume.dashboard.current import current_archive, current_store
from isohume.ingest.archive.kinds import kind_named

__all__ = ["control", "failed", "kept", "record_form", "said"]

# Empty rows for clauses to come.
SPARE_CLAUSES = 2
MOST_OFFERED = 60
SUPPORTS = ("solid wood", "plywood", "hardboard", "canvas board", "paper board")
_ACROSS = frozenset({"note", "clauses", "files", "as_found", "points", "address", "handover", "painting"})


def record_form(
    form: str,
    kind: str,
    values: Mapping[str, Any] | None = None,
    *,
    fields: Sequence[str] | None = None,
    fixed: Sequence[str] = (),
    more: Sequence[Any] = (),
    submit: str = "Keep",
) -> html.Div:
    """Draw a form for one record.

    Parameters
    ----------
    form : str
        Tells it from other forms of the page. A control is `{"type": "field", "form": form, "name": field}`, the
        button `{"type": "form-keep", "form": form}`, the place of the answer `{"type": "form-told", "form": form}`.
        An entry of a table is named `panel:width_mm`, a limit of the band `band:low`.
    kind : str
        `frames`, `rooms`, `events`, `legs`, …
    values : mapping, optional
        What the controls hold at first: a record as the archive returns it, or a part of one.
    fields : sequence of str, optional
        The fields to show, in this order; all of the kind where it is left out.
    fixed : sequence of str
        Fields that are shown and cannot be changed.
    more : sequence of components
        Further controls after the plain ones, made by `control`.
    submit : str
        On the button.
    """
    values = values or {}
    secret = {name for name, about in kind_named(kind).fields.items() if about.secret}
    wanted = [name for name in (fields if fields is not None else kind_named(kind).fields) if name not in secret]
    n_clauses = len(values.get("clauses") or ()) + SPARE_CLAUSES
    plain = [name for name in wanted if name not in {"panel", "construction", "limits", "clauses"}]
    zone = current_store().site().time_zone

    def controls(names: Sequence[str]) -> list[Any]:
        flat = flat_names(kind, tuple(names), n_clauses=n_clauses)
        return [_control(form, kind, name, entry(values, name), zone, fixed=name in fixed) for name in flat]

    parts: list[Any] = [html.Div([*controls(plain), *more], className="record-fields")]
    for name in wanted:
        if name == "clauses":
            parts += [_clause(place, controls_of) for place, controls_of in _clauses(controls([name]), n_clauses)]
        elif name not in plain:
            words = field_words(kind, name)
            told = [html.P(words.help, className="row-note")] if words.help else []
            inner = [html.Summary(words.label), *told, html.Div(controls([name]), className="record-fields")]
            parts.append(
                html.Details(inner, open=bool(values.get(name)) and name != "limits", className="record-part")
            )
    return html.Div(
        [
            *parts,
            html.Div(
                [
                    dmc.Button(submit, id={"type": "form-keep", "form": form}, size="sm"),
                    html.Div(id={"type": "form-told", "form": form}, role="status", className="form-told"),
                ],
                className="form-foot",
            ),
        ],
        className="record-form",
        role="group",
        **aria(label=f"Form: {kind_words(kind).one}"),
    )


def control(form: str, kind: str, name: str, value: Any, *, named: str = "") -> Any:
    """Draw the control of one field by itself, under another name where the form has one of that name already."""
    drawn = _control(form, kind, name, value, current_store().site().time_zone, fixed=False)
    if named:
        drawn.id = {"type": "field", "form": form, "name": named}
    return drawn


def kept(text: str) -> html.P:
    """Say at the form that it was kept."""
    return html.P(text, className="form-kept")


def failed(error: Exception | str) -> html.P:
    """Say at the form why nothing was kept."""
    return html.P([html.Strong("Not kept. "), str(error)], className="form-failed")


def _clauses(controls: list[Any], n_clauses: int) -> list[tuple[int, list[Any]]]:
    per = len(controls) // n_clauses
    return [(place, controls[place * per : (place + 1) * per]) for place in range(n_clauses)]


def _clause(place: int, controls: list[Any]) -> html.Fieldset:
    inner = [html.Legend(f"Clause {place + 1}"), html.Div(controls, className="record-fields")]
    return html.Fieldset(inner, className="record-clause")


def _control(form: str, kind: str, name: str, value: Any, zone: str, *, fixed: bool) -> Any:
    """Draw the control of one field."""
    about, words = shape_of(kind, name), field_words(kind, name)
    first = name.partition(PART)[0]
    held = shown(kind, name, value, zone)
    shared: dict[str, Any] = {
        "id": {"type": "field", "form": form, "name": name},
        "label": f"{words.label} [{words.unit}]" if words.unit else words.label,
        "description": words.help or None,
        "className": "record-field across" if first in _ACROSS and PART not in name else "record-field",
    }
    if fixed:
        shared["className"] += " fixed"
        return dmc.TextInput(**shared, value=held, readOnly=True)
    if about.shape == "yes or no":
        choices = [{"value": YES, "label": YES}, {"value": NO, "label": NO}]
        return dmc.Select(**shared, data=choices, value=held, allowDeselect=False)
    if about.choices or words.refers or words.control == "suggested":
        return _choice(name, about, words, held, shared)
    if words.control == "long" or about.shape in ("points", "table", "texts"):
        return dmc.Textarea(**shared, value=held, autosize=True, minRows=2, maxRows=10)
    return dmc.TextInput(**shared, value=held, placeholder=_usual(first, name), autoComplete="off")


def _choice(name: str, about: FieldShape, words: FieldWords, held: Any, shared: dict[str, Any]) -> Any:
    """Draw a control that offers what there is to choose."""
    shared = {**shared, "limit": MOST_OFFERED, "nothingFoundMessage": "Nothing of that name"}
    if words.refers and about.shape == "texts":
        return dmc.MultiSelect(**shared, data=_records(words.refers, held), value=held, searchable=True)
    data: list[Any] = _choices(name, about.choices)
    if words.refers:
        data = _records(words.refers, [held])
    elif words.control == "suggested":
        data = _suggested(name, str(held))
    is_long = not about.choices
    return dmc.Select(
        **shared,
        data=data,
        value=held or None,
        clearable=True,
        searchable=is_long,
        placeholder="choose" if about.choices else "none",
    )


def _choices(name: str, choices: Sequence[str]) -> list[dict[str, str]]:
    words = (
        {"rh_percent": "relative humidity", "temperature_celsius": "temperature"} if name.endswith("quantity") else {}
    )
    return [{"value": one, "label": words.get(one, one)} for one in choices]


def _records(kind: str, held: Sequence[str]) -> list[dict[str, str]]:
    """Offer the records of a kind by short name and name; a name held that is no record stays on offer."""
    archive = current_archive()
    rows = [] if archive is None else archive.records(kind)
    (key,) = kind_named(kind).key
    offered = {str(row[key]): _label(row, key) for row in rows}
    return [
        {"value": value, "label": label} for value, label in {**{one: one for one in held if one}, **offered}.items()
    ]


def _label(row: Mapping[str, Any], key: str) -> str:
    name = row.get("name") or row.get("painting") or row.get("title") or row.get("serial") or ""
    if key == "sha256":
        return f"{name} ({str(row[key])[:8]})"
    return f"{row[key]} · {name}" if name and name != row[key] else str(row[key])


def _suggested(name: str, held: str) -> list[str]:
    known = list(SUPPORTS) if name.endswith("support") else _species()
    return [held, *known] if held and held not in known else known


@cache
def _species() -> list[str]:
    return [*wood_species()]


def _usual(first: str, name: str) -> str:
    if first != "limits":
        return ""
    return f"{getattr(Limits(), name.split(PART)[1]):g}"
