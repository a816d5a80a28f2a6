"""What is typed into a tool: fields with their unit and range; nonsense becomes a sentence at its field."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from isohume.dashboard.formats import count

LONGEST_NUMBER = 24
# Digits with one decimal point or comma, and perhaps a power of ten.
_NUMBER = re.compile(r"[+-]?([0-9]+[.,]?[0-9]*|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A quantity: `low` and `high` are the smallest and largest that the tool can use."""

    name: str
    label: str
    unit: str
    low: float
    high: float
    needed: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One of some names; pairs of what stands in the address and what is read on screen."""

    name: str
    label: str
    choices: tuple[tuple[str, str], ...]
    default: str = ""
    note: str = ""
    wide: bool = False  # takes a line of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """Words, kept as they are."""

    name: str
    label: str
    longest: int = 120
    needed: bool = False
    note: str = ""
    wide: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A date, as 2026-11-20."""

    name: str
    label: str
    needed: bool = False
    note: str = ""


Field = Number | Choice | Text | Day
Value = float | str | dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was typed, understood: values by name, and a sentence for every field that is not right."""

    values: Mapping[str, Value] = field(default_factory=dict)
    faults: Mapping[str, str] = field(default_factory=dict)

    def number(self, name: str) -> float | None:
        """Return a number, None where none was typed."""
        value = self.values.get(name)
        return value if isinstance(value, float) else None

    def amount(self, name: str) -> float:
        """Return a number that the tool needs; ask only where `faults` is empty."""
        value = self.number(name)
        if value is None:
            raise ValueError(f"{name} was not typed.")
        return value

    def text(self, name: str) -> str:
        """Return a choice or words, "" where there are none."""
        value = self.values.get(name)
        return value if isinstance(value, str) else ""

    def day(self, name: str) -> dt.date | None:
        """Return a date, None where none was typed."""
        value = self.values.get(name)
        return value if isinstance(value, dt.date) else None


def read(fields: Sequence[Field], typed: Mapping[str, object]) -> Typed:
    """Understand what was typed; nothing that can be typed raises an error.

    Parameters
    ----------
    fields : sequence
    typed : mapping
        Text by field name, as it came from the page or the address.

    Returns
    -------
    Typed
    """
    values: dict[str, Value] = {}
    faults: dict[str, str] = {}
    for one in fields:
        told = typed.get(one.name)
        text = "" if told is None else str(told).strip()
        try:
            values[one.name] = _value(one, text)
        except ValueError as error:
            values[one.name] = None
            faults[one.name] = str(error)
    return Typed(values=values, faults=faults)


def written(number: float, digits: int = 6) -> str:
    """Write a number as somebody would type it."""
    return f"{number:.{digits}g}" if 1e-4 <= abs(number) < 10**digits or number == 0 else f"{number:g}"


def _value(one: Field, text: str) -> Value:
    if isinstance(one, Choice):
        if not text:
            return one.default
        if text not in {value for value, _ in one.choices}:
            raise ValueError("Not among the choices: choose one from the list.")
        return text
    if not text:
        if one.needed:
            raise ValueError(f"Needed: {_expected(one)}.")
        return "" if isinstance(one, Text) else None
    if isinstance(one, Number):
        return _number(one, text)
    if isinstance(one, Day):
        return _day(one, text)
    if len(text) > one.longest:
        raise ValueError(f"{len(text)} characters: at most {one.longest} are kept.")
    return text


def _number(one: Number, text: str) -> float:
    plain = text.replace("\N{MINUS SIGN}", "-")
    if len(plain) > LONGEST_NUMBER or not _NUMBER.fullmatch(plain):
        raise ValueError(f"Not a number: {_expected(one)}.")
    number = float(plain.replace(",", "."))
    if not (math.isfinite(number) and one.low <= number <= one.high):
        raise ValueError(f"Out of range: {_expected(one)}.")
    return number + 0.0  # no −0


def _day(one: Day, text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"Not a date: {_expected(one)}.") from None


def _expected(one: Field) -> str:
    if isinstance(one, Number):
        low, high = (_plain(limit) for limit in (one.low, one.high))
        return f"{low} to {high}{f' {one.unit}' if one.unit else ''}"
    return "a date such as 2026-11-20" if isinstance(one, Day) else "some words"


def _plain(limit: float) -> str:
    text = count(int(limit)) if limit == int(limit) else f"{limit:g}"
    return text.replace("-", "\N{MINUS SIGN}")
