"""Sentences about what hands did to a frame, and about the inside of a frame without a logger."""

from __future__ import annotations

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.before_after import Change, Intervention, SideOfEvent
from isohume.analysis.results import Assessment

NOT_EVIDENCE = "An estimate is never evidence: nothing was logged inside."
CHANGE: dict[Change, str] = {
    "longer": "The half-time has grown longer: the frame is tighter or holds more water than before.",
    "shorter": "The half-time has grown shorter: the frame leaks more or holds less water than before.",
    "no difference shown": "The two intervals touch: no difference of the half-time is shown.",
    "cannot tell": "Whether the half-time changed cannot be told.",
}


def intervention_in_words(intervention: Intervention, *, time_zone: str) -> tuple[str, ...]:
    """Set the record before an event beside the record after it."""
    event = intervention.event
    when = phrases.day(event.time_utc, time_zone=time_zone)
    head = f"{event.kind.capitalize()} on {when}. {CHANGE[intervention.half_time_change]}"
    said = [f"{head} {intervention.why}".strip()]
    for word, side in (("Before", intervention.before), ("After", intervention.after)):
        if side is not None:
            said.append(f"{word} ({_span(side, time_zone)}): {side_in_words(side)}.")
    return tuple(said)


def side_in_words(side: SideOfEvent) -> str:
    """Write one side in one line: half-time, drift, hours outside per month."""
    parts = []
    if side.half_time_days is not None:
        parts.append(f"half-time {phrases.days(side.half_time_days)}{_interval(side)}")
    else:
        bounds = [
            f"{word} {phrases.days(bound)}"
            for word, bound in (("at least", side.half_time_low), ("at most", side.half_time_high))
            if bound is not None
        ]
        known = f" ({' and '.join(bounds)})" if bounds else ""
        parts.append(f"half-time unknown{known}, {side.why[:1].lower()}{side.why[1:].rstrip('. ')}")
    if side.mean_percent is not None:
        parts.append(f"mean {phrases.rh(side.mean_percent)}")
    if side.slope_percent_per_30d is not None:
        slope = f"moving by {phrases.points(side.slope_percent_per_30d)} per 30 days in its last 60"
        if side.slope_low is not None and side.slope_high is not None:
            slope += f" (95 % interval {phrases.points(side.slope_low)} to {phrases.points(side.slope_high)})"
        parts.append(slope)
    if side.hours_outside_per_month is not None:
        parts.append(f"{phrases.hours(side.hours_outside_per_month)} outside the band per month")
    return "; ".join(parts)


def estimate_in_words(assessment: Assessment, *, time_zone: str) -> tuple[str, ...]:
    """Say what the inside of a frame without a logger is estimated to be; empty for a frame that has one."""
    estimate = assessment.estimate
    if estimate is None:
        why = assessment.no_estimate
        return (f"The inside cannot be estimated: {why[:1].lower()}{why[1:]}",) if why else ()
    newest = estimate.series.iloc[-1]
    when = phrases.day(pd.Timestamp(estimate.series.index[-1]), time_zone=time_zone)
    low, high = (phrases.rh(float(newest[end])) for end in ("low", "high"))
    lowest, highest = (float(end) for end in (estimate.series["median"].min(), estimate.series["median"].max()))
    return (
        f"Estimated: {phrases.rh(float(newest['median']))} on {when}, with 95 % confidence between {low} and {high}.",
        f"Over {len(estimate.series)} days of the room's record it runs from {lowest:.1f} to {phrases.rh(highest)}.",
        *(
            f"The strip read on {phrases.day(time, time_zone=time_zone)} lies {phrases.points(value)} from it."
            for time, value in estimate.strip_differences
        ),
        *estimate.notes,
        NOT_EVIDENCE,
    )


def _interval(side: SideOfEvent) -> str:
    if side.half_time_low is None or side.half_time_high is None:
        return ""
    return f" (95 % interval {phrases.days(side.half_time_low)} to {phrases.days(side.half_time_high)})"


def _span(side: SideOfEvent, time_zone: str) -> str:
    first, last = (phrases.day(edge, time_zone=time_zone) for edge in (side.start_utc, side.end_utc))
    return f"{first} to {last}, {phrases.hours(side.hours_covered)} covered"
