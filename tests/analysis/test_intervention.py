from __future__ import annotations

from typing import Any

import pandas as pd

from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.intervention import did_it_help, judged_interventions


def test_a_repaired_seal_shows_in_the_half_time(repaired_pair: Any) -> None:
    start = repaired_pair.inside.readings.index[0]
    repair = Event(time_utc=start + pd.Timedelta(days=180), kind="seal repaired")
    frame = FrameFacts(band=(45, 55), events=(repair,))
    as_of = repaired_pair.inside.readings.index[-1]
    found = did_it_help(repaired_pair.inside, repaired_pair.outside, frame=frame, event=repair, as_of=as_of)
    assert found.half_time_change == "longer"
    assert found.before is not None
    assert found.after is not None
    assert found.after.half_time_low is not None
    # Simulated with 60 days after the repair; the fit of half a year is good to a fifth.
    assert found.after.half_time_days is None or 45 < found.after.half_time_days < 80
    assert found.before.hours_outside_per_month is not None
    assert 0 <= found.before.hours_outside_per_month <= 730.5


def test_sides_reach_to_the_neighbouring_interventions_and_skip_settling(repaired_pair: Any) -> None:
    start = repaired_pair.inside.readings.index[0]
    times = [start + pd.Timedelta(days=days) for days in (100, 180, 300)]
    events = tuple(Event(time_utc=time, kind="opened") for time in times)
    frame = FrameFacts(events=events)
    as_of = repaired_pair.inside.readings.index[-1]
    found = did_it_help(repaired_pair.inside, repaired_pair.outside, frame=frame, event=events[1], as_of=as_of)
    assert found.before is not None
    assert found.after is not None
    assert found.before.start_utc == times[0] + pd.Timedelta(days=14)
    assert found.before.end_utc == times[1]
    assert found.after.start_utc == times[1] + pd.Timedelta(days=14)
    assert found.after.end_utc == times[2]
    assert found.before.hours_outside_per_month is None


def test_without_a_record_on_one_side_it_cannot_tell(repaired_pair: Any) -> None:
    start = repaired_pair.inside.readings.index[0]
    event = Event(time_utc=start - pd.Timedelta(days=1), kind="reconditioned")
    found = did_it_help(
        repaired_pair.inside,
        repaired_pair.outside,
        frame=FrameFacts(events=(event,)),
        event=event,
        as_of=repaired_pair.inside.readings.index[-1],
    )
    assert found.half_time_change == "cannot tell"
    assert "before" in found.why


def test_the_newest_event_with_record_on_both_sides_is_judged(repaired_pair: Any) -> None:
    start, as_of = repaired_pair.inside.readings.index[0], repaired_pair.inside.readings.index[-1]
    repair, fresh = (
        Event(time_utc=start + pd.Timedelta(days=days), kind=kind)
        for days, kind in ((180, "seal repaired"), (355, "opened"))
    )
    read = Event(time_utc=start + pd.Timedelta(days=200), kind="strip read", rh_percent=50.0)
    both = judged_interventions(
        repaired_pair.inside, repaired_pair.outside, frame=FrameFacts(events=(repair, read, fresh)), as_of=as_of
    )
    assert [one.event for one in both] == [fresh, repair]
    assert both[0].half_time_change == "cannot tell"
    assert "after" in both[0].why
    assert both[0].before is not None
    assert both[0].before.half_time_days is None  # nothing to compare it with, and a fit is dear
    assert both[1].half_time_change == "longer"


def test_a_record_in_which_nothing_was_done_has_none(repaired_pair: Any) -> None:
    start, as_of = repaired_pair.inside.readings.index[0], repaired_pair.inside.readings.index[-1]
    sealed = Event(time_utc=start - pd.Timedelta(hours=1), kind="sealed")
    read = Event(time_utc=start + pd.Timedelta(days=100), kind="strip read", rh_percent=50.0)
    frame = FrameFacts(events=(sealed, read))
    assert judged_interventions(repaired_pair.inside, repaired_pair.outside, frame=frame, as_of=as_of) == ()
