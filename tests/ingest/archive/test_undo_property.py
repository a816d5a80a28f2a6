"""Whatever came before and after: an import that is undone leaves the readings as they would be without it."""

from __future__ import annotations

import datetime as dt

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.archive.merging import EMPTY, SCHEMA, Merged, conflicts, merge, outcome
from isohume.ingest.archive.readings_store import content_hash, parquet_bytes

START = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
VALUE = st.sampled_from([None, 48.0, 50.0, 52.5])
ROW = st.tuples(st.integers(0, 12), st.sampled_from(["", "A"]), VALUE, VALUE, st.sampled_from([0, 4, 256]))


def table(rows: list[tuple[int, str, float | None, float | None, int]], source: int) -> pl.DataFrame:
    """Return the normalised table of one file: one row per time and channel, as the reader makes it."""
    distinct = {(step, channel): (rh, celsius, flags) for step, channel, rh, celsius, flags in rows}
    return pl.DataFrame(
        [
            (START + dt.timedelta(minutes=10 * step), channel, *values, line, source)
            for line, ((step, channel), values) in enumerate(sorted(distinct.items()), start=2)
            if values[:2] != (None, None)
        ],
        schema=SCHEMA,
        orient="row",
    )


FILES = st.lists(st.lists(ROW, min_size=1, max_size=12), min_size=1, max_size=5)


def stored(merged: Merged) -> tuple[bytes, bytes]:
    return parquet_bytes(merged.in_force), parquet_bytes(merged.shadowed)


@settings(max_examples=60, deadline=None)
@given(FILES, st.data())
def test_undo_gives_the_bytes_there_would_be_without_the_import(
    files: list[list[tuple[int, str, float | None, float | None, int]]], data: st.DataObject
) -> None:
    tables = [table(rows, number) for number, rows in enumerate(files, start=1)]
    undone = data.draw(st.integers(1, len(files)))
    merged, without = EMPTY, EMPTY
    for number, rows in enumerate(tables, start=1):
        merged = merged.joined_by(rows)
        if number != undone:
            without = without.joined_by(rows)
    taken_out = merged.without([undone])
    assert stored(taken_out) == stored(without)
    assert content_hash(taken_out) == content_hash(without)


@settings(max_examples=60, deadline=None)
@given(FILES)
def test_no_row_is_lost_or_invented(files: list[list[tuple[int, str, float | None, float | None, int]]]) -> None:
    tables = [table(rows, number) for number, rows in enumerate(files, start=1)]
    merged = EMPTY
    for number, rows in enumerate(tables, start=1):
        merged = merged.joined_by(rows)
        found = outcome(merged, number)
        assert found.n_new + found.n_equal + found.n_conflicting == rows.height
    everything = pl.concat(tables).sort("time_utc", "channel", "source")
    assert merged.rows().sort("time_utc", "channel", "source").equals(everything)
    # One reading at a time and channel; all at once or one after the other is the same.
    assert not merged.in_force.select("time_utc", "channel").is_duplicated().any()
    assert stored(merge(everything)) == stored(merged)
    # The earliest value at each time is the one in force, and what contradicts it is listed.
    first = everything.group_by("time_utc", "channel").agg(pl.col("rh_percent").drop_nulls().first())
    beside = merged.in_force.join(first, on=["time_utc", "channel"], suffix="_first")
    assert beside["rh_percent"].equals(beside["rh_percent_first"], null_equal=True)
    listed = conflicts(merged)
    assert set(listed.select("time_utc", "channel").rows()) == set(
        merged.in_force.filter("contested").select("time_utc", "channel").rows()
    )
