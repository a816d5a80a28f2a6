"""Thinning for the screen may drop readings, never an extreme and never a gap."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.dashboard.thinning import Trace

FIVE_MINUTES = 300.0


def trace(values: np.ndarray, *, step: float = FIVE_MINUTES, bridge: float = 3636.0) -> Trace:
    seconds = 1.6e9 + step * np.arange(values.size)
    return Trace(seconds=seconds, quantity=values.astype(np.float64), bridge_seconds=bridge)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), n=st.integers(2_000, 20_000), n_buckets=st.integers(5, 400))
def test_every_bucket_keeps_its_own_extremes(seed: int, n: int, n_buckets: int) -> None:
    values = np.random.default_rng(seed).normal(50, 5, n)
    record = trace(values)
    start, end = record.seconds[0] - 1.7, record.seconds[-1] + np.pi  # so that no reading lies on an edge
    times, drawn = record.window(start, end, n_buckets=n_buckets)
    width = (end - start) / n_buckets
    # An independent count, bucket by bucket, with pandas.
    whole = pd.Series(values).groupby(((record.seconds - start) // width).astype(int))
    thinned = pd.Series(drawn).groupby(((times - start) // width).astype(int))
    pd.testing.assert_series_equal(whole.min(), thinned.min(), check_names=False)
    pd.testing.assert_series_equal(whole.max(), thinned.max(), check_names=False)
    assert (np.diff(times) > 0).all()
    assert np.isin(drawn, values).all()


def test_a_long_record_becomes_light() -> None:
    ten_years = trace(np.random.default_rng(1).normal(50, 5, 10 * 365 * 288))
    times, _ = ten_years.window(ten_years.seconds[0], ten_years.seconds[-1], n_buckets=900)
    assert times.size <= 4 * 900


def test_a_gap_stays_a_gap_at_every_zoom() -> None:
    record = trace(np.full(20_000, 50.0))
    kept = (record.seconds < record.seconds[9_000]) | (record.seconds > record.seconds[11_000])
    holed = Trace(seconds=record.seconds[kept], quantity=record.quantity[kept], bridge_seconds=3636.0)
    before, after = record.seconds[8_999], record.seconds[11_001]
    for n_buckets in (50, 400, 30_000):
        times, drawn = holed.window(record.seconds[0], record.seconds[-1], n_buckets=n_buckets)
        (broken,) = np.flatnonzero(np.isnan(drawn))
        assert times[broken - 1] == before
        assert times[broken + 1] == after


def test_daily_short_gaps_do_not_dissolve_the_line_of_ten_years() -> None:
    record = trace(np.random.default_rng(2).normal(50, 1, 10 * 365 * 288))
    hour = (record.seconds // 3600) % 24
    nightly = Trace(seconds=record.seconds[hour > 2], quantity=record.quantity[hour > 2], bridge_seconds=3636.0)
    _, drawn = nightly.window(record.seconds[0], record.seconds[-1], n_buckets=800)
    assert not np.isnan(drawn).any(), "gaps narrower than a pixel would leave single points, which no line shows"


def test_a_short_stretch_is_sent_as_it_is() -> None:
    values = np.array([50.0, 51.0, np.nan, 49.0, 48.0])
    index = pd.date_range("2026-01-01", periods=5, freq="h", tz="UTC")
    times, drawn = Trace.of(pd.Series(values, index=index)).window(0, 2e9, n_buckets=100)
    # One missing hour between hourly readings is bridged (three nominal steps), so no NaN appears.
    assert drawn.tolist() == [50.0, 51.0, 49.0, 48.0]
    assert times[0] == pd.Timestamp("2026-01-01", tz="UTC").timestamp()


def test_an_empty_record_draws_nothing() -> None:
    empty = pd.Series([], index=pd.DatetimeIndex([], tz="UTC"), dtype="float64")
    times, drawn = Trace.of(empty).window(0, 1, n_buckets=10)
    assert times.size == drawn.size == 0


def test_the_line_runs_out_of_the_window() -> None:
    record = trace(np.arange(1_000.0))
    times, _ = record.window(record.seconds[400], record.seconds[500], n_buckets=1_000)
    assert times[0] == record.seconds[399]
    assert times[-1] == record.seconds[501]
