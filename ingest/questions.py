"""What a file cannot tell by itself: one question, its choices, and how the user answers it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

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
