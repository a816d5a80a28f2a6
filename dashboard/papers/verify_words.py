"""The sentences of a check: the verdict in one line, and what it does not prove."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.metadata import version

from isohume.dashboard import formats
from isohume.dashboard.papers.verification import Problem, Verdict
from isohume.dashboard.papers.words import words


def headline(verdict: Verdict, problems: Sequence[Problem], *, made_by: str, n_readings: int, n_figures: int) -> str:
    """Return the verdict as one line."""
    say = words("verify")
    places = list(dict.fromkeys(problem.member or say("container") for problem in problems))
    return say(
        verdict.replace(" ", "_"),
        where=", ".join(places),
        made_by=made_by,
        version=version("isohume"),
        n_readings=formats.count(n_readings),
        n_figures=formats.count(n_figures),
    )


def remarks(signer: str, *, is_wanted: bool, paper_checked: bool, not_computed: str, made_by: str) -> tuple[str, ...]:
    """Return what was checked and what it does not prove."""
    say = words("verify")
    found = []
    if signer:
        found.append(say("signed_by_wanted" if is_wanted else "signed_by_any", fingerprint=signer))
    if made_by and made_by != version("isohume"):
        found.append(say("made_by_other", made_by=made_by, version=version("isohume")))
    if not_computed:
        found.append(say("not_computed", changed=not_computed))
    elif not paper_checked:
        found.append(say("paper_not_set"))
    return (*found, say("does_not_prove"))
