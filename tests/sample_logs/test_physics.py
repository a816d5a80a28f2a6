"""The simulated frames obey physics that is not ours: conservation, equilibrium, sorption, Thomson's limit."""

from __future__ import annotations

import doctest

import numpy as np
import pytest

from isohume.sample_logs import sorption
from isohume.sample_logs.physics import (
    FramePhysics,
    Reset,
    simulate,
    simulate_frames,
    true_half_time,
    true_half_times,
)
from isohume.sample_logs.random_frames import random_frames
from isohume.sample_logs.rooms import RoomKind, logger, room_course
from isohume.sample_logs.sorption import (
    FloatArray,
    equilibrium_moisture_percent,
    moisture_and_slope,
    saturation_pressure_pa,
    sorption_terms,
)

HOURS = np.arange(24 * 60, dtype=np.float64)
LIVELY_RH = 50 + 12 * np.sin(2 * np.pi * HOURS / 24) + 8 * np.sin(2 * np.pi * HOURS / 500)
LIVELY_WARMTH = 20 + 3 * np.sin(2 * np.pi * HOURS / 24 + 1)


def well_mixed(**changes: float) -> FramePhysics:
    """A frame whose panel and board follow its air at once, so that one reservoir is the whole truth."""
    values: dict[str, float] = {
        "air_litres": 20.0,
        "leakage_per_day": 1.0,
        "board_conductance_g_per_h_pa": 100.0,
        "panel_area_m2": 1000.0,
        "diffusivity_m2_per_s": 1e-6,
    }
    return FramePhysics(**{**values, **changes})  # type: ignore[arg-type]  # n_layers keeps its default


@pytest.mark.parametrize(
    ("rh_percent", "celsius", "emc_percent"),
    # Wood Handbook FPL-GTR-282, table 4-2; cells as reproduced in print; the table is rounded to 0.1.
    [(20, 10.0, 4.6), (50, 4.4, 9.5), (50, 21.1, 9.2), (65, 21.1, 12.0), (80, 15.6, 16.2), (30, 26.7, 6.1)],
)
def test_moisture_content_matches_the_handbook_table(rh_percent: float, celsius: float, emc_percent: float) -> None:
    computed = equilibrium_moisture_percent(np.array([float(rh_percent)]), np.array([celsius]))
    assert computed[0] == pytest.approx(emc_percent, abs=0.06)  # 0.05 rounding, 0.01 for the metric coefficients


def test_saturation_pressure_matches_ashrae_table() -> None:
    computed = saturation_pressure_pa(np.array([5.0, 25.0]))
    np.testing.assert_allclose(computed, [872.6, 3169.7], rtol=3e-4)  # ASHRAE Fundamentals (2017) ch. 1 table 3


def test_slope_is_the_derivative_of_the_moisture_content() -> None:
    h, t, dh = np.linspace(0.05, 0.95, 19), np.full(19, 17.0), 1e-6
    terms = sorption_terms(t)
    numeric = (moisture_and_slope(h + dh, terms)[0] - moisture_and_slope(h - dh, terms)[0]) / (2 * dh)
    np.testing.assert_allclose(moisture_and_slope(h, terms)[1], numeric, rtol=1e-6)


@pytest.mark.parametrize("step_s", [600.0, 3600.0, 86400.0])
def test_water_is_conserved_whatever_the_step(step_s: float) -> None:
    resets = (Reset(index=50, kind="opened"),)
    course = simulate(FramePhysics(), LIVELY_RH, LIVELY_WARMTH, start_rh=45, step_s=step_s, resets=resets)
    np.testing.assert_allclose(np.diff(course.water_g), course.inflow_g[1:], atol=1e-9)


