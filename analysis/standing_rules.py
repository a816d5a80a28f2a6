"""What each rule of standing looks for: the facts, and one small question per rule.

A question whose figure is unknown is answered with None: the rule does not fire.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import pandas as pd

from isohume.analysis.estimated_inside import EstimatedInside
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.recent import RecentAir, last_opening
from isohume.analysis.results import BufferingFinding, ForecastFinding, SealFinding

Direction = Literal["too dry", "too damp"]
ONE_DAY = pd.Timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingFacts:
    """Everything the rules look at; a finding that could not be made says so itself.

    `uncertainty_percent` is the expanded uncertainty (k = 2) of the inside logger [%RH]; `hours_near_dew_point` the
    hours of the last 30 days with too little margin between a *measured* surface and the dew point [h], None where no
    surface was measured. `estimate` is that of a frame without a logger inside; no rule judges it.
    """

    recent: RecentAir
    frame: FrameFacts
    as_of: pd.Timestamp
    uncertainty_percent: float
    buffering: BufferingFinding
    forecast: ForecastFinding
    seal: SealFinding
    hours_near_dew_point: float | None = None
    estimate: EstimatedInside | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What made a rule fire."""

    value: float | None = None
    limit: float | None = None
    unit: str = ""
    direction: Direction | None = None
    date: pd.Timestamp | None = None


def sides_swapped(facts: StandingFacts) -> Found | None:
    """Find an inside that is livelier than its room: the two loggers stand for each other's place."""
    high, limit = facts.buffering.weekly.high, facts.frame.limits.swapped_weekly_ratio
    return Found(value=high, limit=limit) if high is not None and high < limit else None


def mostly_flagged(facts: StandingFacts) -> Found | None:
    """Find a record whose newest 30 days are mostly unfit for analysis."""
    share = facts.recent.flagged_share
    return Found(value=100 * share, limit=50.0, unit="%") if share is not None and share > 0.5 else None


def damp_air(facts: StandingFacts) -> Found | None:
    """Find hours at a humidity at which mould can grow."""
    hours, limit = facts.recent.hours_damp, facts.frame.limits.damp_hours
    return Found(value=hours, limit=limit, unit="h") if hours >= limit else None


def near_dew_point(facts: StandingFacts) -> Found | None:
    """Find hours in which a measured surface came close to the dew point."""
    hours, limit = facts.hours_near_dew_point, facts.frame.limits.dew_point_hours
    return Found(value=hours, limit=limit, unit="h") if hours is not None and hours >= limit else None


def mean_outside(facts: StandingFacts, *, margin_percent: float) -> Found | None:
    """Find a 7-day mean farther outside the band than a margin [%RH]."""
    mean, band = facts.recent.mean_7d_percent, facts.frame.band
    if mean is None or band is None:
        return None
    low, high = band
    if mean < low - margin_percent:
        return Found(value=mean, limit=low, unit="%RH", direction="too dry")
    if mean > high + margin_percent:
        return Found(value=mean, limit=high, unit="%RH", direction="too damp")
    return None


def mean_beyond_doubt(facts: StandingFacts) -> Found | None:
    """Find a 7-day mean outside the band by more than the logger's uncertainty."""
    return mean_outside(facts, margin_percent=facts.uncertainty_percent)


def mean_as_read(facts: StandingFacts) -> Found | None:
    """Find a 7-day mean outside the band only as read, unless the forecast expects it back."""
    if expected_back(facts) or mean_beyond_doubt(facts):
        return None
    return mean_outside(facts, margin_percent=0.0)


def hours_outside_in_30_days(below: float | None, above: float | None, limit: float) -> Found | None:
    """Find more hours outside the band than the limit [h]."""
    if below is None or above is None or below + above <= limit:
        return None
    return Found(value=below + above, limit=limit, unit="h", direction="too dry" if below >= above else "too damp")


def hours_beyond_doubt(facts: StandingFacts) -> Found | None:
    """Find too many hours outside the band by more than the logger's uncertainty."""
    recent = facts.recent
    limit = facts.frame.limits.hours_outside_beyond_doubt_30d
    return hours_outside_in_30_days(recent.hours_below_beyond_doubt, recent.hours_above_beyond_doubt, limit)


def hours_as_read(facts: StandingFacts) -> Found | None:
    """Find too many hours outside the band only as read, unless the inside is back or expected back."""
    recent = facts.recent
    if not recent.hours_outside_7d or expected_back(facts) or hours_beyond_doubt(facts):
        return None
    return hours_outside_in_30_days(
        recent.hours_below, recent.hours_above, facts.frame.limits.hours_outside_beyond_doubt_30d
    )


