"""One heading, understood: which quantity, which unit, which channel, and what it says about the clock."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from isohume.ingest.header_words import FILLERS, PHRASES, SENSOR_STEMS, STATISTICS, STEMS, WORDS, Quantity
from isohume.ingest.moments import DateOrder, plain
from isohume.ingest.units import Unit, is_other_unit, unit_of

_BRACKETS = re.compile(r"[\[({<]([^\])}>]*)[\])}>]")
_TOKEN = re.compile(r"[^\W\d_]+|\d+|[%#]")
# "TempInside", "tInside", "RHIn"; but not "rH".
_CAMEL = re.compile(r"(?<=[a-zà-ÿ])(?=[A-Z][a-zà-ÿ])|(?<=[a-zà-ÿ]{2})(?=[A-Z])|(?<=[A-Z]{2})(?=[A-Z][a-z])")
_JOINED = re.compile(r"(rh|temp|hum)([a-z]{2,})")
# Small units at the end of a heading without brackets: "Temp °C", "Humidity, %", "rh_percent".
_TAIL_UNIT = re.compile(
    r"[\s,:/_.\-]*((?:[°º˚�]|\bdeg[\s.]*)\s?[cfk]\b\.?|%\s?(?:r\.?[hf]\.?|h\.?r\.?|u\.?r\.?|r\.?v\.?)?|"
    r"(?<=[\s,_])(?:celsius|fahrenheit|kelvin|percent|prozent|degc|degf|pct|c|f|k))\s*$",
    re.IGNORECASE,
)
_HEAD_UNIT = re.compile(r"^\s*(%\s?(?:r\.?[hf]\.?)?|[°º˚]\s?[cfk]\b)", re.IGNORECASE)
_OFFSET = re.compile(r"(?:utc|gmt|z)?\s*([+\-−]\s?\d{1,2}(?::?\d{2})?)\b|\b(utc|gmt)\b", re.IGNORECASE)
# What a heading may mean, and the label left of it.
Meaning = tuple[tuple[Quantity, ...], str]
MEASURED = ("relative humidity", "temperature", "dew point")
_D, _M, _Y = r"[dtjg]{1,2}", r"(?:m{1,2}|k{1,2})", r"[yjaå]{2,4}"
_ORDER_LETTERS: dict[DateOrder, re.Pattern[str]] = {
    "day-first": re.compile(rf"\b{_D}([-/. ]){_M}\1{_Y}\b"),
    "month-first": re.compile(rf"\b{_M}([-/. ]){_D}\1{_Y}\b"),
    "year-first": re.compile(rf"\b{_Y}([-/. ]?){_M}\1{_D}\b"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What one heading says.

    Attributes
    ----------
    text : str
        As written.
    meanings : tuple of Quantity
        What it may stand for, the likeliest first; empty if the words are unknown.
    unit : Unit
        "" where none is written.
    label : str
        What is left: the channel.
    statistic : str
        "minimum", "maximum", "mean", "spread", "summary" or "".
    offset : str
        Offset to UTC that the heading states: "UTC", "+01:00"; "" if none.
    order : DateOrder or None
        Order of day and month that it states.
    """

    text: str
    meanings: tuple[Quantity, ...] = ()
    unit: Unit = ""
    label: str = ""
    statistic: str = ""
    offset: str = ""
    order: DateOrder | None = None

    @property
    def is_known(self) -> bool:
        """Whether the heading uses any word or unit we know."""
        return bool(self.meanings or self.unit)


@lru_cache(maxsize=4096)
def understand(text: str) -> Heading:
    """Understand one heading.

    Examples
    --------
    >>> heading = understand("Innentemperatur [°C]")
    >>> heading.meanings, heading.unit, heading.label
    (('temperature',), '°C', 'Innen')
    """
    tidy = text.strip().strip("'\"").strip()
    if len(tidy) > 120:
        return Heading(text=text)
    unit, rest = _take_unit(tidy)
    if not unit and any(is_other_unit(inside) for inside in _BRACKETS.findall(tidy)):
        return Heading(text=text, meanings=("other",))
    spaced = _CAMEL.sub(" ", rest)
    tokens = _TOKEN.findall(spaced)
    words = [plain(token) for token in tokens]
    meanings, label = _meanings(tokens, words)
    if meanings[:1] in (("sensor",), ("record",), ("value",)) and unit not in ("", "fraction"):
        meanings, label = (), _label(tokens)  # "Room (°C)" names a thermometer
    if not meanings and unit in ("%", "fraction"):
        meanings = ("relative humidity",)
    elif not meanings and unit:
        meanings = ("temperature",)
    if meanings and meanings[0] == "relative humidity" and unit in ("°C", "°F", "K"):
        meanings = ("temperature",) if len(meanings) == 1 else meanings
    is_time = bool({"moment", "date", "clock"} & set(meanings))
    statistic = next((STATISTICS[word] for word in words if word in STATISTICS), "")
    return Heading(
        text=text,
        meanings=meanings,
        unit=unit,
        label=label,
        statistic=statistic,
        offset=_offset(tidy) if is_time else "",
        order=stated_order(tidy) if is_time else None,
    )


