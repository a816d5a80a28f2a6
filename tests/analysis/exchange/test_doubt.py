"""Every case in which the record cannot tell the half-time: what turns it on, what keeps it off, and the bound."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.exchange.doubt import EVEN_ROOM_PERCENT, WIDEST_FACTOR, doubt
from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.fit import LONGEST_TOLD_DAYS, CannotTell, FittedExchange, fit_exchange
from isohume.analysis.exchange.moisture_scale import MoistureScale
from isohume.analysis.readings import AirRecord

N_DAYS = 40
HELD = (20.0, 40.0)  # an interval within the factor


def data(
    *, room_sd: float = 4.0, inside_sd: float = 1.0, offset_sd: float = 1.5, warming: float = 0.0, n_days: int = N_DAYS
) -> ExchangeData:
    """Return a record on a daily grid whose daily means vary as asked: +sd and −sd in turn."""
    turn = np.where(np.arange(n_days) % 2, 1.0, -1.0)
    zeros = np.zeros(n_days)
    return ExchangeData(
        start_utc=pd.Timestamp("2026-01-01T00:00Z"),
        step_days=1.0,
        observed=50 + inside_sd * turn,
        n_readings=np.full(n_days, 24.0),
        warming=warming * turn,
        scaled_drive=(50 + room_sd * turn)[1:],
        scaling=np.ones(n_days - 1),
        drive_now=50 + room_sd * turn,
        drive_variance=zeros[1:],
        segment_start=zeros.astype(bool),
        pair=zeros.astype(np.int64),
        offset_sd=np.array([offset_sd]),
        inside_logger=zeros.astype(np.int64),
        shift_sd=1.0,
        reference_celsius=20.0,
    )


def why(
    found: ExchangeData, *, days: float = 30.0, interval: tuple[float, float] | None = HELD, offset: float = 0.0
) -> str:
    return doubt(found, half_time_days=days, interval=interval, offset_percent=offset)


def test_a_sound_fit_is_not_doubted() -> None:
    assert why(data()) == ""


@pytest.mark.parametrize(
    ("interval", "doubted"),
    [((10.0, 10.0 * WIDEST_FACTOR * 1.01), True), ((10.0, 10.0 * WIDEST_FACTOR * 0.99), False), (None, True)],
)
def test_an_interval_wider_than_the_factor(interval: tuple[float, float] | None, *, doubted: bool) -> None:
    assert why(data(), interval=interval).startswith("Too short") is doubted


@pytest.mark.parametrize(("room_sd", "doubted"), [(0.9, True), (1.1, False)])
def test_a_room_too_even_to_tell(room_sd: float, *, doubted: bool) -> None:
    found = data(room_sd=room_sd * EVEN_ROOM_PERCENT)
    assert ("too even" in why(found, interval=None)) is doubted
    assert why(found) == ""  # an even room whose record tells all the same


@pytest.mark.parametrize(("offset", "doubted"), [(4.6, True), (-4.6, True), (4.4, False)])
def test_an_offset_at_its_bound(offset: float, *, doubted: bool) -> None:
    # Three standard deviations of 1.5 %RH: the two loggers' expanded uncertainties of 2 and 2.2 %RH together.
    assert ("would have to differ" in why(data(), offset=offset)) is doubted


@pytest.mark.parametrize(("days", "doubted"), [(0.09, True), (0.11, False)])
def test_an_inside_that_follows_at_once(days: float, *, doubted: bool) -> None:
    assert ("at once" in why(data(), days=days, interval=(0.9 * days, 1.1 * days))) is doubted


@pytest.mark.parametrize(("inside_sd", "doubted"), [(0.025, True), (0.035, False)])
def test_an_inside_that_stands_still(inside_sd: float, *, doubted: bool) -> None:
    said = why(data(inside_sd=inside_sd), interval=None)
    assert ("stood still" in said) is doubted
    assert said.startswith("Too short") is not doubted


def test_a_constant_reading_stands_still_though_the_moisture_it_means_varies_with_temperature() -> None:
    found = data(inside_sd=0.0, warming=3.0)
    moved = replace(found, observed=MoistureScale(20.0).from_rh(50.0, 20.0 + found.warming))
    assert float(np.std(moved.observed)) > 0.3
    assert "stood still" in why(moved, interval=None)


@pytest.mark.parametrize(("factor", "doubted"), [(1.01, True), (0.99, False)])
def test_a_half_time_beyond_what_any_record_tells(factor: float, *, doubted: bool) -> None:
    days = factor * LONGEST_TOLD_DAYS
    assert ("hardly follows" in why(data(), days=days, interval=(0.8 * days, 1.2 * days))) is doubted


def first_days(pair: Any, days: int, **columns: np.ndarray | float) -> tuple[AirRecord, AirRecord]:
    """Return inside and room of the first days, columns of the inside replaced."""
    inside, outside = (replace(one, readings=one.readings.iloc[: days * 24]) for one in (pair.inside, pair.outside))
    return replace(inside, readings=inside.readings.assign(**columns)), outside


def test_a_constant_record_says_so_and_how_tight_the_frame_would_have_to_be(year_pair: Any) -> None:
    answer = fit_exchange(*first_days(year_pair, 60, rh_percent=50.0))
    assert isinstance(answer, CannotTell)
    assert "stood still" in answer.why
    assert answer.half_time_at_least == LONGEST_TOLD_DAYS
    assert answer.half_time_at_most is None


def test_a_month_of_nothing_but_noise_gives_the_bound_that_it_supports(year_pair: Any) -> None:
    noise = np.random.default_rng(0).normal(0, 0.25, 30 * 24)
    answer = fit_exchange(*first_days(year_pair, 30, rh_percent=50 + noise))
    assert isinstance(answer, CannotTell)
    assert "hardly follows" in answer.why
    assert answer.half_time_at_least is not None
    assert 100 < answer.half_time_at_least < LONGEST_TOLD_DAYS
    assert answer.half_time_at_most is None


def test_an_open_frame_gets_an_upper_bound(year_pair: Any) -> None:
    # The room's air, an hour late: the inside of a frame that stands open.
    late = year_pair.outside.rh_percent.iloc[: 40 * 24].ewm(halflife=1.0).mean().to_numpy()
    answer = fit_exchange(*first_days(year_pair, 40, rh_percent=late))
    assert isinstance(answer, CannotTell)
    assert "at once" in answer.why
    assert answer.half_time_at_most is not None
    assert answer.half_time_at_least is None


def test_a_livelier_inside_is_no_frame_and_a_frame_is_not_livelier(year_pair: Any) -> None:
    swapped = fit_exchange(year_pair.outside, year_pair.inside)
    assert isinstance(swapped, CannotTell)
    assert "exchanged" in swapped.why
    assert swapped.half_time_at_least is None  # such a record bounds nothing: it may not be of this frame
    assert isinstance(fit_exchange(year_pair.inside, year_pair.outside), FittedExchange)


def test_a_week_is_needed(year_pair: Any) -> None:
    first = year_pair.inside.readings.index[0]
    for days, told in ((5.5, False), (9.0, True)):
        answer = fit_exchange(year_pair.inside, year_pair.outside, as_of=first + pd.Timedelta(days=days))
        assert isinstance(answer, FittedExchange) or ("7 are needed" in answer.why) is not told


def test_hours_without_a_reading_take_no_part_in_the_doubt() -> None:
    gap = np.where(np.isin(np.arange(N_DAYS), (10, 11, 25)), np.nan, data().observed)
    assert why(replace(data(), observed=gap), interval=None).startswith("Too short")
