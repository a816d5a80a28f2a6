"""A date that stands only in the first row of each day is the date of the rows below it."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.reading import FileReading, read_source
from isohume.ingest.recipe import Recipe

FIRST_DAY = dt.datetime(2025, 3, 3, tzinfo=dt.UTC)


def written(n_days: int, step_minutes: int, start_minutes: int, *, once: bool, newest_first: bool = False) -> str:
    """Write a file with the date in each row, or only where it differs from the row above."""
    start = FIRST_DAY + dt.timedelta(minutes=start_minutes)
    moments = [start + dt.timedelta(minutes=k * step_minutes) for k in range(n_days * 1440 // step_minutes)]
    if newest_first:
        moments.reverse()
    lines, above = ["Date;Time;RH (%)"], None
    for place, moment in enumerate(moments):
        date = "" if once and moment.date() == above else f"{moment:%d.%m.%Y}"
        above = moment.date()
        lines.append(f"{date};{moment:%H:%M};{45 + place % 97 / 10:.1f}")
    return "\n".join(lines) + "\n"


def read(text: str, recipe: Recipe | None = None) -> FileReading:
    (reading,) = read_source(
        text.encode(), name="once.csv", time_zone="UTC", recipe=recipe, now=FIRST_DAY.replace(year=2026)
    )
    return reading


@settings(max_examples=25, deadline=None)
@given(
    n_days=st.integers(3, 16),
    step_minutes=st.sampled_from([15, 30, 60, 180]),
    start_minutes=st.integers(0, 1439),
    newest_first=st.booleans(),
)
def test_a_date_written_once_reads_like_one_in_every_row(
    n_days: int,
    step_minutes: int,
    start_minutes: int,
    newest_first: bool,  # noqa: FBT001 - drawn by hypothesis
) -> None:
    once = read(written(n_days, step_minutes, start_minutes, once=True, newest_first=newest_first))
    every = read(written(n_days, step_minutes, start_minutes, once=False, newest_first=newest_first))
    assert once.recipe.time.date_once
    assert not every.recipe.time.date_once
    assert once.ledger.n_rejected == 0
    assert once.table.drop("flags").equals(every.table.drop("flags"))


def test_the_recipe_says_so_and_is_used_again() -> None:
    first = read(written(5, 60, 0, once=True))
    assert "a blank date being the one above" in first.recipe.in_words()
    again = Recipe.from_toml(first.recipe.to_toml())
    assert again == first.recipe
    assert read(written(5, 60, 0, once=True), again).table.equals(first.table)


def test_dates_go_on_over_the_blocks_of_a_long_file(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("isohume.ingest.cells.BLOCK_BYTES", 200)
    assert read(written(6, 30, 600, once=True)).ledger.n_rejected == 0


def test_a_few_missing_dates_stay_missing() -> None:
    lines = written(5, 60, 0, once=False).splitlines()
    lines[10] = ";" + lines[10].split(";", 1)[1]
    reading = read("\n".join(lines) + "\n")
    assert not reading.recipe.time.date_once
    assert [row.line for row in reading.ledger.rejected_rows()] == [11]


def test_clocks_without_order_below_a_date_are_not_dated() -> None:
    lines = ["Date;Time;RH (%)"]
    for day in range(1, 6):
        lines += [f"{'0' + str(day) + '.03.2025' if k == 0 else ''};{(k * 7) % 24:02d}:00;50.{k}" for k in range(10)]
    assert not read("\n".join(lines) + "\n").recipe.time.date_once