def departed(facts: StandingFacts) -> Found | None:
    """Find a 7-day mean far from the humidity at which the panel was conditioned."""
    mean, conditioned = facts.recent.mean_7d_percent, facts.frame.conditioned_percent
    limit = facts.frame.limits.departure_percent
    if mean is None or conditioned is None or abs(mean - conditioned) <= limit:
        return None
    departure = mean - conditioned
    return Found(value=departure, limit=limit, unit="%RH", direction="too dry" if departure < 0 else "too damp")


def seal_changed(facts: StandingFacts) -> Found | None:
    """Find a leak that grew and that no later opening has had the chance to mend."""
    seal = facts.seal
    if not seal.changed or (seal.factor is not None and seal.factor <= 1):
        return None
    mended = {"sealed", "seal repaired", "reconditioned", "new buffer"}
    if seal.date is not None and any(
        event.kind in mended and seal.date + ONE_DAY < event.time_utc <= facts.as_of for event in facts.frame.events
    ):
        return None
    return Found(value=seal.factor, limit=seal.smallest_detectable, unit="times", date=seal.date)


def frame_open(facts: StandingFacts) -> Found | None:
    """Find an inside that follows the room week by week as if nothing stood between them."""
    weekly, limits = facts.buffering.weekly, facts.frame.limits
    if weekly.high is None or not limits.swapped_weekly_ratio <= weekly.high < limits.open_weekly_ratio:
        return None
    return Found(value=weekly.ratio, limit=limits.open_weekly_ratio)


def leaving_soon(facts: StandingFacts) -> Found | None:
    """Find an earliest plausible date of leaving the band within the horizon, while the inside is within it."""
    earliest, limit = facts.forecast.earliest_plausible, facts.frame.limits.horizon_days
    if (
        mean_outside(facts, margin_percent=0.0)
        or earliest is None
        or earliest > facts.as_of + pd.Timedelta(days=limit)
    ):
        return None
    days = max((earliest - facts.as_of) / ONE_DAY, 0.0)
    return Found(value=days, limit=limit, unit="days", date=earliest, direction=leaving_towards(facts))


def leaving_towards(facts: StandingFacts) -> Direction | None:
    """Tell on which side the fan crosses the band first; None where the forecast has no course."""
    series, band, earliest = facts.forecast.series, facts.frame.band, facts.forecast.earliest_plausible
    if series is None or band is None or earliest is None:
        return None
    course = series.loc[:earliest]
    if course.empty:
        return None
    under, over = band[0] - course["low10"].iloc[-1], course["high90"].iloc[-1] - band[1]
    return "too dry" if under >= over else "too damp"


def changed_within_a_day(facts: StandingFacts) -> Found | None:
    """Find a change of the inside within 24 h that a sound frame does not show."""
    change, limit = facts.recent.largest_change_24h_percent, facts.frame.limits.change_in_24h_percent
    if change is None or change <= limit:
        return None
    return Found(value=change, limit=limit, unit="%RH", date=facts.recent.largest_change_end_utc)


def stays_in_band(facts: StandingFacts) -> Found | None:
    """Find a frame with a band whose future is known: by forecast, or because even its room stays in the band."""
    mean = facts.recent.mean_7d_percent
    if facts.frame.band is None or mean is None:
        return None
    if forecast_determined(facts.forecast) or even_the_room_stays(facts):
        return Found(value=mean, unit="%RH", date=facts.forecast.expected_back_by)
    return None


def forecast_determined(forecast: ForecastFinding) -> bool:
    """Tell whether a forecast was made at all."""
    return forecast.horizon_days is not None and forecast.chance_outside_at_horizon is not None


def even_the_room_stays(facts: StandingFacts) -> bool:
    """Tell whether a year of 7-day means of the room itself stays in the band.

    The worst course: a frame is a filter that averages its room, so its weekly means cannot swing wider than those.
    """
    lowest, highest = facts.recent.room_lowest_7d_percent, facts.recent.room_highest_7d_percent
    band = facts.frame.band
    return band is not None and lowest is not None and highest is not None and band[0] <= lowest <= highest <= band[1]


def expected_back(facts: StandingFacts) -> bool:
    """Tell whether the median forecast re-enters the band soon."""
    back = facts.forecast.expected_back_by
    return back is not None and back <= facts.as_of + pd.Timedelta(days=facts.frame.limits.returns_within_days)


def is_judged(facts: StandingFacts) -> bool:
    """Tell whether the frame is judged on more than damp: it hangs or travels closed, and has settled."""
    return facts.frame.lifecycle not in {"open", "retired"} and settling_after(facts) is None


def settling_after(facts: StandingFacts) -> Event | None:
    """Return the opening after which air and panel still settle, if any."""
    opened = last_opening(facts.frame.events, as_of=facts.as_of)
    if opened is None or facts.as_of >= settled_on(opened, facts.frame):
        return None
    return opened


def settled_on(opened: Event, frame: FrameFacts) -> pd.Timestamp:
    """Return the moment from which a frame is judged again."""
    return opened.time_utc + pd.Timedelta(days=frame.limits.settling_days)
