"""What makes climate terms complete: every clause is one that a record can be held to."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from isohume.analysis.terms import Clause

# Further out than any room is meant to be: a limit beyond was typed into the wrong field.
COLDEST_CELSIUS, WARMEST_CELSIUS = -30.0, 60.0
LIMITS = {"rh_percent": (0.0, 100.0, "%RH"), "temperature_celsius": (COLDEST_CELSIUS, WARMEST_CELSIUS, "°C")}


def check_terms(values: Mapping[str, Any]) -> str:
    """Say which clause is none, and what would be one; "" if all are well."""
    for place, written in enumerate(values.get("clauses") or (), start=1):
        complaint = clause_complaint(written)
        if complaint:
            return f"clause {place} that can be judged. {complaint}"
    return ""


def clause_complaint(written: Mapping[str, Any]) -> str:
    """Say why a clause cannot be judged, "" where it can.

    Examples
    --------
    >>> clause_complaint({"air": "room", "quantity": "rh_percent", "kind": "range", "low": 60, "high": 40})
    'The clause allows 60 to 40: its low limit lies above its high one.'
    """
    missing = [name for name in ("air", "quantity", "kind") if not written.get(name)]
    if missing:
        return f"It does not say {', '.join(missing)}."
    try:
        clause = Clause(**written)
    except (TypeError, ValueError) as error:
        return str(error)
    if clause.kind == "range":
        least, most, unit = LIMITS[clause.quantity]
        if any(limit is not None and not least <= limit <= most for limit in (clause.low, clause.high)):
            return f"A limit lies outside {least:g} to {most:g} {unit}."
    elif any(limit is not None and limit < 0 for limit in (clause.low, clause.high)):
        return f"A {clause.kind} is never negative."
    return ""
