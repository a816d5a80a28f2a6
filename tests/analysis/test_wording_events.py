from __future__ import annotations

from dataclasses import replace

import pandas as pd

from isohume.analysis.before_after import Intervention, SideOfEvent
from isohume.analysis.frame import Event
from isohume.analysis.wording_events import CHANGE, intervention_in_words, side_in_words

T = pd.Timestamp("2026-03-01T23:30Z")  # already the 2nd in Berlin
SIDE = SideOfEvent(
    start_utc=T - pd.Timedelta(days=100),
    end_utc=T,
    hours_covered=2300.0,
    mean_percent=47.25,
    hours_outside_per_month=12.5,
    slope_percent_per_30d=-1.5,
    slope_low=-2.0,
    slope_high=-1.0,
    half_time_days=30.0,
    half_time_low=25.0,
    half_time_high=36.0,
)
FOUND = Intervention(
    event=Event(time_utc=T, kind="seal repaired"), before=SIDE, after=SIDE, half_time_change="no difference shown"
)


def test_both_sides_are_said_with_period_coverage_and_intervals() -> None:
    head, before, after = intervention_in_words(FOUND, time_zone="Europe/Berlin")
    assert head.startswith("Seal repaired on 2 Mar 2026. ")
    assert CHANGE["no difference shown"] in head
    assert before.startswith("Before (22 Nov 2025 to 2 Mar 2026, 2 300 h covered): half-time 30 days")
    for part in (
        "25 days to 36 days",
        "mean 47.2 %RH",
        "−1.5 %RH per 30 days",
        "−2.0 %RH to −1.0 %RH",
        "12.5 h outside",
    ):
        assert part in before.replace("\u00a0", " ")
    assert after.startswith("After")


def test_a_side_without_a_half_time_says_why_and_its_bound() -> None:
    vague = replace(SIDE, half_time_days=None, half_time_low=20.0, half_time_high=None, why="Too short: 25 days.")
    said = side_in_words(replace(vague, hours_outside_per_month=None))
    assert said.startswith("half-time unknown (at least 20 days), too short: 25 days;")
    assert "outside" not in said


def test_a_missing_side_is_said_and_left_out() -> None:
    alone = replace(FOUND, after=None, half_time_change="cannot tell", why="There is no record from after it.")
    head, *sides = intervention_in_words(alone, time_zone="UTC")
    assert head.endswith("There is no record from after it.")
    assert len(sides) == 1
