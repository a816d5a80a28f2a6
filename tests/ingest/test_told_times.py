"""What a file cannot tell about its times is asked, and what the user tells is used, and nothing is lost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.flags import Flag, flag_counts
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_source

NOW = datetime(2026, 11, 24, tzinfo=UTC)


def read(times: list[datetime], rh: np.ndarray, answers: dict[str, str] | None = None) -> FileReading:
    rows = "".join(
        f"{time:%Y-%m-%d %H:%M},{value:.1f},{20 + time.hour / 12:.1f}\n" for time, value in zip(times, rh, strict=True)
    )
    content = f"time,RH (%),T (°C)\n{rows}".encode()
    (reading,) = read_source(
        content, name="logger.csv", time_zone="Europe/Berlin", answers=Answers(answers or {}), now=NOW
    )
    return reading


def with_reset() -> tuple[list[datetime], np.ndarray]:
    start = datetime(2026, 2, 1)  # noqa: DTZ001 - a logger's wall clock
    times = [start + timedelta(hours=k) for k in range(48)]
    times += [datetime(2000, 1, 1) + timedelta(hours=k) for k in range(6)]  # noqa: DTZ001
    return times, np.linspace(45, 50, 54)


def test_rows_of_a_reset_clock_are_rejected_and_the_way_to_restore_them_is_said() -> None:
    reading = read(*with_reset())
    assert (reading.ledger.kept, reading.ledger.n_rejected) == (48, 6)
    assert reading.ledger.reasons() == {"clock reset: dated 2000, as after a battery change": 6}
    how = "--answer reset_line_55=2025-03-01T09:30+01:00"
    assert f"To restore readings dated by a reset clock, say when one was taken: {how}." in reading.notes


def test_rows_of_a_reset_clock_are_restored_from_an_instant_the_user_states() -> None:
    reading = read(*with_reset(), {"reset_line_55": "2026-02-05T12:00"})
    assert (reading.ledger.kept, reading.ledger.n_rejected, reading.ledger.flagged) == (54, 0, 6)
    restored = reading.table.filter((pl.col("flags") & Flag.RE_ANCHORED.value) != 0)
    assert restored["line"].to_list() == list(range(50, 56))
    assert restored["time_utc"].max() == datetime(2026, 2, 5, 11, tzinfo=UTC)  # 12:00 in Berlin
    assert "6 readings of a reset clock were restored to 2026-02-05 06:00 to 2026-02-05 11:00 UTC." in reading.notes


def test_an_instant_for_a_line_that_was_not_reset_is_of_no_use() -> None:
    reading = read(*with_reset(), {"reset_line_3": "2026-02-05T12:00"})
    assert reading.ledger.n_rejected == 6
    assert "Line 3 was not dated by a reset clock: reset_line_3 was not used." in reading.notes


def with_desk() -> tuple[list[datetime], np.ndarray]:
    rng = np.random.default_rng(0)
    start = datetime(2026, 2, 1)  # noqa: DTZ001 - a logger's wall clock
    desk = 38 + np.cumsum(rng.normal(0, 0.8, 100))
    frame = 50 + rng.normal(0, 0.05, 1000)
    return [start + timedelta(hours=k) for k in range(1100)], np.concatenate([desk, frame])


def test_days_on_a_desk_are_asked_about_with_the_answer_to_give() -> None:
    reading = read(*with_desk())
    (question,) = (note for note in reading.notes if note.startswith("When did the logger go in?"))
    assert question.endswith(
        "If so, answer --answer placed_from=2026-02-05T04:00+01:00: those readings stay, flagged as outside "
        "placement, and are left out of the analysis."
    )
    assert reading.ledger.flagged == 0


def test_readings_from_before_the_answered_placement_stay_and_are_flagged() -> None:
    reading = read(*with_desk(), {"placed_from": "2026-02-05T04:00+01:00"})
    assert reading.ledger.kept == 1100
    assert flag_counts(reading.table["flags"])["outside placement"] == 100
    assert not any(note.startswith("When did") for note in reading.notes)


@pytest.mark.parametrize(
    ("answers", "says"),
    [
        (
            {"placed_from": "yesterday"},
            'placed_from: expected a time such as 2025-09-22T17:00+02:00, found "yesterday"',
        ),
        ({"placed_from": "2026-02-05", "placed_to": "2026-02-04"}, "lies before placed_from"),
        ({"reset_line_x": "2026-02-05"}, "reset_line_x: expected the number of a line"),
    ],
)
def test_an_answer_that_is_no_time_is_refused(answers: dict[str, str], says: str) -> None:
    with pytest.raises(LoggerFileError) as refusal:
        read(*with_desk(), answers)
    assert says in str(refusal.value)
    assert "placed_from=2025-09-22T17:00+02:00" in str(refusal.value)


def test_a_clock_left_on_winter_time_that_paused_at_its_changes_is_noticed_from_its_days() -> None:
    rng = np.random.default_rng(2)
    start = datetime(2025, 1, 8)  # noqa: DTZ001 - a logger's wall clock
    spring, autumn = (datetime(2025, 3, 30) - start, datetime(2025, 10, 26) - start)  # noqa: DTZ001
    hour = np.arange(320 * 24)
    is_summer = (hour >= spring.days * 24) & (hour < autumn.days * 24)
    people = (hour + is_summer) % 24
    warm = np.where((people >= 7) & (people < 18), 2.0, 0.0) * rng.uniform(0.8, 1.2, hour.size)
    paused = [abs(hour - change.days * 24) < 30 for change in (spring, autumn)]
    rows = "".join(
        f"{start + timedelta(hours=int(k)):%Y-%m-%d %H:%M},50.0,{18 + warm[k]:.1f}\n"
        for k in hour[~(paused[0] | paused[1])]
    )
    content = f"time,RH (%),T (°C)\n{rows}".encode()
    (reading,) = read_source(content, name="logger.csv", time_zone="Europe/Berlin", now=NOW)
    assert any("its clock never changes to summer time" in note for note in reading.notes)
    assert any('State its clock as "+01:00"' in note for note in reading.notes)
