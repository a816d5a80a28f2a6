"""The model's closed forms against published points, and against an integrator that knows nothing of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from isohume.analysis.exchange.estimation import parameters_from, within_search
from isohume.analysis.exchange.model import (
    ExchangeParameters,
    board_half_time_days,
    gain,
    half_time_days,
    rate_matrix,
    scaled,
    scaling_of_leakage,
    slow_mode_half_time_days,
    step_response,
    transition,
)

REFERENCE = Path(__file__).parents[2] / "reference"
LOW_PASS = pd.read_csv(REFERENCE / "lowpass_gain.csv", comment="#")
HALF_TIMES = pd.read_csv(REFERENCE / "half_time_points.csv", comment="#")
TWO = ExchangeParameters(tau_leak=12.0, tau_12=5.0, tau_21=20.0)

times = st.floats(0.05, 500.0)


def alone(tau_days: float) -> ExchangeParameters:
    """Return one reservoir that is its own air: nothing between it and the logger."""
    return ExchangeParameters(tau_leak=tau_days, tau_board=0.0)


def test_one_reservoir_passes_what_a_first_order_low_pass_passes() -> None:
    found = [
        gain(ExchangeParameters(tau_leak=row.tau_days, tau_board=0.0), row.period_days)
        for row in LOW_PASS.itertuples()
    ]
    # The table gives six decimals.
    assert found == pytest.approx(LOW_PASS["gain"].to_numpy(), abs=6e-7)


def test_half_time_of_one_reservoir_is_ln_2_of_its_time_constant() -> None:
    found = [
        half_time_days(ExchangeParameters(tau_leak=tau, tau_board=0.0)) for tau in HALF_TIMES["tau_with_air_term_days"]
    ]
    # Both columns are rounded to three decimals.
    assert found == pytest.approx(HALF_TIMES["half_time_with_air_term_days"].to_numpy(), rel=1e-3, abs=1e-3)


def test_leakage_grows_with_warmth_as_the_exact_half_time_constant_shrinks() -> None:
    """ln 2/(c_s/100) of Thomson's relation: the same frame at 15, 20 and 25 °C."""
    same = HALF_TIMES[(HALF_TIMES["B_kg_per_m3"] == 50) & (HALF_TIMES["N_air_changes_per_day"] == 0.5)]
    exact = same.set_index("temperature_c")["half_time_exact_constant_days"]
    for celsius in (15, 25):
        # 0.2 %: the table's vapour densities are of real gas, ours of an ideal one.
        assert 1 / scaling_of_leakage(celsius, 20.0) == pytest.approx(exact[celsius] / exact[20], rel=2e-3)


def test_step_response_is_that_of_the_equations() -> None:
    days = np.array([0.3, 1.0, 5.0, 20.0, 80.0])
    rate, push = rate_matrix(TWO), np.array([1 / TWO.tau_leak, 0.0, 0.0])
    solution = solve_ivp(
        lambda _, x: rate @ x + push, (0, 80), np.zeros(3), t_eval=days, method="LSODA", rtol=1e-10, atol=1e-12
    )
    air = TWO.direct_share + (1 - TWO.direct_share) * solution.y[0]
    assert step_response(TWO, days) == pytest.approx(air, abs=1e-8)
    assert float(step_response(TWO, np.array([half_time_days(TWO)]))[0]) == pytest.approx(0.5, abs=1e-9)


def test_panel_of_one_layer_is_the_textbook_pair_of_equations() -> None:
    pair = ExchangeParameters(tau_leak=12.0, tau_12=5.0, tau_21=20.0, panel_layers=1)
    expected = [[-1 / 12 - 1 / 5, 1 / 5], [1 / 20, -1 / 20]]
    assert rate_matrix(pair) == pytest.approx(np.array(expected))


@given(times, times, times)
def test_water_is_conserved_between_board_and_panel(tau_leak: float, tau_12: float, tau_21: float) -> None:
    frame = ExchangeParameters(tau_leak=tau_leak, tau_12=tau_12, tau_21=tau_21)
    capacity = np.array([1.0, tau_21 / tau_12 / 2, tau_21 / tau_12 / 2])
    # Without the leak nothing is lost: what the board gives the layers take.
    inner = rate_matrix(frame)
    inner[0, 0] += 1 / tau_leak
    assert capacity @ inner == pytest.approx(np.zeros(3), abs=1e-9 / min(tau_12, tau_21))


@given(times, times, times, st.floats(0.5, 1.6))
def test_discretisation_keeps_equilibrium_and_composes(
    tau_leak: float, tau_12: float, tau_21: float, scaling: float
) -> None:
    frame = ExchangeParameters(tau_leak=tau_leak, tau_12=tau_12, tau_21=tau_21)
    k = np.array([scaling])
    once, push = transition(frame, k, 0.25)
    assert once[:, :, 0] @ np.ones(3) + push[:, 0] * scaling == pytest.approx(np.ones(3), abs=1e-9)
    twice, _ = transition(frame, k, 0.5)
    assert once[:, :, 0] @ once[:, :, 0] == pytest.approx(twice[:, :, 0], abs=1e-9)


@given(times, times, times, st.floats(0.1, 10.0))
def test_half_time_grows_with_all_times_and_lies_below_the_slow_mode(
    tau_leak: float, tau_12: float, tau_21: float, factor: float
) -> None:
    frame = ExchangeParameters(tau_leak=tau_leak, tau_12=tau_12, tau_21=tau_21)
    assert board_half_time_days(scaled(frame, factor)) == pytest.approx(factor * board_half_time_days(frame), rel=1e-8)
    assert half_time_days(frame) <= board_half_time_days(frame) <= slow_mode_half_time_days(frame) * (1 + 1e-9)


def test_a_leak_factor_changes_the_leak_only() -> None:
    k, factor = np.ones(4), np.array([1.0, 1.0, 3.0, 3.0])
    matrix, push = transition(TWO, k, 0.25, leak_factor=factor)
    leaky = ExchangeParameters(tau_leak=4.0, tau_12=5.0, tau_21=20.0)
    expected, expected_push = transition(leaky, k, 0.25)
    assert matrix[:, :, 3] == pytest.approx(expected[:, :, 3])
    assert push[:, 3] == pytest.approx(expected_push[:, 3])
    assert matrix[:, :, 0] == pytest.approx(transition(TWO, k, 0.25)[0][:, :, 0])


def test_a_leaky_frame_shows_part_of_the_room_at_once() -> None:
    leaky = ExchangeParameters(tau_leak=1.0, tau_12=0.4, tau_21=2.0, tau_board=0.2)
    assert leaky.direct_share == pytest.approx(0.2)
    assert float(step_response(leaky, np.array([0.0]))[0]) == pytest.approx(0.2)
    assert gain(leaky, 1e-4) == pytest.approx(0.2, abs=1e-3)
    assert half_time_days(leaky) < board_half_time_days(leaky)
    assert half_time_days(ExchangeParameters(tau_leak=0.1, tau_board=0.1)) == 0.0


@pytest.mark.parametrize("far", [-60.0, 60.0])
def test_a_draw_far_beyond_the_search_still_has_a_half_time(far: float) -> None:
    # Two stores whose logarithms a vague fit scatters over many decades.
    for place in range(5):
        logs = np.array([3.0, -1.0, 0.5, -3.0, -1.4])
        logs[place] = far
        found = board_half_time_days(parameters_from(within_search(logs)))
        assert 0 < found < 1e6
