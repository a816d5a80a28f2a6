"""Local times of a logger become UTC: right, or rejected with a reason, and never guessed."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.clock import to_utc
from isohume.ingest.clock_zone import ClockZone

# Computed from the IANA time zone database and verified against it; the first line of the file names it.
with (Path(__file__).parents[1] / "reference" / "dst_transitions.csv").open(encoding="utf-8") as lines:
    TRANSITIONS = list(csv.DictReader(line for line in lines if not line.startswith("#")))
ZONES = sorted({row["zone"] for row in TRANSITIONS})
# Changes of half an hour, a pause in the month of fasting, and a skipped day.
ODD_ZONES = ["Australia/Lord_Howe", "Africa/Casablanca", "Pacific/Apia", "America/St_Johns", "Asia/Kolkata", "UTC"]
BERLIN = ClockZone.parse("Europe/Berlin")


def utc_times(start: datetime, end: datetime, step: timedelta) -> pl.Series:
    return pl.datetime_range(start, end, step, time_unit="us", time_zone="UTC", eager=True)


def on_the_wall(utc: pl.Series, zone: str) -> pl.Series:
    return utc.dt.convert_time_zone(zone).dt.replace_time_zone(None)


def walls(day: str, *times: str) -> pl.Series:
    return pl.Series([f"{day} {time}" for time in times]).str.to_datetime("%Y-%m-%d %H:%M", time_unit="us")


def hours_utc(times: pl.Series) -> list[str | None]:
    return times.dt.to_string("%H:%M").to_list()


@pytest.mark.parametrize("row", TRANSITIONS, ids=lambda row: f"{row['zone']}-{row['utc_instant'][:10]}")
def test_every_published_change_is_crossed_without_losing_or_moving_a_row(row: dict[str, str]) -> None:
    instant = datetime.fromisoformat(row["utc_instant"])
    for minutes in (10, 60):
        utc = utc_times(instant - timedelta(hours=6), instant + timedelta(hours=6), timedelta(minutes=minutes))
        found = to_utc(on_the_wall(utc, row["zone"]), ClockZone.parse(row["zone"]))
        assert found.rejected == {}
        assert found.utc.to_list() == utc.to_list()
        assert [seen.behaviour for seen in found.changes] == ["followed"]
        change = found.changes[0].change
        assert change.instant_us == int(instant.timestamp() * 1e6)
        assert change.offset_before_us == float(row["utc_offset_before_h"]) * 3.6e9
        assert change.offset_after_us == float(row["utc_offset_after_h"]) * 3.6e9
        assert change.repeats == (row["kind"] == "autumn_repeat")


@settings(max_examples=150, deadline=None)
@given(
    zone=st.sampled_from(ZONES + ODD_ZONES),
    start=st.datetimes(datetime(2005, 1, 1), datetime(2030, 1, 1)),  # noqa: DTZ001 - made aware below
    step=st.sampled_from([1, 5, 7, 10, 15, 20, 30, 45, 60, 90, 120, 180]),
    newest_first=st.booleans(),
)
def test_a_complete_record_comes_back_as_it_was(
    zone: str,
    start: datetime,
    step: int,
    newest_first: bool,  # noqa: FBT001 - drawn by hypothesis
) -> None:
    first = start.replace(tzinfo=UTC, microsecond=0)
    utc = utc_times(first, first + timedelta(minutes=step) * 3000, timedelta(minutes=step))
    utc = utc.reverse() if newest_first else utc
    found = to_utc(on_the_wall(utc, zone), ClockZone.parse(zone))
    assert (found.utc == utc).filter(found.utc.is_not_null()).all()
    # A record that begins or ends inside a repeated hour may have too little around it to settle those rows.
    assert all(min(row, len(utc) - 1 - row) <= 60 / step for row in found.rejected)


@settings(max_examples=100, deadline=None)
@given(
    row=st.sampled_from([row for row in TRANSITIONS if row["kind"] == "autumn_repeat"]),
    step=st.sampled_from([5, 10, 15, 30]),
    gap_start=st.integers(0, 200),
    gap_length=st.integers(0, 60),
    newest_first=st.booleans(),
)
def test_one_outage_never_moves_a_row(
    row: dict[str, str],
    step: int,
    gap_start: int,
    gap_length: int,
    newest_first: bool,  # noqa: FBT001
) -> None:
    instant = datetime.fromisoformat(row["utc_instant"])
    around = timedelta(minutes=step) * 50
    utc = utc_times(instant - around, instant + around, timedelta(minutes=step))
    utc = pl.concat([utc[:gap_start], utc[gap_start + gap_length :]])
    utc = utc.reverse() if newest_first else utc
    found = to_utc(on_the_wall(utc, row["zone"]), ClockZone.parse(row["zone"]))
    assert (found.utc == utc).filter(found.utc.is_not_null()).all()
    assert found.utc.is_null().sum() == len(found.rejected)


@settings(max_examples=100, deadline=None)
@given(kept=st.lists(st.booleans(), min_size=73, max_size=73), newest_first=st.booleans())
def test_rows_missing_here_and_there_never_move_a_row(
    kept: list[bool],
    newest_first: bool,  # noqa: FBT001
) -> None:
    kept = [*[True] * 3, *kept[3:-3], *[True] * 3]
    for row in range(5, len(kept)):  # no outage as long as the repeated hour: that one is open, and tested below
        if not any(kept[row - 5 : row]):
            kept[row] = True
    utc = utc_times(
        datetime(2025, 10, 25, 19, tzinfo=UTC), datetime(2025, 10, 26, 7, tzinfo=UTC), timedelta(minutes=10)
    ).filter(pl.Series(kept))
    utc = utc.reverse() if newest_first else utc
    found = to_utc(on_the_wall(utc, "Europe/Berlin"), BERLIN)
    assert (found.utc == utc).filter(found.utc.is_not_null()).all()


def test_channels_listed_below_or_between_each_other() -> None:
    utc = utc_times(datetime(2025, 10, 25, tzinfo=UTC), datetime(2025, 10, 27, tzinfo=UTC), timedelta(hours=1))
    for table in (
        pl.DataFrame({"utc": pl.concat([utc, utc]), "channel": ["a"] * len(utc) + ["b"] * len(utc)}),
        pl.DataFrame({"utc": pl.concat([utc, utc]).sort(), "channel": ["a", "b"] * len(utc)}),
    ):
        found = to_utc(on_the_wall(table["utc"], "Europe/Berlin"), BERLIN, channel=table["channel"])
        assert found.rejected == {}
        assert found.utc.to_list() == table["utc"].to_list()


def test_hour_present_once_without_a_gap_is_rejected_and_the_zone_doubted() -> None:
    local = walls("2025-10-26", "00:00", "00:30", "01:00", "01:30", "02:00", "02:30", "03:00", "03:30", "04:00")
    found = to_utc(local, BERLIN)
    reason = "02:00 to 03:00 on 2025-10-26 happens twice in Europe/Berlin; the file has it once, without a gap"
    assert found.rejected == {4: reason, 5: reason}
    assert found.utc.is_null().to_list() == [row in (4, 5) for row in range(9)]
    assert found.zone_doubt == (
        "02:00 to 03:00 on 2025-10-26 happens twice in Europe/Berlin, and the file runs on there as on any day: the "
        "logger's clock did not change. If it never changes to summer time, give its clock "
        'as "+01:00" (--tz +01:00); if it was in another zone, give that zone.'
    )


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        # the second pass only, after an outage
        (["00:30", "00:40", "02:40", "02:50", "03:00", "03:10"],
         ["22:30", "22:40", "01:40", "01:50", "02:00", "02:10"]),
        # the first pass only, before one
        (["01:40", "01:50", "02:00", "02:10", "03:40", "03:50"],
         ["23:40", "23:50", "00:00", "00:10", "02:40", "02:50"]),
        # an outage from one pass into the other
        (["01:50", "02:00", "02:10", "02:40", "02:50", "03:00"],
         ["23:50", "00:00", "00:10", "01:40", "01:50", "02:00"]),
        # the file begins, or ends, in the hour
        (["02:40", "02:50", "03:00", "03:10"], ["01:40", "01:50", "02:00", "02:10"]),
        (["01:40", "01:50", "02:00", "02:10"], ["23:40", "23:50", "00:00", "00:10"]),
        # a row written twice in the first pass
        (
            ["01:50", "02:00", "02:00", "02:10", "02:20", "02:30", "02:40", "02:50", "02:00", "02:10", "02:20"],
            ["23:50", "00:00", "00:00", "00:10", "00:20", "00:30", "00:40", "00:50", "01:00", "01:10", "01:20"],
        ),
        # alone between two outages: nothing says which
        (["00:40", "00:50", "02:20", "03:40", "03:50"], ["22:40", "22:50", None, "02:40", "02:50"]),
    ],
)  # fmt: skip
def test_what_order_and_step_say_about_the_repeated_hour(times: list[str], expected: list[str | None]) -> None:
    assert hours_utc(to_utc(walls("2025-10-26", *times), BERLIN).utc) == expected
    assert hours_utc(to_utc(walls("2025-10-26", *times).reverse(), BERLIN).utc) == expected[::-1]


def test_rows_in_a_skipped_hour_are_rejected_and_the_zone_doubted() -> None:
    local = walls("2026-03-29", "01:00", "01:30", "02:00", "02:30", "03:00")
    found = to_utc(local, BERLIN)
    reason = "clocks in Europe/Berlin skip 02:00 to 03:00 on 2026-03-29: the logger's clock was in another zone"
    assert found.rejected == {2: reason, 3: reason}
    assert found.zone_doubt == (
        "02:00 to 03:00 on 2026-03-29 does not exist in Europe/Berlin, and the file runs on there as on any day: the "
        "logger's clock did not change. If it never changes to summer time, give its clock "
        'as "+01:00" (--tz +01:00); if it was in another zone, give that zone.'
    )


@pytest.mark.parametrize("hours", [2, 3, 6])
def test_a_logger_with_no_row_in_the_hour_shows_by_its_step_whether_it_changed(hours: int) -> None:
    step = timedelta(hours=hours)
    utc = utc_times(datetime(2025, 1, 1, 2, tzinfo=UTC), datetime(2025, 12, 1, tzinfo=UTC), step)
    follows = to_utc(on_the_wall(utc, "Europe/Berlin"), BERLIN)
    stays = to_utc(on_the_wall(utc.dt.offset_by("1h"), "UTC"), BERLIN)
    assert follows.utc.to_list() == utc.to_list()
    assert {seen.behaviour for seen in follows.changes} == {"followed"}
    assert {seen.behaviour for seen in stays.changes} == {"not followed"}
    assert stays.zone_doubt is not None


def test_a_clock_that_never_changes_keeps_every_row() -> None:
    utc = utc_times(datetime(2025, 1, 1, tzinfo=UTC), datetime(2026, 1, 1, tzinfo=UTC), timedelta(hours=1))
    local = on_the_wall(utc.dt.offset_by("1h"), "UTC")
    found = to_utc(local, ClockZone.parse("+01:00"))
    assert found.utc.to_list() == utc.to_list()
    assert found.rejected == {}


def test_a_record_that_follows_its_zone_says_so() -> None:
    utc = utc_times(datetime(2025, 3, 1, tzinfo=UTC), datetime(2025, 12, 1, tzinfo=UTC), timedelta(hours=1))
    found = to_utc(on_the_wall(utc, "Europe/Berlin"), BERLIN)
    assert found.zone_doubt is None
    (note,) = found.notes
    assert note == (
        "The clock followed Europe/Berlin at 2 changes from 2025-03-30 to 2025-10-26. "
        "Both passes of a repeated hour were told apart."
    )


def test_rows_without_a_time_stay_without_one() -> None:
    local = walls("2025-10-26", "01:30", "02:00", "02:30", "02:00", "02:30", "03:00")
    with_gaps = pl.concat([local[:2], pl.Series([None], dtype=pl.Datetime("us")), local[2:]])
    found = to_utc(with_gaps, BERLIN)
    assert hours_utc(found.utc) == ["23:30", "00:00", None, "00:30", "01:00", "01:30", "02:00"]
    assert found.rejected == {}
    assert to_utc(with_gaps[2:3], BERLIN).utc.to_list() == [None]
    assert to_utc(with_gaps[:0], BERLIN).utc.is_empty()


@pytest.mark.parametrize(
    ("text", "name"),
    [("Europe/Berlin", "Europe/Berlin"), ("+1", "+01:00"), ("UTC+1", "+01:00"), ("-0330", "-03:30"),
     ("−05:00", "-05:00"), ("z", "UTC"), ("+00:00", "+00:00")],
)  # fmt: skip
def test_zones_as_people_write_them(text: str, name: str) -> None:
    assert ClockZone.parse(text).name == name


@pytest.mark.parametrize("text", ["Berlin", "", "Europe", "../etc/passwd", "+25:00", "+01:75", "1", "Europe/Atlantis"])
def test_what_is_no_zone_is_refused_with_what_to_give(text: str) -> None:
    with pytest.raises(ValueError, match=r"is no time zone. Give a zone with its summer time \(Europe/Berlin\)"):
        ClockZone.parse(text)
