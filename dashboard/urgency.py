"""Which frames come first, and which of them ask for somebody; the pages and the command line share this order."""

from __future__ import annotations

from typing import Any

from isohume.analysis.results import DataName, DataQuality, Standing, StandingName
from isohume.analysis.standing import CANNOT_TELL, STEADY

# The order of a list of frames; it differs from the order of the rules, since a record that tells nothing is looked
# into after the frames that are known to need hands.
STANDING_ORDER: tuple[StandingName, ...] = (
    "damp risk",
    "needs reconditioning",
    "check seal",
    "leaving band",
    "cannot tell",
    "steady",
)
DATA_ORDER: tuple[DataName, ...] = ("stale", "doubtful", "too little", "sound")
# A record that wants a file, or whose readings are in doubt, asks for somebody too; a young one only for time.
ASKING_DATA: tuple[DataName, ...] = ("stale", "doubtful")


def asks_for_hands(standing: Standing) -> bool:
    """Tell whether a rule fired that asks for somebody."""
    return any(reason.rule not in {STEADY.name, CANNOT_TELL.name} for reason in standing.reasons)


def needs_decision(standing: Standing, data: DataQuality) -> bool:
    """Tell whether the frame or its record asks for somebody."""
    return asks_for_hands(standing) or data.name in ASKING_DATA


def urgency(standing: Standing, data: DataQuality, frame_id: str) -> tuple[Any, ...]:
    """Return what frames are sorted by, most urgent first."""
    hands = asks_for_hands(standing)
    return (
        not needs_decision(standing, data),
        not hands,
        STANDING_ORDER.index(standing.name),
        standing.by.timestamp() if standing.by is not None else float("inf"),
        0 if hands else DATA_ORDER.index(data.name),  # a doubtful record makes no frame more urgent than a sound one
        frame_id,
    )
