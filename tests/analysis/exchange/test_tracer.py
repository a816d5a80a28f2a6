"""Air exchange from tracer decay: worked numbers, and what it says about itself."""

from __future__ import annotations

import numpy as np
import pytest

from isohume.analysis.exchange.tracer import air_exchange_from_decay, air_exchange_from_two_readings


@pytest.mark.parametrize(
    ("start", "end", "background", "days", "expected"),
    [
        # Computed from N = ln((C0 - Cb)/(Ct - Cb))/t, the concentration decay formula of ASTM E741 (from memory).
        (3000, 1700, 400, 2, 0.34657),
        (5000, 800, 420, 5, 0.49786),
    ],
)
def test_two_readings_give_the_worked_rate(
    start: float, end: float, background: float, days: float, expected: float
) -> None:
    found = air_exchange_from_two_readings(start, end, background=background, days=days)
    assert found.air_exchange_per_day == pytest.approx(expected, abs=5e-6)
    assert "permeates plastic" in found.warning


def test_leaving_out_the_background_would_be_a_quarter_low() -> None:
    right = air_exchange_from_two_readings(5000, 800, background=420, days=5).air_exchange_per_day
    wrong = air_exchange_from_two_readings(5000, 800, background=0, days=5).air_exchange_per_day
    assert wrong == pytest.approx(0.36652, abs=5e-6)
    assert wrong / right == pytest.approx(0.74, abs=0.005)


def test_the_slope_of_a_decay_is_its_rate_with_an_error() -> None:
    rng = np.random.default_rng(4)
    days = np.arange(0, 6, 0.25)
    ppm = 420 + 4000 * np.exp(-0.3 * days) * (1 + rng.normal(0, 0.02, days.size))
    found = air_exchange_from_decay(days, ppm, background=420)
    assert found.stderr_per_day is not None
    assert abs(found.air_exchange_per_day - 0.3) < 3 * found.stderr_per_day


def test_readings_at_the_background_are_refused() -> None:
    with pytest.raises(ValueError, match="above the background"):
        air_exchange_from_two_readings(1000, 400, background=420, days=3)
    with pytest.raises(ValueError, match="at least 3"):
        air_exchange_from_decay(np.arange(3.0), np.array([500.0, 410.0, 405.0]), background=420)