def test_a_closed_frame_keeps_its_water_and_its_humidity_follows_its_temperature() -> None:
    sealed = FramePhysics(leakage_per_day=0.0, panel_thickness_mm=1.0)
    warmth = 15 + 15 * np.linspace(0, 1, 24 * 30)
    course = simulate(sealed, np.full(len(warmth), 80.0), warmth, start_rh=50, step_s=3600)
    assert np.ptp(course.water_g) < 1e-9
    # Padfield, on humidity buffering: wood in a jar goes from 50 to about 53 %RH between 15 and 30 °C; equation 4-5 at
    # constant moisture content gives 52.6.
    assert course.rh_percent[-1] == pytest.approx(52.6, abs=0.5)


def test_an_empty_closed_box_dries_when_warmed() -> None:
    empty = FramePhysics(leakage_per_day=0.0, board_kg=0.0, panel_kg=0.0, thermal_lag_hours=0.01)
    course = simulate(empty, np.full(3, 50.0), np.array([20.0, 20.0, 25.0]), start_rh=50)
    assert course.rh_percent[-1] == pytest.approx(37.5, abs=0.1)  # the same vapour: 50·e_s(20)/e_s(25)·298/293


def test_everything_settles_at_the_room() -> None:
    quick = FramePhysics(leakage_per_day=400.0)
    course = simulate(quick, np.full(9000, 62.0), np.full(9000, 18.0), start_rh=40, step_s=7200)
    expected = equilibrium_moisture_percent(np.array([62.0]), np.array([18.0]))[0]
    assert course.rh_percent[-1] == pytest.approx(62.0, abs=0.01)
    assert course.board_moisture_percent[-1] == pytest.approx(expected, abs=0.002)
    assert course.panel_moisture_percent[-1] == pytest.approx(expected, abs=0.002)


def test_well_mixed_frame_has_the_half_time_of_one_reservoir() -> None:
    frame = well_mixed()
    steps = equilibrium_moisture_percent(np.array([50.0, 45.0]), np.array([20.0, 20.0]))
    # t½ = ln2·C/G (Thomson 1977): C with the mean slope over the first half of the step [g per %RH].
    capacity = (frame.board_kg + frame.panel_kg) * 10 * (steps[0] - steps[1]) / 5 + frame.air_litres / 1000 * 0.1729
    expected = np.log(2) * capacity / frame.exchange_g_per_day_percent()
    assert true_half_time(frame) == pytest.approx(expected, rel=0.02)  # the slope is not quite constant


def test_empty_frame_loses_half_in_ln2_air_changes() -> None:
    empty = FramePhysics(board_kg=0.0, panel_kg=0.0, leakage_per_day=0.1)
    assert true_half_time(empty) == pytest.approx(6.931, rel=0.005)  # ln 2 / N


def test_half_time_shrinks_with_leakage_and_with_warmth() -> None:
    tight, loose = true_half_times([FramePhysics(leakage_per_day=10.0), FramePhysics(leakage_per_day=20.0)])
    assert loose < tight
    assert true_half_time(FramePhysics(leakage_per_day=10.0), 25.0) < tight


def test_layers_and_steps_are_fine_enough() -> None:
    coarse, fine = (
        true_half_time(FramePhysics(leakage_per_day=60.0, panel_thickness_mm=15.0, n_layers=n)) for n in (8, 32)
    )
    assert coarse == pytest.approx(fine, rel=0.02)
    frame = FramePhysics(leakage_per_day=60.0)
    hourly = simulate(frame, LIVELY_RH, LIVELY_WARMTH, start_rh=50).rh_percent
    quarter = np.repeat(np.arange(len(HOURS)), 4)
    fast = simulate(frame, LIVELY_RH[quarter], LIVELY_WARMTH[quarter], start_rh=50, step_s=900).rh_percent[3::4]
    assert np.sqrt(np.mean((hourly - fast)[24:] ** 2)) < 0.1


