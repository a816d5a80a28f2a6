"""Values of the register as people see and type them: moments in the site's zone, numbers with their units."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args, get_origin, get_type_hints

import pandas as pd

from isohume.analysis.terms import Clause
from isohume.dashboard.components.record_field_words import FieldWords
from isohume.dashboard.components.record_words import PART, TABLES, field_words, kind_words
from isohume.dashboard.moments import moment_of
from isohume.ingest.archive.kinds import kind_named

YES, NO = "yes", "no"
CALENDAR = "a date, or date and time, as 2026-03-01 or 2026-03-01 09:00"
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(.*)", re.DOTALL)


@dataclass(frozen=True, slots=True)
class FieldShape:
    """What kind of value a control holds, and the only values it may take."""

    shape: str
    choices: tuple[str, ...] = ()


def shape_of(kind: str, name: str) -> FieldShape:
    """Return the shape of a control: a field of the kind, a limit of its band, an entry of one of its tables."""
    first, *parts = name.split(PART)
    if not parts:
        about = kind_named(kind).fields[first]
        return FieldShape(about.shape, about.choices)
    if first not in TABLES:
        return FieldShape("number")
    hints = get_type_hints(TABLES[first])[parts[-1]]
    is_union = len(get_args(hints)) > 1 and type(None) in get_args(hints)
    one = next(one for one in (get_args(hints) if is_union else (hints,)) if one is not type(None))
    if get_args(one) and get_origin(one) is not None:
        return FieldShape("text", tuple(map(str, get_args(one))))
    return FieldShape({bool: "yes or no", float: "number"}.get(one, "text"))


def entry(values: Mapping[str, Any], name: str) -> Any:
    """Return what a control shows of a record: a field, or one entry of a table, band or clause."""
    first, *parts = name.split(PART)
    held = values.get(name, values.get(first))
    if not parts or name in values:
        return held
    for part in parts:
        if isinstance(held, Mapping):
            held = held.get(part)
        elif isinstance(held, Sequence) and not isinstance(held, str):
            place = {"low": 0, "high": 1}.get(part, int(part) if part.isdigit() else -1)
            held = held[place] if 0 <= place < len(held) else None
        else:
            return None
    return held


def shown(kind: str, name: str, value: Any, zone: str) -> Any:
    """Return a value as its control holds it: text, or a list of texts."""
    shape, is_list = shape_of(kind, name).shape, bool(field_words(kind, name).refers)
    if shape == "yes or no":
        return YES if value is True or value in (YES, "true") else NO
    if value is None or value == "":
        return [] if shape == "texts" and is_list else ""
    if shape == "texts":
        return list(value) if is_list else "\n".join(value)
    if shape == "time":
        return _local_text(value, zone)
    return _WRITTEN.get(shape, str)(value)


def said(
    kind: str,
    values: Sequence[Any],
    names: Sequence[str | Mapping[str, Any]],
    *,
    before: Mapping[str, Any] | None = None,
    zone: str | None = None,
) -> dict[str, Any]:
    """Turn what was typed into what `Archive.put(kind, …)` takes.

    Parameters
    ----------
    kind : str
        Kind of record.
    values : sequence
        What the controls hold.
    names : sequence of str or mapping
        Their names in the same order, or their ids (`{"type": "field", "form": …, "name": …}`).
    before : mapping, optional
        The record as it stands: entries of its tables that the form does not show stay, and a moment that was left
        alone stays exact.
    zone : str, optional
        Time zone of the site; the present store's where it is left out.

    Returns
    -------
    dict
        Fields as the archive takes them: moments in UTC, nothing as None (a text of the key as "").

    Raises
    ------
    ValueError
        The message names the field, what was found and what to write.
    """
    if zone is None:
        from isohume.dashboard.current import current_store

        zone = current_store().site().time_zone
    typed = {str(name["name"] if isinstance(name, Mapping) else name): value
             for name, value in zip(names, values, strict=True)}  # fmt: skip
    before = before or {}
    put: dict[str, Any] = {}
    for name, value in typed.items():
        first, *parts = name.split(PART)
        untouched = bool(before) and shown(kind, name, entry(before, name), zone) == (
            value if value is not None else ""
        )
        told = entry(before, name) if untouched else _read(kind, name, value, zone)
        if not parts:
            put[first] = "" if told is None and first == "channel" and first in kind_named(kind).key else told
        elif first == "band":
            put.setdefault(first, [None, None])[0 if parts[0] == "low" else 1] = told
        elif first == "clauses":
            put.setdefault(first, {}).setdefault(int(parts[0]), {})[parts[1]] = told
        else:
            put.setdefault(first, dict(before.get(first) or {}))[parts[0]] = told
    return _whole(kind, _gathered(kind, put, before), before)


def _gathered(kind: str, put: dict[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
    """Put the entries of bands, tables and clauses together."""
    if "band" in put:
        low, high = put["band"]
        if (low is None) != (high is None):
            raise ValueError("Agreed band: found one limit only. Write both, or neither.")
        put["band"] = None if low is None else [low, high]
    for name in TABLES.keys() & put.keys() - {"clauses"}:
        # What is not said, or said as usual, is not written down, unless it was before.
        was = before.get(name) or {}
        put[name] = {
            key: value
            for key, value in put[name].items()
            if value is not None and value != "" and (value is not False or key in was)
        } or None
    if "clauses" in put:
        rows = [_clause(kind, put["clauses"][place]) for place in sorted(put["clauses"])]
        put["clauses"] = [row for row in rows if row]
    return put


def _whole(kind: str, put: dict[str, Any], before: Mapping[str, Any]) -> dict[str, Any]:
    """Refuse a record without what names it; a choice that was left open is not said."""
    about = kind_named(kind)
    for name in [name for name, value in put.items() if value is None]:
        label = field_words(kind, name).label
        if name in about.key:
            raise ValueError(f"{label}: found nothing. It names the {kind_words(kind).one}: write it.")
        if about.fields[name].choices and before.get(name):
            raise ValueError(f"{label}: found nothing. Choose one of {', '.join(about.fields[name].choices)}.")
        if about.fields[name].choices:
            del put[name]
    return put


def _clause(kind: str, held: Mapping[str, Any]) -> dict[str, Any] | None:
    if held.get("low") is None and held.get("high") is None and not held.get("notice"):
        return None  # an empty row
    told = {name: value for name, value in held.items() if value is not None}
    missing = [
        field_words(kind, f"clauses:0:{name}").label for name in ("air", "quantity", "kind") if not told.get(name)
    ]
    if missing:
        raise ValueError(
            f"A clause: found limits, but not {', '.join(missing).lower()}. Choose it, or clear the limits."
        )
    try:
        Clause(**told)
    except ValueError as error:
        raise ValueError(f"A clause: {error}") from None
    return told


def _read(kind: str, name: str, value: Any, zone: str) -> Any:
    about, words = shape_of(kind, name), field_words(kind, name)
    value = value.strip() if isinstance(value, str) else value
    if value is None or value in ("", []):
        return None
    if about.choices and value not in about.choices:
        raise _refusal(words, value, f"one of {', '.join(about.choices)}")
    if about.shape == "time":
        return _moment(words, str(value), zone)
    if about.shape in ("number", "whole"):
        return _number(words, value, whole=about.shape == "whole")
    if name == "panel:faces_open":
        return int(value)
    read = _READ.get(about.shape)
    return str(value) if read is None else read(words, value)


def _number(words: FieldWords, value: Any, *, whole: bool = False) -> float:
    text = str(value).replace("−", "-").replace("\N{NARROW NO-BREAK SPACE}", "").removesuffix(words.unit).strip()
    try:
        number = float(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)
    except ValueError:
        number = float("nan")
    least = float("-inf") if words.least is None else words.least
    most = float("inf") if words.most is None else words.most
    if number - number != 0 or not least <= number <= most or (whole and number != int(number)):
        bounds = {(False, False): "a number", (True, False): f"a number of {least:g} or more"}
        expected = bounds.get(
            (words.least is not None, words.most is not None), f"a number from {least:g} to {most:g}"
        )
        raise _refusal(words, value, f"{expected}{f' [{words.unit}]' if words.unit else ''}, such as 12.5")
    return number


def _moment(words: FieldWords, text: str, zone: str) -> dt.datetime:
    dotted = _DOTTED.fullmatch(text)
    if dotted:
        day, month, year, rest = dotted.groups()
        text = f"{year}-{int(month):02d}-{int(day):02d}{rest.rstrip()}"
    text = re.sub(r"[ T,]+(\d):", r"T0\1:", text)
    try:
        return moment_of(text, zone).to_pydatetime()
    except ValueError:
        raise _refusal(words, text, f"{CALENDAR}, that exists in {zone}") from None


def _point(words: FieldWords, line: str) -> list[float]:
    found = re.findall(r"[-−+]?\d+(?:\.\d+)?", line)
    if len(found) != 2:
        raise _refusal(words, line, "two numbers with a decimal point: as found, reference; such as 33.9, 32.8")
    return [_number(FieldWords(words.label), one) for one in found]


def _lines(_words: FieldWords, value: Any) -> list[str]:
    lines = value.splitlines() if isinstance(value, str) else value
    return [str(line).strip() for line in lines if str(line).strip()]


def _points(words: FieldWords, value: Any) -> list[list[float]]:
    return [_point(words, line) for line in _lines(words, value)]


def _table(words: FieldWords, value: Any) -> dict[str, Any]:
    return dict(_pair(words, line) for line in _lines(words, value))


def _pair(words: FieldWords, line: str) -> tuple[str, Any]:
    name, sign, value = line.partition(":")
    if not sign or not name.strip():
        raise _refusal(words, line, "a name, a colon and a value, such as reading at 33 %RH: 34.1")
    try:
        return name.strip(), float(value)
    except ValueError:
        return name.strip(), value.strip()


def _refusal(words: FieldWords, found: Any, expected: str) -> ValueError:
    return ValueError(f"{words.label}: found “{found}”. Write {expected}.")


def _local_text(value: Any, zone: str) -> str:
    local = pd.Timestamp(value)
    local = (local.tz_localize("UTC") if local.tz is None else local).tz_convert(zone)
    if local == local.normalize():
        return f"{local:%Y-%m-%d}"
    return f"{local:%Y-%m-%d %H:%M}" if local.second == 0 and local.microsecond == 0 else f"{local:%Y-%m-%d %H:%M:%S}"


_READ: Mapping[str, Callable[[FieldWords, Any], Any]] = {
    "yes or no": lambda _words, value: value is True or value == YES,
    "texts": _lines,
    "points": _points,
    "table": _table,
}
_WRITTEN: Mapping[str, Callable[[Any], str]] = {
    "points": lambda value: "\n".join(f"{found:g}, {reference:g}" for found, reference in value),
    "table": lambda value: "\n".join(f"{key}: {item}" for key, item in value.items()),
    "number": lambda value: f"{value:.10g}" if isinstance(value, float) else str(value),
}
