"""What a check of an evidence pack found: one line first, then everything that does not agree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Verdict = Literal["agrees", "altered", "other key", "other version", "does not follow"]
Where = Literal["container", "member", "signature", "reading", "figure", "page"]
# Of very many differences of one kind the first are named and the rest counted.
MOST_NAMED = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that does not agree.

    Attributes
    ----------
    where : what kind of thing it is about
    member : name of the member, "" for the pack as a whole
    text : one sentence
    """

    where: Where
    member: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """The result of a check.

    Attributes
    ----------
    verdict : Verdict
        `altered`: bytes changed since the pack was signed. `other key`: intact, signed by another key than the one
        asked for. `other version`: intact, but this version of isohume computes other figures than the one that made
        the pack. `does not follow`: intact, made by this version, and yet its figures or its paper do not follow from
        its readings.
    headline : str
        The verdict as one line.
    problems : tuple of Problem
    remarks : tuple of str
        What was and was not checked, and what the result does not prove.
    fingerprint : str
        Of the key that signed; "" where there is no valid signature.
    """

    verdict: Verdict
    headline: str
    problems: tuple[Problem, ...] = ()
    remarks: tuple[str, ...] = ()
    fingerprint: str = ""
    document: str = ""
    frame: str = ""
    issued_by: str = ""
    n_readings: int = 0
    n_figures: int = 0

    @property
    def agrees(self) -> bool:
        """Whether everything agrees."""
        return self.verdict == "agrees"

    def report(self) -> str:
        """Return the whole result as text: the verdict in the first line."""
        return "\n".join([self.headline, *(f"  {problem.text}" for problem in self.problems), *self.remarks])


def shortened(problems: Sequence[Problem], what: str) -> list[Problem]:
    """Return the first problems of one kind and one line that counts the rest."""
    if len(problems) <= MOST_NAMED:
        return list(problems)
    first = problems[0]
    rest = len(problems) - MOST_NAMED
    return [
        *problems[:MOST_NAMED],
        Problem(where=first.where, member=first.member, text=f"… and {rest} further {what} of {first.member}."),
    ]
