"""What the user tells about a file that the file itself cannot: when its logger was placed, when resets happened."""

from __future__ import annotations

from dataclasses import dataclass, field

from isohume.ingest.clock_anchors import Anchors
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.placing_answers import Placed
from isohume.ingest.questions import Answers


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """Answers about times.

    Attributes
    ----------
    placed : Placed
        When the logger was in its place.
    anchors : Anchors
        When readings dated by a reset clock were taken.
    """

    placed: Placed = field(default_factory=Placed)
    anchors: Anchors = field(default_factory=Anchors)

    @classmethod
    def of(cls, answers: Answers, zone: ClockZone) -> Told:
        """Read the answers; raises ValueError where one is no time."""
        return cls(placed=Placed.of(answers, zone), anchors=Anchors.of(answers, zone))