def test_a_batch_is_its_frames_one_by_one() -> None:
    frames = (FramePhysics(), FramePhysics(board_kg=1.0, leakage_per_day=30.0), FramePhysics(panel_kg=0.0))
    resets = (Reset(index=200, kind="reconditioned", rh_percent=55.0, frame=1),)
    together = simulate_frames(frames, LIVELY_RH, LIVELY_WARMTH, start_rh=50, resets=resets)
    alone = simulate(
        frames[1],
        LIVELY_RH,
        LIVELY_WARMTH,
        start_rh=50,
        resets=(Reset(index=200, kind="reconditioned", rh_percent=55.0),),
    )
    np.testing.assert_allclose(together.rh_percent[:, 1], alone.rh_percent, rtol=1e-10)
    assert alone.rh_percent[200] == pytest.approx(55.0)


def test_opening_lets_the_room_in_and_the_panel_pulls_the_air_back() -> None:
    room = np.full(240, 35.0)
    course = simulate(
        FramePhysics(leakage_per_day=1.0),
        room,
        np.full(240, 20.0),
        start_rh=52,
        resets=(Reset(index=100, kind="opened"),),
    )
    assert course.rh_percent[99] > 51
    assert course.rh_percent[100] < 38  # board and panel give water while the frame is open
    assert course.rh_percent[102] > 46
    assert course.rh_percent[239] > course.rh_percent[110] > course.rh_percent[102]


def test_a_seal_that_fails_lets_the_frame_follow_the_room_faster() -> None:
    factor = np.ones(len(HOURS))
    factor[720:] = 8.0
    room, warmth = np.full(len(HOURS), 35.0), np.full(len(HOURS), 20.0)
    inside = simulate(FramePhysics(leakage_per_day=10.0), room, warmth, start_rh=50, leakage_factor=factor).rh_percent
    before, after = inside[400] - inside[719], inside[721] - inside[1040]
    assert after > 3 * before


def test_random_frames_have_the_half_time_asked_for() -> None:
    wanted = np.array([3.0, 10.0, 40.0, 120.0, 300.0])
    frames = random_frames(np.random.default_rng(5), wanted)
    np.testing.assert_allclose(true_half_times(frames), wanted, rtol=0.01)
    assert len({frame.panel_thickness_mm for frame in frames}) == len(frames)


def test_frames_of_unlike_layers_are_refused() -> None:
    with pytest.raises(ValueError, match="same number of layers"):
        simulate_frames([FramePhysics(), FramePhysics(n_layers=4)], LIVELY_RH, LIVELY_WARMTH, start_rh=50)


@pytest.mark.parametrize(
    ("kind", "driest_month", "wettest_month"),
    [
        ("heated", (28, 40), (50, 65)),
        ("museum", (42, 50), (50, 58)),
        ("church", (55, 75), (65, 85)),
        ("store", (38, 50), (52, 63)),
    ],
)
def test_rooms_have_seasons_of_their_kind(
    kind: RoomKind, driest_month: tuple[float, float], wettest_month: tuple[float, float]
) -> None:
    months: list[FloatArray] = []
    for seed in range(6):
        course = room_course(np.random.default_rng(seed), 8760, kind=kind)
        assert course.temperature_celsius.min() > 2
        assert course.temperature_celsius.max() < 36
        months.append(course.rh_percent.reshape(-1, 730).mean(axis=1))
    assert driest_month[0] < np.mean([month.min() for month in months]) < driest_month[1]
    assert wettest_month[0] < np.mean([month.max() for month in months]) < wettest_month[1]


def test_a_logger_adds_its_offset_noise_and_resolution() -> None:
    course = room_course(np.random.default_rng(1), 5000)
    logged = logger(np.random.default_rng(2), course, noise=0.3, offset_sd=1.0, resolution=0.1)
    error = logged.rh_percent - course.rh_percent
    assert error.mean() == pytest.approx(logged.offset_percent, abs=0.02)
    assert error.std() == pytest.approx(0.3, abs=0.02)
    np.testing.assert_allclose(logged.rh_percent, np.round(logged.rh_percent, 1), atol=1e-9)


def test_examples_in_the_docstrings_hold() -> None:
    results = doctest.testmod(sorption)
    assert results.attempted >= 2
    assert results.failed == 0
