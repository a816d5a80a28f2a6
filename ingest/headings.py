"""One heading, understood: which quantity, which unit, which channel, and what it says about the clock."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from isohume.ingest.header_words import FILLERS, PHRASES, SENSOR_STEMS, STATISTICS, STEMS, WORDS, Quantity
from isohume.ingest.moments import DateOrder, plain
from isohume.ingest.units import Unit, unit_of

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
_ORDER_LETTERS = re.compile(r"\b([dtjg]{1,2})([-/. ])(m{1,2}|k{1,2})\2([yjaå]{2,4})\b|"
                            r"\b(m{1,2})([-/. ])([dtjg]{1,2})\6([yjaå]{2,4})\b|\b([yjaå]{2,4})([-/. ]?)(m{2})\10([dtjg]{2})\b")  # fmt: skip


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
    spaced = _CAMEL.sub(" ", rest)
    tokens = _TOKEN.findall(spaced)
    words = [plain(token) for token in tokens]
    meanings, label = _meanings(tokens, words)
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
    found = _ORDER_LETTERS.search(plain(text))
    if not found:
        return None
    if found[1]:
        return "day-first"
    return "month-first" if found[5] else "year-first"


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


def _meanings(tokens: list[str], words: list[str]) -> tuple[tuple[Quantity, ...], str]:
    joined = " ".join(words)
    for quantity, phrases in PHRASES:
        for phrase in phrases:
            if found := re.search(rf"\b{re.escape(phrase)}", joined):
                return (quantity,), _label_without(tokens, joined, found.start(), found.end())
    tokens, words = _apart(tokens, words)
    for quantity, stems in STEMS:
        for stem in stems:
            for position, word in enumerate(words):
                start = word.find(stem)
                if start < 0:
                    continue
                prefix = tokens[position][:start]
                kept = [*tokens[:position], prefix, *tokens[position + 1 :]]
                return (quantity,), _label(kept)
    # Short words: the one that says most wins ("Sensor 1 T" is a temperature).
    found_words = [(position, WORDS[word]) for position, word in enumerate(words) if word in WORDS]
    for wanted in ("relative humidity", "temperature", "dew point"):
        for position, meanings in found_words:
            if wanted == meanings[0]:
                return meanings, _label([*tokens[:position], *tokens[position + 1 :]])
    if found_words:
        position, meanings = found_words[0]
        if len(found_words) > 1 and {m[0] for _, m in found_words} >= {"date", "clock"}:
            return ("moment",), ""
        return meanings, _label([*tokens[:position], *tokens[position + 1 :]])
    for position, word in enumerate(words):
        if any(stem in word for stem in SENSOR_STEMS):
            return ("sensor",), _label([*tokens[:position], *tokens[position + 1 :]])
    return (), _label(tokens)


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


def _label_without(tokens: list[str], joined: str, start: int, end: int) -> str:
    first = joined[:start].count(" ")
    last = first + joined[start:end].count(" ")
    return _label([*tokens[:first], *tokens[last + 1 :]])


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
