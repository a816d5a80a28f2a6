"""Did it help: half-time, drift and hours outside before and after hands were at a frame."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from isohume.analysis.before_after import Change, Intervention, SideOfEvent
from isohume.analysis.drift import seasonal_drift
from isohume.analysis.exchange.fit import STEPS_HOURS, CannotTell, FittedExchange, fit_exchange
from isohume.analysis.excursions import hours_outside
from isohume.analysis.frame import OPENING_KINDS, Event, EventKind, FrameFacts
from isohume.analysis.integrals import covered_hours, time_mean
from isohume.analysis.readings import AirRecord

HOURS_PER_MONTH = 730.5
MOST_STEPS_OF_SIDE = 400
NOT_COMPARED = "Not worked out: there is no other side to compare it with."
SETTLING = pd.Timedelta(days=14)
LONGEST_SIDE = pd.Timedelta(days=365)
JUDGED_KINDS: frozenset[EventKind] = OPENING_KINDS | {"moved"}


def judged_interventions(
    inside: AirRecord, outside: AirRecord, *, frame: FrameFacts, as_of: pd.Timestamp
) -> tuple[Intervention, ...]:
    """Compare before and after for the newest event that can be judged, newest first.

    Where the newest event has no record on one side, it stands first and says so. A record in which nothing was done
    has none. Earlier events are judged by `did_it_help`, one by one.
    """
    first, last = pd.Timestamp(inside.readings.index[0]), min(pd.Timestamp(inside.readings.index[-1]), as_of)
    events = [event for event in frame.events if event.kind in JUDGED_KINDS and first < event.time_utc <= last]
    found: list[Intervention] = []
    for event in sorted(events, key=lambda event: event.time_utc, reverse=True):
        one = did_it_help(inside, outside, frame=frame, event=event, as_of=as_of)
        if one.before is not None and one.after is not None:
            return (*found, one)
        found = found or [one]
    return tuple(found)


def did_it_help(
    inside: AirRecord, outside: AirRecord, *, frame: FrameFacts, event: Event, as_of: pd.Timestamp
) -> Intervention:
    """Compare the record before and after an intervention.

    Parameters
    ----------
    inside, outside : AirRecord
    frame : FrameFacts
        Each side reaches to the neighbouring intervention, at most a year; the 14 days after an opening are left out.
    event : Event
        What was done: sealed, opened, reconditioned, new buffer, seal repaired or moved.
    as_of : Timestamp
    """
    others = sorted(
        other.time_utc for other in frame.events if other.kind in JUDGED_KINDS and other.time_utc != event.time_utc
    )
    earlier = [time for time in others if time < event.time_utc]
    later = [time for time in others if time > event.time_utc]
    start = max([event.time_utc - LONGEST_SIDE, *(time + SETTLING for time in earlier)])
    end = min([event.time_utc + SETTLING + LONGEST_SIDE, as_of, *later])
    spans = [(start, event.time_utc), (event.time_utc + SETTLING, end)]
    # Fits are dear: a side with nothing to compare it with goes without.
    compared = all(_is_covered(inside, *span) for span in spans)
    before, after = (_side(inside, outside, frame, *span, with_half_time=compared) for span in spans)
    if before is None or after is None:
        missing = "before" if before is None else "after"
        return Intervention(
            event=event,
            before=before,
            after=after,
            half_time_change="cannot tell",
            why=f"There is no record from {missing} it.",
        )
    return Intervention(event=event, before=before, after=after, half_time_change=_change(before, after))


def _is_covered(inside: AirRecord, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    return end > start and covered_hours(inside.rh_percent.loc[start:end]) > 0


def _side(
    inside: AirRecord,
    outside: AirRecord,
    frame: FrameFacts,
    start: pd.Timestamp,
    end: pd.Timestamp,
    *,
    with_half_time: bool,
) -> SideOfEvent | None:
    if not _is_covered(inside, start, end):
        return None
    within = [replace(record, readings=record.readings.loc[start:end]) for record in (inside, outside)]
    humidity = within[0].rh_percent
    covered = covered_hours(humidity)
    outside_hours = None
    if frame.band is not None:
        band = hours_outside(
            humidity, low=frame.band[0], high=frame.band[1], uncertainty_percent=inside.uncertainty_percent
        )
        outside_hours = (band.hours_below + band.hours_above) / covered * HOURS_PER_MONTH
    fitted: FittedExchange | CannotTell = CannotTell(why=NOT_COMPARED)
    if with_half_time:
        within_side = replace(frame, events=_within(frame, start, end))
        fitted = fit_exchange(*within, frame=within_side, every_hours=_step_hours(end - start))
    drift = seasonal_drift(within[0], None, fitted=fitted if isinstance(fitted, FittedExchange) else None, seed=0)
    if isinstance(fitted, FittedExchange):
        half_times: tuple[float | None, float | None, float | None]
        half_times = fitted.half_time_days, fitted.half_time_low, fitted.half_time_high
        why = ""
    else:
        half_times = None, fitted.half_time_at_least, fitted.half_time_at_most
        why = fitted.why
    return SideOfEvent(
        start_utc=start,
        end_utc=end,
        hours_covered=covered,
        mean_percent=time_mean(humidity),
        hours_outside_per_month=outside_hours,
        slope_percent_per_30d=drift.slope_percent_per_30d,
        slope_low=drift.slope_low,
        slope_high=drift.slope_high,
        half_time_days=half_times[0],
        half_time_low=half_times[1],
        half_time_high=half_times[2],
        why=why,
    )


def _step_hours(length: pd.Timedelta) -> int:
    """Return the step of the grid: coarse, for two sides have to be fitted beside the whole record."""
    hours = length / pd.Timedelta(hours=1)
    return next((step for step in STEPS_HOURS if hours / step <= MOST_STEPS_OF_SIDE), STEPS_HOURS[-1])


def _within(frame: FrameFacts, start: pd.Timestamp, end: pd.Timestamp) -> tuple[Event, ...]:
    return tuple(event for event in frame.events if start < event.time_utc < end)


def _change(before: SideOfEvent, after: SideOfEvent) -> Change:
    """Compare the intervals; a bound that the record supports counts like the end of an interval."""
    if _above(after.half_time_low, before.half_time_high):
        return "longer"
    if _above(before.half_time_low, after.half_time_high):
        return "shorter"
    if before.half_time_days is None or after.half_time_days is None:
        return "cannot tell"
    return "no difference shown"


def _above(low: float | None, high: float | None) -> bool:
    return low is not None and high is not None and low > high
