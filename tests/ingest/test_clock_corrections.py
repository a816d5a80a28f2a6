"""A clock correction moves times where they belong, adds up with others, and can be taken back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.clock_corrections import ClockShift, drift_seen_at_read_out, to_logger_time, to_true_time

START = datetime(2025, 1, 1, tzinfo=UTC)
DAYS = st.integers(0, 400).map(lambda days: START + timedelta(days=days))


@st.composite
def shifts(draw: st.DrawFn) -> ClockShift:
    start = draw(DAYS)
    days = draw(st.none() | st.integers(30, 300))
    add = draw(st.integers(-7200, 7200))
    drift = None if days is None else draw(st.none() | st.integers(-5 * days, 5 * days))
    return ClockShift(
        start=start,
        end=None if days is None else start + timedelta(days=days),
        add_seconds=add,
        add_seconds_at_end=None if drift is None else add + drift,
    )


def logger_times() -> pl.Series:
    return pl.datetime_range(
        START - timedelta(days=10), START + timedelta(days=800), "7h", time_unit="us", time_zone="UTC", eager=True
    )


def test_a_clock_an_hour_slow_for_a_while() -> None:
    shift = ClockShift(start=START, end=START + timedelta(days=1), add_seconds=3600)
    times = pl.Series(
        [START - timedelta(hours=1), START, START + timedelta(hours=23), START + timedelta(days=1), None]
    )
    expected = [
        START - timedelta(hours=1),
        START + timedelta(hours=1),
        START + timedelta(hours=24),
        START + timedelta(days=1),
        None,
    ]
    assert to_true_time(times, [shift]).to_list() == expected
    assert shift.in_words() == "The clock was 1 h slow from 2025-01-01 00:00 UTC to 2025-01-02 00:00 UTC."


def test_a_drift_seen_at_read_out_is_spread_evenly() -> None:
    read_out = START + timedelta(days=100)
    shift = drift_seen_at_read_out(
        set_at=START, shown_at_read_out=read_out, true_at_read_out=read_out - timedelta(seconds=200)
    )
    times = pl.Series([START, START + timedelta(days=50), read_out - timedelta(days=1)])
    corrected = to_true_time(times, [shift])
    assert (corrected - times).dt.total_seconds().to_list() == [0, -100, -198]


@settings(deadline=None)
@given(st.lists(shifts(), max_size=4))
def test_shifts_add_up_in_any_order(several: list[ClockShift]) -> None:
    times = logger_times()
    together = to_true_time(times, several) - times
    one_by_one = sum(
        ((to_true_time(times, [shift]) - times).to_physical() for shift in several),
        start=pl.zeros(len(times), dtype=pl.Int64, eager=True),
    )
    assert (together.to_physical() - one_by_one).abs().max() <= len(several)  # µs, each rounded once
    assert to_true_time(times, several[::-1]).to_list() == to_true_time(times, several).to_list()


@settings(deadline=None)
@given(shifts())
def test_a_correction_can_be_taken_back(shift: ClockShift) -> None:
    times = logger_times()
    true = to_true_time(times, [shift])
    back = to_logger_time(true, [shift])
    # Within hours of where a clock was set, two of its times were one moment, or a moment had none.
    error_us = (back - times).to_physical()
    exact = error_us.abs() <= 1
    borders = [m for m in (shift.start, shift.end) if m is not None]
    far = pl.Series([all(abs(t - m) > timedelta(hours=5) for m in borders) for t in times])
    assert exact.filter(far).all()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ({"start": datetime(2025, 1, 1), "add_seconds": 1}, "need a UTC offset"),  # noqa: DTZ001 - that is the fault
        ({"start": START, "end": START, "add_seconds": 1}, "before it starts"),
        ({"start": START, "add_seconds": 0, "add_seconds_at_end": 60}, "give the end"),
        (
            {"start": START, "end": START + timedelta(days=1), "add_seconds": 0, "add_seconds_at_end": 3600},
            "A drift of 3600 s per day is no clock's",
        ),
    ],
)
def test_a_correction_that_cannot_be_is_refused(arguments: dict[str, object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        ClockShift(**arguments)  # type: ignore[arg-type]
