"""Values as people and files write them, turned into the register's, or refused with a reason."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args, get_origin, get_type_hints
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.kind import Kind

# A moment outside is a slip of the pen: of a frame, its loggers and loans nothing is known from then.
FIRST_YEAR, LAST_YEAR = 1800, 2199


@dataclass(frozen=True, slots=True)
class Converter:
    """Turns written values into the register's, in one site's time zone.

    Attributes
    ----------
    zone : ZoneInfo
        A date or a time without offset is meant here.
    place : str
        Where the value was written, for messages: a file and record.
    """

    zone: ZoneInfo
    place: str

    def values(self, kind: Kind, written: Mapping[str, Any]) -> dict[str, Any]:
        """Convert the fields given; `None` or "" clears one.

        Raises
        ------
        RegisterError
            A field is unknown or its value is not what the field holds.
        """
        unknown = sorted(set(written) - set(kind.fields))
        if unknown:
            raise self.refusal(kind, f"field {', '.join(unknown)}", f"only {', '.join(kind.fields)}")
        return {name: self.value(kind, name, value) for name, value in written.items()}

    def value(self, kind: Kind, name: str, written: Any) -> Any:
        """Convert one value."""
        about = kind.fields[name]
        if written is None or (written == "" and about.shape not in {"text", "zone"}):
            return None
        try:
            value = CONVERSIONS[about.shape](written, self.zone)
        except (TypeError, ValueError, ZoneInfoNotFoundError):
            raise self.refusal(kind, f"{name} = {written!r}", EXPECTED[about.shape]) from None
        if about.choices and value not in about.choices:
            raise self.refusal(kind, f"{name} = {written!r}", f"one of {', '.join(about.choices)}")
        if about.table is not None:
            for one in value if about.shape == "tables" else (value,):
                self.check_table(kind, name, one, about.table)
        return value

    def check_table(self, kind: Kind, name: str, values: Mapping[str, Any], like: type) -> None:
        """Refuse a table that the dataclass it becomes could not hold."""
        wanted = get_type_hints(like)
        for key, value in values.items():
            if key not in wanted:
                raise self.refusal(kind, f"{name} with {key}", f"only {', '.join(wanted)}")
            if not any(_fits(value, hint) for hint in _alternatives(wanted[key])):
                raise self.refusal(kind, f"{name}.{key} = {value!r}", _in_words(wanted[key]))

    def refusal(self, kind: Kind, found: str, expected: str) -> RegisterError:
        """Return the error for one record."""
        return RegisterError(
            f"{self.place}, {kind.name}", found=found, expected=expected,
            remedy="Correct it there and repeat; the register is unchanged.",
        )  # fmt: skip


def _text(value: Any, _zone: ZoneInfo) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value.strip()


def _number(value: Any, _zone: ZoneInfo) -> float:
    if isinstance(value, bool):
        raise TypeError
    number = float(value)
    if number - number != 0:  # infinite or not a number
        raise ValueError
    return number


def _whole(value: Any, zone: ZoneInfo) -> int:
    number = _number(value, zone)
    if number != int(number):
        raise ValueError
    return int(number)


def _yes_or_no(value: Any, _zone: ZoneInfo) -> bool:
    words = {True: True, False: False, "yes": True, "no": False, "true": True, "false": False}
    if value not in words:
        raise ValueError
    return words[value]


def to_time(value: Any, zone: ZoneInfo) -> dt.datetime:
    """Return an aware UTC time for a date (start of the day), a time, or their ISO text."""
    if isinstance(value, str):
        value = dt.date.fromisoformat(value) if len(value) == 10 else dt.datetime.fromisoformat(value)
    if not isinstance(value, dt.date):
        raise TypeError
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(value.year)
    moment = value if isinstance(value, dt.datetime) else dt.datetime.combine(value, dt.time())
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(dt.UTC)


def _zone_name(value: Any, zone: ZoneInfo) -> str:
    text = _text(value, zone)
    if text and not text.startswith(("+", "-")):
        ZoneInfo(text)
    elif text:
        dt.datetime.strptime(text.replace(":", ""), "%z")
    return text


def _texts(value: Any, zone: ZoneInfo) -> list[str]:
    return [_text(item, zone) for item in (value.split(";") if isinstance(value, str) else value)]


def _band(value: Any, zone: ZoneInfo) -> list[float]:
    low, high = value.replace("–", "-").split("-") if isinstance(value, str) else value
    return [_number(low, zone), _number(high, zone)]


def _points(value: Any, zone: ZoneInfo) -> list[list[float]]:
    return [_band(list(point), zone) for point in value]


def _table(value: Any, _zone: ZoneInfo) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise TypeError
    return {str(name): item for name, item in value.items()}


def _tables(value: Any, zone: ZoneInfo) -> list[dict[str, Any]]:
    if isinstance(value, str):
        raise TypeError
    return [_table(item, zone) for item in value]


CONVERSIONS: dict[str, Callable[[Any, ZoneInfo], Any]] = {
    "text": _text, "number": _number, "yes or no": _yes_or_no, "time": to_time, "zone": _zone_name,
    "texts": _texts, "band": _band, "points": _points, "table": _table,
    "tables": _tables, "whole": _whole,
}  # fmt: skip
EXPECTED = {
    "text": "text in quotes",
    "number": "a number",
    "whole": "a whole number",
    "yes or no": "true or false",
    "time": "a date or time such as 2026-03-01 or 2026-03-01T09:00:00+01:00",
    "zone": 'a time zone such as "Europe/Berlin", or a fixed "+01:00"',
    "texts": "a list of texts",
    "band": "two numbers, low and high, such as [45, 55]",
    "points": "a list of pairs [as found, reference]",
    "table": "a table of named values",
    "tables": "a list of tables of named values",
}


def _alternatives(hint: Any) -> list[Any]:
    """Return the types of a union, or the one type."""
    is_union = get_origin(hint) not in {None, Literal}
    return list(get_args(hint)) if is_union else [hint]


def _fits(value: Any, hint: Any) -> bool:
    if hint is type(None):
        return value is None
    if get_origin(hint) is Literal:
        return value in get_args(hint)
    if hint is float:
        return isinstance(value, int | float) and not isinstance(value, bool) and value - value == 0
    return isinstance(value, hint)


def _in_words(hint: Any) -> str:
    words = {float: "a number", bool: "true or false", str: "text in quotes"}
    said = [
        words.get(one) or ", ".join(map(str, get_args(one))) for one in _alternatives(hint) if one is not type(None)
    ]
    return " or ".join(said)
