"""Buffering ratios and lag against the first-order system, pure sines, known noise and known resolution."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.signal import lfilter

from isohume.analysis.buffering import buffering
from isohume.analysis.reading_noise import coarse_step, noise_variance, resolution
from isohume.analysis.readings import AirRecord

LOWPASS = pd.read_csv(Path(__file__).parents[1] / "reference" / "lowpass_gain.csv", comment="#")
DAY = 2 * np.pi / 24


def air(rh: np.ndarray, celsius: np.ndarray | float = 20.0, *, freq: str = "h") -> AirRecord:
    index = pd.date_range("2025-01-01", periods=len(rh), freq=freq, tz="UTC", name="time_utc")
    return AirRecord(readings=pd.DataFrame({"rh_percent": rh, "temperature_celsius": celsius + 0 * rh}, index=index))


def first_order(drive: np.ndarray, tau_hours: float, start: float, step_hours: float) -> np.ndarray:
    """Solve τ·dy/dt = x - y exactly for a drive that runs straight between its values."""
    decay = np.exp(-step_hours / tau_hours)
    early = (1 - decay) * tau_hours / step_hours - decay
    late = 1 - (1 - decay) * tau_hours / step_hours
    state = lfilter([late, early], [1, -decay], drive, zi=[start - late * drive[0]])[0]
    return np.asarray(state)


def weather(n: int, hours: float, spread: float, rng: np.random.Generator) -> np.ndarray:
    """Draw autocorrelated weather with the given correlation time and standard deviation."""
    memory = np.exp(-1 / hours)
    return np.asarray(lfilter([spread * np.sqrt(1 - memory**2)], [1, -memory], rng.normal(size=n + 2000)))[2000:]


def test_gap_free_day_sine_gives_its_exact_ratio_at_any_phase() -> None:
    hours = np.arange(24 * 40 + 7)
    for phase in (0.0, 0.4, 1.7, 3.0):
        finding = buffering(air(47 + 0.83 * np.sin(DAY * hours - phase)), air(50 + 9.1 * np.sin(DAY * hours)), seed=1)
        assert finding.daily.ratio == pytest.approx(9.1 / 0.83, rel=1e-9)
        assert finding.daily.low == pytest.approx(9.1 / 0.83, rel=1e-9)
        assert not finding.daily.at_floor


@pytest.mark.parametrize(
    "row", list(LOWPASS[LOWPASS["period_days"] == 1].itertuples()), ids=lambda row: f"{row.tau_days:g}d"
)
def test_daily_ratio_and_lag_are_those_of_a_first_order_system(row: tuple) -> None:
    # Driven in 5-min steps; the exact answer to a straight-line drive loses 4e-5 of a sine's amplitude.
    hours = np.arange(0, 24 * 40, 1 / 12)
    drive = np.sin(DAY * hours)
    phase = np.deg2rad(row.phase_lag_deg)
    inside = first_order(10 * drive, row.tau_days * 24, -10 * row.gain * np.sin(phase), 1 / 12)
    finding = buffering(air(50 + inside[::12]), air(50 + 10 * drive[::12]))
    assert finding.daily.ratio == pytest.approx(1 / row.gain, rel=1e-3)
    assert finding.lag_hours == pytest.approx(row.time_lag_days * 24, abs=0.05)


@pytest.mark.parametrize(
    ("scale", "period", "days", "relative"), [("weekly", 7, 128, 0.005), ("seasonal", 365.25, 761, 0.01)]
)
def test_slower_ratios_are_those_of_a_first_order_system(
    scale: str, period: float, days: int, relative: float
) -> None:
    # The length holds whole periods once half a 30-day window is gone at each end.
    hours = np.arange(24 * days + 1.0)
    drive = 10 * np.sin(2 * np.pi * hours / (24 * period))
    for row in LOWPASS[(LOWPASS["period_days"] == period) & LOWPASS["tau_days"].isin([5, 30, 60])].itertuples():
        start = -10 * row.gain * np.sin(np.deg2rad(row.phase_lag_deg))
        inside = first_order(drive, row.tau_days * 24, start, 1.0)
        ratio = getattr(buffering(air(50 + inside), air(50 + drive)), scale)
        assert ratio.ratio == pytest.approx(1 / row.gain, rel=relative)


def test_noise_is_subtracted_and_its_bootstrap_interval_holds_the_truth() -> None:
    hours = np.arange(24 * 395)
    rng = np.random.default_rng(5)
    drive = 50 + 3 * np.sin(DAY * hours) + weather(hours.size, 40, 5, rng)
    inside = first_order(drive, 2 * 24, 50, 1.0)
    clean = buffering(air(inside), air(drive))
    noisy = buffering(air(inside + rng.normal(0, 0.1, hours.size)), air(drive + rng.normal(0, 0.1, hours.size)))
    assert np.std(inside) > 0.5
    for scale in ("daily", "weekly", "seasonal"):
        truth, measured = getattr(clean, scale), getattr(noisy, scale)
        assert measured.ratio == pytest.approx(truth.ratio, rel=0.1)
        assert not measured.at_floor
    assert noisy.weekly.low < clean.weekly.ratio < noisy.weekly.high
    assert noisy.weekly.high / noisy.weekly.low < 2
    assert noisy.seasonal.low is None
    assert noisy.seasonal.why


def test_same_seed_same_interval() -> None:
    rng = np.random.default_rng(2)
    room, inside = air(50 + weather(4000, 30, 5, rng)), air(50 + weather(4000, 300, 2, rng))
    assert buffering(inside, room, seed=3) == buffering(inside, room, seed=3)
    assert buffering(inside, room, seed=3) != buffering(inside, room, seed=4)


def test_inside_of_noise_alone_is_at_the_floor_and_bounded_from_below() -> None:
    hours = np.arange(24 * 60)
    rng = np.random.default_rng(3)
    finding = buffering(air(50 + rng.normal(0, 0.2, hours.size)), air(50 + 8 * np.sin(DAY * hours)))
    assert finding.daily.at_floor
    assert finding.daily.high is None
    # 8/√2 over noise of 0.2, of which 0.9575 passes the daily filter.
    assert finding.daily.ratio == pytest.approx(8 / np.sqrt(2) / (0.2 * np.sqrt(0.9575)), rel=0.05)
    assert finding.lag_hours is None
    assert "unrelated" in finding.why


def test_a_coarse_display_leaves_its_rounding_unreduced() -> None:
    # An inside swing of 0.1 %RH shown in steps of 1 %RH: the truth is a ratio of 80; the display can only bound it.
    hours = np.arange(24 * 90)
    inside = np.round(50.47 + 0.1 * np.sin(DAY * hours))
    finding = buffering(air(inside), air(50 + 8 * np.sin(DAY * hours)))
    assert finding.daily.at_floor
    assert finding.daily.ratio is not None
    assert finding.daily.ratio < 80
    # The display toggles between 50 and 51: no more than half a step either way.
    assert finding.daily.ratio >= 8 / np.sqrt(2) / 0.5
    still = buffering(air(np.full(hours.size, 50.0)), air(np.round(50 + 8 * np.sin(DAY * hours))))
    assert still.daily.at_floor


def test_inside_that_never_changes_has_no_ratio_but_says_why() -> None:
    hours = np.arange(24 * 60)
    finding = buffering(air(np.full(hours.size, 50.0)), air(50 + 8 * np.sin(DAY * hours)))
    assert finding.daily.ratio is None
    assert finding.daily.at_floor
    assert "does not change" in finding.daily.why


def test_temperature_share_is_removed_from_the_daily_inside() -> None:
    hours = np.arange(24 * 120)
    rng = np.random.default_rng(11)
    celsius = 20 + 1.5 * np.sin(DAY * hours + 0.3) + weather(hours.size, 50, 0.5, rng)
    own = 0.05 * np.sin(DAY * hours - 1.2)
    room = 50 + 6 * np.sin(DAY * hours)
    finding = buffering(air(50 + own + 0.25 * (celsius - 20), celsius), air(room))
    expected = np.corrcoef(np.sin(DAY * hours + 0.3), np.sin(DAY * hours - 1.2))[0, 1]
    assert abs(expected) < 0.1  # the two swings are nearly a quarter day apart, so they separate
    assert finding.temperature_share_of_daily > 0.97
    assert finding.daily.ratio == pytest.approx(6 / (0.25 * 1.5), rel=0.06)
    assert finding.daily_temperature_removed.ratio == pytest.approx(6 / 0.05, rel=0.06)


def test_short_and_separate_records_say_why() -> None:
    hours = np.arange(24 * 20)
    finding = buffering(air(50 + np.sin(DAY * hours)), air(50 + 8 * np.sin(DAY * hours)))
    assert finding.daily.ratio == pytest.approx(8)
    assert finding.weekly.ratio is None
    assert "7 are needed" in finding.weekly.why
    early = air(50 + np.sin(DAY * hours))
    late = AirRecord(readings=early.readings.set_axis(early.readings.index + pd.Timedelta(days=100)))
    apart = buffering(early, late)
    assert apart.daily.ratio is None
    assert "share no hours" in apart.why


def test_gaps_cost_only_their_hours() -> None:
    hours = np.arange(24 * 200)
    rng = np.random.default_rng(4)
    room, inside = 50 + 8 * np.sin(DAY * hours), 50 + np.sin(DAY * hours - 1)
    holes = rng.random(hours.size) < 0.05
    finding = buffering(air(np.where(holes, np.nan, inside)), air(room))
    assert finding.daily.ratio == pytest.approx(8, rel=0.01)
    assert finding.lag_hours == pytest.approx(1 / DAY, abs=0.1)


def test_noise_is_found_in_smooth_and_in_autocorrelated_air() -> None:
    rng = np.random.default_rng(9)
    gusty = weather(20000, 12, 3, rng)
    smooth = np.cumsum(gusty) / 200
    for noise in (0.1, 0.25, 0.5):
        error = rng.normal(0, noise, gusty.size)
        assert np.sqrt(noise_variance(smooth + error)) == pytest.approx(noise, rel=0.05)
        assert np.sqrt(noise_variance(gusty + error)) == pytest.approx(noise, abs=0.08)
    assert noise_variance(10 * np.sin(DAY * np.arange(2000))) == 0
    # Plain second differences would report the innovations of the weather as noise of 0.7.
    second = np.diff(gusty, 2)
    assert np.sqrt((second @ second) / second.size / 6) > 0.5


def test_resolution_is_found_on_any_offset_and_only_where_there_is_one() -> None:
    rng = np.random.default_rng(10)
    swing = 50 + 3 * np.sin(np.arange(3000) / 40)
    index = pd.date_range("2025-01-01", periods=3000, freq="h", tz="UTC")
    for step in (0.01, 0.1, 0.5, 1.0):
        assert resolution(np.round(swing / step) * step + 0.137) == pytest.approx(step, rel=1e-6)
    assert resolution(swing) == 0
    assert resolution(np.full(10, 50.0)) == 0
    rounded = np.round(swing / 0.5) * 0.5
    assert coarse_step(pd.Series(rounded, index)) == 0.5
    dithered = np.round((swing + rng.normal(0, 0.5, 3000)) / 0.5) * 0.5
    assert coarse_step(pd.Series(dithered, index)) == 0
