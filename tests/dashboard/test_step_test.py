"""A step test and a tracer's decay, as the commands put them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.exchange.tracer import PERMEATION_WARNING
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.dashboard import step_test
from isohume.dashboard.ahead import NoForecastError
from isohume.dashboard.planning import tracer_decay_of, tracer_in_words
from isohume.ingest.archive.archive import Archive

STEP = pd.Timestamp("2026-03-03T00:00Z")
FRAME = FrameFacts(frame_id="F01", time_zone="Europe/Berlin")
HALF_TIME_DAYS = 5.0


def record(rh_percent: np.ndarray) -> AirRecord:
    index = pd.date_range(STEP - pd.Timedelta(days=2), periods=len(rh_percent), freq="h", name="time_utc")
    noisy = rh_percent + np.random.default_rng(1).normal(0, 0.2, len(rh_percent))
    return AirRecord(
        readings=pd.DataFrame({"rh_percent": noisy, "temperature_celsius": 20.0}, index=index), uncertainty_percent=2.0
    )


def archive(*, with_inside: bool = True) -> Archive:
    """An archive of one frame that followed a step of its room by one exponential."""
    hours = np.arange(16 * 24) - 48
    room = np.where(hours < 0, 52.0, 38.0)
    inside = np.where(hours < 0, 52.0, 38.0 + 14.0 * 0.5 ** (np.maximum(hours, 0) / 24 / HALF_TIME_DAYS))
    held = SimpleNamespace(
        inside_record=lambda _frame: record(inside) if with_inside else None,
        outside_record=lambda _frame: record(room),
        frame_facts=lambda _frame: FRAME,
    )
    return cast(Archive, held)


def test_the_half_time_comes_from_the_days_after_the_step() -> None:
    found = step_test.step_test(archive(), "F01", step_utc=STEP)
    assert isinstance(found, FittedExchange)
    assert found.half_time_low < HALF_TIME_DAYS < found.half_time_high
    told = step_test.document(FRAME, found, step_utc=STEP)
    assert told["schema"] == "isohume.step.1"
    assert told["determined"] is True
    assert told["half_time_days"] == pytest.approx(HALF_TIME_DAYS, rel=0.15)
    assert told["half_time_at_least"] is None
    words = step_test.in_words(FRAME, found, step_utc=STEP)
    assert "3 Mar 2026 01:00 (UTC+01:00)" in words[0]
    assert PERMEATION_WARNING in words


def test_too_few_hours_after_the_step_are_said() -> None:
    until = STEP + pd.Timedelta(hours=20)
    found = step_test.step_test(archive(), "F01", step_utc=STEP, until_utc=until)
    assert isinstance(found, CannotTell)
    told = step_test.document(FRAME, found, step_utc=STEP)
    assert (told["determined"], told["half_time_days"]) == (False, None)
    assert "20 hours after the step" in told["why"]
    assert "no half-time from the step" in step_test.in_words(FRAME, found, step_utc=STEP)[0]


def test_a_frame_without_a_logger_cannot_be_tested() -> None:
    with pytest.raises(NoForecastError, match="the inside of the frame"):
        step_test.step_test(archive(with_inside=False), "F01", step_utc=STEP)


def test_a_tracers_decay_carries_its_warning() -> None:
    # Concentration decay, N = ln((C₀ − C_b)/(C_t − C_b))/t: a halving in two days.
    decay = tracer_decay_of("3000,1700,400,2")
    assert decay.air_exchange_per_day == pytest.approx(np.log(2) / 2)
    assert PERMEATION_WARNING in tracer_in_words(decay)[0]


@pytest.mark.parametrize("text", ["3000,1700,400", "3000,300,400,2", "a,b,c,d"])
def test_what_is_no_decay_is_refused(text: Any) -> None:
    with pytest.raises(ValueError, match=r"four numbers|above the background|number"):
        tracer_decay_of(text)
