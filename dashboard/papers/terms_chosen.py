"""Climate terms by name: those of the register, or published ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args

from isohume.analysis.terms import Air, Clause, ClimateTerms, find_terms, published_terms
from isohume.ingest.archive.archive import Archive


def chosen_terms(
    archive: Archive, frame_id: str, names: Sequence[str] | None, *, air: str = "room"
) -> tuple[ClimateTerms, ...]:
    """Return the terms a record is to be held to.

    Parameters
    ----------
    archive : Archive
    frame_id : str
        Its agreed terms stand where no name is given.
    names : sequence of str or None
        Ids or names of terms in the register, or names of published ones.
    air : {"room", "inside"}
        Which air published terms are meant to speak of.

    Raises
    ------
    KeyError
        A name is not known; the message lists what is.
    ValueError
        The air is none.
    """
    for known_air in get_args(Air):
        if air == known_air:
            break
    else:
        raise ValueError(f'Air "{air}": expected room or inside.')
    kept = archive.records("terms")
    if names is None:
        mine = [row["terms"] for row in archive.records("frames") if row["id"] == frame_id]
        names = [name for name in mine if name]
    return tuple(_terms(name, kept, known_air) for name in names)


def _terms(name: str, kept: Sequence[Mapping[str, Any]], air: Air) -> ClimateTerms:
    for row in kept:
        if name in {row["id"], row["name"]}:
            return kept_terms(row)
    try:
        return find_terms(name, air=air)
    except KeyError:
        known = [*(row["name"] or row["id"] for row in kept), *(terms.name for terms in published_terms())]
        raise KeyError(f'No climate terms named "{name}". Known: {"; ".join(known)}.') from None


def kept_terms(row: Mapping[str, Any]) -> ClimateTerms:
    """Return a record of kind `terms` as the analysis wants it."""
    return ClimateTerms(
        name=row["name"] or row["id"],
        source=row["source"],
        clauses=tuple(Clause(**clause) for clause in row["clauses"]),
        note=row["note"],
    )
