"""Reset clocks, dates ahead of today, time running back, and instants that two rows claim."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.clock_order import backward_times, impossible_times, re_anchor, repeats, reset_rows

NOW = datetime(2026, 11, 24, tzinfo=UTC)
START = datetime(2026, 1, 1, tzinfo=UTC)


def hourly(start: datetime, n: int, *, minutes: int = 60) -> list[datetime]:
    return [start + timedelta(minutes=minutes) * k for k in range(n)]


def utc(*runs: list[datetime] | None) -> pl.Series:
    times = [time for run in runs for time in (run or [None])]
    return pl.Series(times, dtype=pl.Datetime("us", "UTC"))


def a_table(times: list[datetime], rh: list[float | None], channel: str = "") -> pl.DataFrame:
    return pl.DataFrame(
        {
            "time_utc": pl.Series(times, dtype=pl.Datetime("us", "UTC")),
            "channel": pl.Series([channel] * len(times), dtype=pl.String),
            "rh_percent": pl.Series(rh, dtype=pl.Float64),
            "temperature_celsius": pl.Series([20.0] * len(times), dtype=pl.Float64),
        }
    )


@pytest.mark.parametrize("year", [1970, 1980, 2000])
@pytest.mark.parametrize("zone_hours", [-1, 0, 5])
@pytest.mark.parametrize("newest_first", [False, True])
def test_rows_dated_by_a_reset_clock_are_rejected(
    year: int,
    zone_hours: int,
    newest_first: bool,  # noqa: FBT001
) -> None:
    epoch = datetime(year, 1, 1, tzinfo=UTC) + timedelta(hours=zone_hours)  # midnight there
    times = utc(hourly(START, 48), hourly(epoch, 5), hourly(START + timedelta(days=3), 10))
    times = times.reverse() if newest_first else times
    found = impossible_times(times, now=NOW)
    rows = range(10, 15) if newest_first else range(48, 53)
    assert found.rejected == dict.fromkeys(rows, f"clock reset: dated {year}, as after a battery change")
    assert found.notes == (f"The clock was reset: 5 rows are dated {year}.",)


def test_a_record_of_the_year_2000_is_a_record() -> None:
    times = utc(hourly(datetime(2000, 3, 1, tzinfo=UTC), 24 * 400))
    found = impossible_times(times, now=NOW)
    assert (found.rejected, found.doubtful, found.notes) == ({}, None, ())


def test_a_record_that_starts_where_a_clock_starts_is_remarked() -> None:
    (note,) = impossible_times(utc(hourly(datetime(2000, 1, 1, tzinfo=UTC), 24)), now=NOW).notes
    assert note == "The record starts on 2000-01-01, where a logger's clock starts whose time was never set."


def test_reset_rows_are_restored_from_one_known_instant() -> None:
    first = hourly(datetime(2000, 1, 1, tzinfo=UTC), 5)
    second = hourly(datetime(2000, 1, 1, tzinfo=UTC), 4)
    times = utc(hourly(START, 48), first, second, hourly(START + timedelta(days=9), 3))
    is_reset = reset_rows(times)
    assert np.flatnonzero(is_reset).tolist() == list(range(48, 57))
    true = START + timedelta(days=4)
    restored = re_anchor(times, is_reset, row=52, true_utc=true)
    assert restored[48:53].to_list() == hourly(true - timedelta(hours=4), 5)
    others = [row for row in range(len(times)) if not 48 <= row < 53]
    assert restored.gather(others).to_list() == times.gather(others).to_list()
    with pytest.raises(ValueError, match="Row 1 was not dated by a reset clock"):
        re_anchor(times, is_reset, row=0, true_utc=true)
    with pytest.raises(ValueError, match="needs a UTC offset"):
        re_anchor(times, is_reset, row=52, true_utc=datetime(2026, 1, 1))  # noqa: DTZ001 - that is the fault


def test_rows_that_leap_ahead_of_now_are_rejected() -> None:
    times = utc(hourly(NOW - timedelta(days=3), 70), hourly(datetime(2099, 1, 1, tzinfo=UTC), 2), None)
    found = impossible_times(times, now=NOW)
    reason = "dated ahead of today (2026-11-24), detached from the record"
    assert found.rejected == {70: reason, 71: reason}
    assert found.doubtful is None


def test_a_record_that_runs_on_ahead_of_now_is_kept_and_doubted() -> None:
    times = utc(hourly(NOW - timedelta(days=2), 24 * 5))
    found = impossible_times(times, now=NOW)
    assert found.rejected == {}
    assert found.doubtful is not None
    assert found.doubtful.tolist() == [time > NOW for time in times]
    assert "the logger's clock is fast, or this computer's is slow" in found.notes[0]


def test_a_few_hours_ahead_are_nothing() -> None:
    found = impossible_times(utc(hourly(NOW - timedelta(days=2), 60)), now=NOW)
    assert (found.rejected, found.doubtful, found.notes) == ({}, None, ())


def test_a_clock_set_back_is_doubted_where_it_covers_time_twice() -> None:
    times = hourly(START, 10) + hourly(START + timedelta(hours=5, minutes=20), 10)
    found = backward_times(a_table(times, [50.0] * 20))
    assert found.doubtful is not None
    assert np.flatnonzero(found.doubtful).tolist() == [6, 7, 8, 9, 10, 11, 12, 13]
    assert found.notes == ("time runs backwards from 2026-01-01 09:00 to 2026-01-01 05:20 UTC.",)


def test_a_download_repeated_or_a_year_listed_later_is_not_doubted() -> None:
    repeated = hourly(START, 10) + hourly(START + timedelta(hours=5), 10)
    later = hourly(START, 10) + hourly(START - timedelta(days=30), 10)
    for times in (repeated, later):
        assert backward_times(a_table(times, [50.0] * 20)).doubtful is None


def test_a_file_out_of_order_as_a_whole_is_said_in_one_sentence() -> None:
    times = hourly(START, 300)
    np.random.default_rng(0).shuffle(times)  # type: ignore[arg-type]
    found = backward_times(a_table(times, [50.0] * 300))
    assert found.notes == ("the rows are not in the order of time; they were sorted.",)
    assert found.doubtful is None


def test_equal_rows_are_duplicates_and_different_ones_conflict() -> None:
    times = [START, START, START, *hourly(START + timedelta(hours=1), 2), START + timedelta(hours=1)]
    found = repeats(a_table(times, [50.0, 50.0, 51.0, 60.0, None, 60.0]))
    assert np.flatnonzero(found.duplicate).tolist() == [1, 5]
    assert np.flatnonzero(found.conflicting).tolist() == [2]
    assert np.flatnonzero(found.contested).tolist() == [0]


def test_two_missing_values_are_equal_and_a_missing_one_differs_from_a_number() -> None:
    found = repeats(a_table([START] * 3, [None, None, 50.0]))
    assert found.duplicate.tolist() == [False, True, False]
    assert found.conflicting.tolist() == [False, False, True]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 6), st.sampled_from([None, 50.0, 51.0]), st.sampled_from("ab")), max_size=30))
def test_every_row_is_first_duplicate_or_conflicting_as_counted_one_by_one(
    rows: list[tuple[int, float | None, str]],
) -> None:
    table = pl.concat(
        [a_table([START + timedelta(hours=hour)], [rh], channel) for hour, rh, channel in rows] or [a_table([], [])]
    )
    found = repeats(table)
    first: dict[tuple[int, str], float | None] = {}
    expected = []
    for hour, rh, channel in rows:
        kept = first.setdefault((hour, channel), rh)
        seen = sum((h, c) == (hour, channel) for h, _, c in rows[: len(expected)])
        expected.append("first" if not seen else "duplicate" if kept == rh else "conflicting")
    said = np.where(found.duplicate, "duplicate", np.where(found.conflicting, "conflicting", "first"))
    assert said.tolist() == expected