def stated_order(text: str) -> DateOrder | None:
    """Return the date order that a pattern such as `dd/mm/yyyy` or `TT.MM.JJJJ` states."""
    return next((order for order, pattern in _ORDER_LETTERS.items() if pattern.search(plain(text))), None)


def _take_unit(text: str) -> tuple[Unit, str]:
    for inside in _BRACKETS.finditer(text):
        if unit := unit_of(inside[1]):
            return unit, text[: inside.start()] + " " + text[inside.end() :]
    if (found := _TAIL_UNIT.search(text)) and (unit := unit_of(found[1].replace("_", " "))):
        return unit, text[: found.start()]
    if (found := _HEAD_UNIT.match(text)) and (unit := unit_of(found[1])):
        # "%RH" is unit and quantity in one.
        return unit, text[found.end() :]
    return "", text


def _meanings(tokens: list[str], words: list[str]) -> Meaning:
    """Return what a heading may mean, and the label that is left of it."""
    if found := _by_phrase(tokens, words):
        return found
    tokens, words = _apart(tokens, words)
    return _by_stem(tokens, words) or _by_word(tokens, words) or _by_sensor(tokens, words) or ((), _label(tokens))


def _by_phrase(tokens: list[str], words: list[str]) -> Meaning | None:
    joined = " ".join(words)
    for quantity, phrases in PHRASES:
        for phrase in phrases:
            if phrase in joined and (found := re.search(rf"\b{re.escape(phrase)}", joined)):
                first = joined[: found.start()].count(" ")
                last = first + found[0].count(" ")
                return (quantity,), _label([*tokens[:first], *tokens[last + 1 :]])
    return None


def _by_stem(tokens: list[str], words: list[str]) -> Meaning | None:
    for quantity, stems in STEMS:
        for stem in stems:
            for position, word in enumerate(words):
                start = word.find(stem)
                if start >= 0:  # what stands before it is a label: "Innentemperatur"
                    return (quantity,), _label([*tokens[:position], tokens[position][:start], *tokens[position + 1 :]])
    return None


def _by_word(tokens: list[str], words: list[str]) -> Meaning | None:
    """Understand short words; the one that says most wins ("Sensor 1 T" is a temperature)."""
    found = [(position, WORDS[word]) for position, word in enumerate(words) if word in WORDS]
    if not found:
        return None
    if {meanings[0] for _, meanings in found} >= {"date", "clock"}:
        return ("moment",), ""
    best = min(found, key=lambda known: (known[1][0] not in MEASURED, known[0]))
    return best[1], _label([*tokens[: best[0]], *tokens[best[0] + 1 :]])


def _by_sensor(tokens: list[str], words: list[str]) -> Meaning | None:
    for position, word in enumerate(words):
        if any(stem in word for stem in SENSOR_STEMS):
            return ("sensor",), _label([*tokens[:position], *tokens[position + 1 :]])
    return None


def _apart(tokens: list[str], words: list[str]) -> tuple[list[str], list[str]]:
    """Take `rhin` and `tempout` apart; longer words of the vocabulary stay whole."""
    new_tokens: list[str] = []
    for token, word in zip(tokens, words, strict=True):
        found = (
            None
            if any(stem in word for _, stems in STEMS for stem in stems) or word in WORDS
            else _JOINED.fullmatch(word)
        )
        new_tokens += [token[: found.end(1)], token[found.end(1) :]] if found else [token]
    return new_tokens, [plain(token) for token in new_tokens]


def _label(tokens: list[str]) -> str:
    kept = [
        token for token in tokens if token and plain(token) not in FILLERS and STATISTICS.get(plain(token)) is None
    ]
    return " ".join(kept)


def _offset(text: str) -> str:
    found = _OFFSET.search(text)
    if not found or not (found[2] or re.search(r"utc|gmt", text, re.IGNORECASE) or ":" in (found[1] or "")):
        return ""
    return "UTC" if found[2] and not found[1] else (found[1] or "").replace("−", "-").replace(" ", "")
