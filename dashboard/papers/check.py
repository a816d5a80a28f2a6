"""A check of an evidence pack under way: what was received, and what was found so far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from isohume.dashboard.papers.pack import Pack, sha256
from isohume.dashboard.papers.verification import Problem, Where


@dataclass(slots=True)
class Check:
    """A check under way.

    Attributes
    ----------
    tampered : list of Problem
        Bytes that changed since the signature.
    contradictions : list of Problem
        What does not agree although no byte changed, or as far as can be told.
    """

    pack: Pack
    manifest: dict[str, Any]
    signature: dict[str, Any]
    tampered: list[Problem] = field(default_factory=list)
    contradictions: list[Problem] = field(default_factory=list)
    n_figures: int = 0
    n_readings: int = 0
    paper_checked: bool = False
    not_computed: str = ""  # the changed members that the figures follow from

    def intact(self, name: str) -> bool:
        """Whether a member is what the manifest lists."""
        listed = listed_hashes(self.manifest).get(name)
        return name in self.pack.members and listed is not None and listed == sha256(self.pack.members[name])

    def add(self, where: Where, member: str, text: str) -> None:
        """Note bytes that changed."""
        self.tampered.append(Problem(where=where, member=member, text=text))

    def note(self, problems: list[Problem]) -> None:
        """File a difference under what it shows: alteration where bytes changed, else a contradiction in the pack."""
        (self.tampered or self.contradictions).extend(problems)


def listed_hashes(manifest: Mapping[str, Any]) -> dict[str, str]:
    """Return the hash of each member that a manifest lists; none where it is no manifest."""
    members = manifest.get("members")
    if not isinstance(members, dict):
        return {}
    return {str(name): str(one.get("sha256")) for name, one in members.items() if isinstance(one, dict)}
