"""What is known of a frame besides its readings: panel, construction, agreed band, events, limits."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import pandas as pd

EventKind = Literal[
    "sealed",
    "opened",
    "reconditioned",
    "new buffer",
    "seal repaired",
    "moved",
    "logger placed",
    "logger taken out",
    "logger changed",
    "strip read",
    "warp measured",
    "loan leg",
    "photograph",
    "note",
]
# Hands were inside: the air and the panel surface met the room.
OPENING_KINDS: frozenset[EventKind] = frozenset({"sealed", "opened", "reconditioned", "new buffer", "seal repaired"})
Cut = Literal["flat-sawn", "quarter-sawn"]
Lifecycle = Literal["open", "newly sealed", "hanging", "in transit", "on loan", "retired"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What hands did to a frame, and when."""

    time_utc: pd.Timestamp
    kind: EventKind
    rh_percent: float | None = None  # reconditioned: the RH it was conditioned at; strip read: the strip's reading
    water_g: float | None = None
    board_kg: float | None = None
    warp_mm: float | None = None
    warp_where: str = ""
    warp_how: str = ""
    room: str = ""  # moved: the room it moved to
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """The hygroscopic support."""

    support: str = "solid wood"  # solid wood, plywood, hardboard, canvas board, paper board
    species: str | None = None  # common name as in the movement table
    cut: Cut | None = None
    width_mm: float | None = None  # across the grain
    height_mm: float | None = None  # along the grain
    thickness_mm: float | None = None
    mass_kg: float | None = None
    faces_open: Literal[1, 2] = 1  # 1: the painted face counts as sealed
    restrained: bool = False  # cradled, framed tight or battened
    coating: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Construction:
    """How the frame was closed."""

    glazing: str = ""
    spacer: str = ""
    buffer: str = ""
    barrier: str = ""
    backing: str = ""
    air_volume_litres: float | None = None
    board_kg: float | None = None  # buffering board, dry mass
    wood_lining_kg: float | None = None
    air_exchange_per_day: float | None = None  # of the air in it with the room, as measured or from frames alike
    built_like: str = ""  # id of a frame of the same make, whose fitted half-time stands for this one's


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Every limit that standing and data are judged by; each can be set per frame. Defaults: design, section 4."""

    damp_rh_percent: float = 75.0
    damp_hours: float = 48.0
    dew_point_margin_kelvin: float = 2.0
    dew_point_hours: float = 6.0
    hours_outside_beyond_doubt_30d: float = 48.0
    departure_percent: float = 10.0
    horizon_days: float = 90.0
    change_in_24h_percent: float = 10.0
    swapped_weekly_ratio: float = 0.8
    open_weekly_ratio: float = 1.25  # a weekly-ratio interval wholly below this reads as "frame open?"
    returns_within_days: float = 30.0
    lead_time_days: float = 42.0
    stale_days: float = 45.0
    shortest_record_days: float = 21.0
    least_coverage: float = 0.70
    most_flagged_share: float = 0.10
    calibration_months: float = 24.0
    settling_days: float = 14.0  # newly sealed: not judged


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameFacts:
    """One sealed enclosure with its painting, as the register knows it."""

    frame_id: str = ""
    painting: str = ""
    band: tuple[float, float] | None = None  # %RH, low and high
    conditioned_percent: float | None = None
    conditioned_on: pd.Timestamp | None = None
    panel: Panel | None = None
    construction: Construction = field(default_factory=Construction)
    events: tuple[Event, ...] = ()  # in order of time
    lifecycle: Lifecycle = "hanging"
    owner: str = ""
    opened_by: str = ""  # who may open the frame
    time_zone: str = "UTC"  # of the site: dates on screen and in texts
    limits: Limits = field(default_factory=Limits)

    def __post_init__(self) -> None:
        """Refuse a band that is none."""
        if self.band is not None and not 0 <= self.band[0] < self.band[1] <= 100:
            low, high = self.band
            raise ValueError(f"Band {low:g}-{high:g} %RH: the low limit must lie below the high one, both in 0-100.")
