"""What a file cannot tell by itself: one question, its choices, and how the user answers it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

# Every answer that a reader understands: its values, None where they are free (times, zones, numbers of columns).
KNOWN_ANSWERS: Mapping[str, tuple[str, ...] | None] = MappingProxyType(
    {
        "date_order": ("day-first", "month-first", "year-first"),
        "time_zone": None,
        "rh_column": None,
        "columns": ("swapped", "as-headed"),
        "quantity": ("humidity", "temperature"),
        "temperature_unit": ("celsius", "fahrenheit", "kelvin"),
        "humidity_unit": ("percent", "fraction"),
        "placed_from": None,
        "placed_to": None,
    }
)
# Answers about one line of the file: reset_line_120=2025-03-01T09:30+01:00.
LINE_ANSWER = re.compile(r"reset_line_.*")

Control = Literal["choice", "time zone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One possible answer: the value that settles the question, and what it means."""

    value: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something the file leaves open and that must not be guessed.

    Attributes
    ----------
    id : str
        Name under which the answer is given, "date_order" for example.
    text : str
        The question as a person reads it, with an example from the file.
    choices : tuple of Choice
        Possible answers, the likeliest first; a time zone may be any other zone as well.
    control : {"choice", "time zone"}
        What a page shows to have it answered.
    """

    id: str
    text: str
    choices: tuple[Choice, ...]
    control: Control = "choice"

    @property
    def option(self) -> str:
        """The command-line option that answers with the first choice."""
        return f"--answer {self.id}={self.choices[0].value}"

    def sentence(self) -> str:
        """Return the question with its choices and the option that answers it, on one line."""
        choices = "; ".join(f"{choice.value} ({choice.label})" for choice in self.choices)
        how = "--tz ZONE" if self.control == "time zone" else f"--answer {self.id}=…"
        return f"{self.text} Answer with {how}: {choices}."


@dataclass(frozen=True, slots=True)
class Answers:
    """Answers given beforehand, by question id."""

    given: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Keep an unchangeable copy."""
        object.__setattr__(self, "given", MappingProxyType(dict(self.given)))

    def __reduce__(self) -> tuple[object, ...]:
        """Travel between processes: a read-only view cannot be pickled."""
        return (Answers, (dict(self.given),))

    @classmethod
    def parse(cls, texts: Iterable[str]) -> Answers:
        """Read `KEY=VALUE` texts.

        Raises
        ------
        ValueError
            A text has no equals sign, or nothing before it.
        """
        given: dict[str, str] = {}
        for text in texts:
            key, equals, value = text.partition("=")
            if not (key.strip() and equals):
                raise ValueError(f'expected an answer such as date_order=day-first, found "{text}"')
            given[key.strip()] = value.strip()
        return cls(given)

    def get(self, question_id: str) -> str | None:
        """Return the answer to one question, None where it was not given."""
        return self.given.get(question_id)

    def refuse_unknown(self, *, also: Iterable[str] = ()) -> None:
        """Refuse answers that nobody would look at.

        Parameters
        ----------
        also : iterable of str
            Further ids that are known where the answers are used.

        Raises
        ------
        ValueError
            An id is none of the known ones, or a value none of its choices; the message names them.
        """
        known = (*KNOWN_ANSWERS, *also)
        for name, value in self.given.items():
            if name not in known and not LINE_ANSWER.fullmatch(name):
                raise ValueError(f'no question has the answer "{name}"; known are {", ".join(known)} and reset_line_N')
            choices = KNOWN_ANSWERS.get(name)
            if choices is not None and value.lower() not in choices:
                raise ValueError(f"the answer {name}={value} is none of {', '.join(choices)}")

    def known(self) -> Answers:
        """Return the answers without those that an older version kept and that nobody looks at."""
        return Answers({k: v for k, v in self.given.items() if k in KNOWN_ANSWERS or LINE_ANSWER.fullmatch(k)})
