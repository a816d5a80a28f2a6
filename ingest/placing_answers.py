"""When a logger went in and came out, as the reader of its file answers it, and the question where nobody did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.placement_edges import mark_outside_placement, placement_edges
from isohume.ingest.questions import Answers

CHANNEL = "channel"
PLACED_FROM, PLACED_TO = "placed_from", "placed_to"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """From when to when a logger was in its place; None: from its first reading, to its last."""

    start: datetime | None = None
    end: datetime | None = None

    @classmethod
    def of(cls, answers: Answers, zone: ClockZone) -> Placed:
        """Read the answers `placed_from` and `placed_to`; a time without offset is one of the logger's clock.

        Raises
        ------
        ValueError
            Not a time, or out before in.
        """
        start, end = (
            zone.moment(text, name) if (text := answers.get(name)) else None for name in (PLACED_FROM, PLACED_TO)
        )
        if start and end and end <= start:
            raise ValueError(f"{PLACED_TO} ({end:%Y-%m-%d %H:%M}) lies before {PLACED_FROM} ({start:%Y-%m-%d %H:%M})")
        return cls(start=start, end=end)

    def mark(self, table: pl.DataFrame) -> pl.DataFrame:
        """Flag the readings from outside; every row stays."""
        if self.start is None and self.end is None:
            return table
        return mark_outside_placement(table, placed_from=self.start, placed_to=self.end)

    def questions(self, table: pl.DataFrame, zone: ClockZone) -> tuple[str, ...]:
        """Return what to ask about the ends of each channel that nobody has told about."""
        asked = []
        names = table[CHANNEL].unique(maintain_order=True).to_list()
        for name in names:
            channel = table if len(names) == 1 else table.filter(pl.col(CHANNEL) == name)
            for edge in placement_edges(channel):
                if (self.start if edge.end == "in" else self.end) is None:
                    answer = PLACED_FROM if edge.end == "in" else PLACED_TO
                    moment = edge.proposed.astimezone(zone.tzinfo).isoformat(timespec="minutes")
                    of_channel = f"{name}: " if name else ""
                    asked.append(
                        f"{of_channel}{edge.question(zone)} If so, answer --answer {answer}={moment}: those readings "
                        "stay, flagged as outside placement, and are left out of the analysis."
                    )
        return tuple(asked)
