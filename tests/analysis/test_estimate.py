from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.estimate import CannotEstimateError, estimate_finding, estimate_inside
from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.readings import AirRecord

HALF_TIME = KnownHalfTime(days=40.0, source="earlier fit")


def truth(pair: Any) -> pd.Series:
    return pair.inside.rh_percent.resample("D").mean()


def strips(pair: Any, days: list[int], *, bias: float = 0.0, seed: int = 5) -> tuple[Event, ...]:
    rng = np.random.default_rng(seed)
    first = pair.inside.readings.index[0]
    events = []
    for day in days:
        time = first + pd.Timedelta(days=day, hours=10)
        value = float(pair.inside.rh_percent[time]) + bias + rng.normal(0, 1.5)
        events.append(Event(time_utc=time, kind="strip read", rh_percent=value))
    return tuple(events)


def share_held(found: Any, pair: Any) -> float:
    true = truth(pair).reindex(found.series.index, method="nearest")
    return float(((true >= found.series["low"]) & (true <= found.series["high"])).mean())


def test_interval_holds_the_true_inside_and_strips_narrow_it(year_pair: Any) -> None:
    start = year_pair.inside.readings.index[0]
    frame = FrameFacts(conditioned_percent=50, conditioned_on=start)
    without = estimate_inside(year_pair.outside, half_time=HALF_TIME, frame=frame)
    with_strips = estimate_inside(
        year_pair.outside,
        half_time=HALF_TIME,
        frame=replace(frame, events=strips(year_pair, [60, 120, 200, 280, 360])),
    )
    # One frame's year is one draw: nine tenths of it within the 95 % interval is what a sound interval gives.
    assert share_held(without, year_pair) > 0.9
    assert share_held(with_strips, year_pair) > 0.9
    width = [(found.series["high"] - found.series["low"]).mean() for found in (without, with_strips)]
    assert width[1] < width[0]


def test_a_biased_strip_is_not_believed_outright(year_pair: Any) -> None:
    frame = FrameFacts(events=strips(year_pair, [100, 200, 300], bias=4.0))
    found = estimate_inside(year_pair.outside, half_time=HALF_TIME, frame=frame)
    differences = [difference for _, difference in found.strip_differences]
    assert len(differences) == 3
    assert 0.5 < np.mean(differences) < 4.5


def test_a_reconditioning_begins_it_anew(year_pair: Any) -> None:
    start = year_pair.inside.readings.index[0]
    event = Event(time_utc=start + pd.Timedelta(days=200), kind="reconditioned", rh_percent=58.0)
    found = estimate_inside(year_pair.outside, half_time=HALF_TIME, frame=FrameFacts(events=(event,)))
    after = found.series.loc[event.time_utc :].iloc[0]
    assert after["median"] == pytest.approx(58, abs=1.0)
    assert after["high"] - after["low"] < 10


def test_no_strips_are_said_and_the_same_seed_gives_the_same(year_pair: Any) -> None:
    one, other = (
        estimate_inside(year_pair.outside, half_time=HALF_TIME, frame=FrameFacts(), seed=4) for _ in range(2)
    )
    pd.testing.assert_frame_equal(one.series, other.series)
    assert any("No strip was read" in note for note in one.notes)


def test_a_room_that_does_not_carry_it_is_refused(year_pair: Any) -> None:
    readings = year_pair.outside.readings
    with pytest.raises(CannotEstimateError, match="14 are needed"):
        estimate_inside(AirRecord(readings=readings.iloc[: 24 * 10]), half_time=HALF_TIME, frame=FrameFacts())
    gap = readings.copy()
    gap.iloc[24 * 100 : 24 * 130] = np.nan
    with pytest.raises(CannotEstimateError, match=r"gap of (29|30) days"):
        estimate_inside(AirRecord(readings=gap), half_time=HALF_TIME, frame=FrameFacts())


def finding(inside: Any, outside: Any, frame: FrameFacts, **more: Any) -> tuple[Any, str]:
    return estimate_finding(inside, outside, frame=frame, as_of=outside.readings.index[-1], **more)


def test_a_frame_with_a_logger_is_not_estimated(year_pair: Any) -> None:
    assert finding(year_pair.inside, year_pair.outside, FrameFacts()) == (None, "")


def test_without_a_half_time_it_says_what_to_record(year_pair: Any) -> None:
    found, why = finding(None, year_pair.outside, FrameFacts())
    assert found is None
    assert "the register lacks the air volume and the air exchange" in why
    assert "built alike" in why
    assert finding(None, year_pair.outside, FrameFacts(), half_time="F01 has none yet.")[1].startswith("F01 has none")


def test_after_its_logger_came_out_a_frame_is_estimated_with_its_own_fit(year_pair: Any) -> None:
    cut = 250 * 24
    logged = replace(year_pair.inside, readings=year_pair.inside.readings.iloc[:cut])
    fitted = fit_exchange(logged, year_pair.outside)
    assert isinstance(fitted, FittedExchange)
    found, why = finding(logged, year_pair.outside, FrameFacts(), fitted=fitted)
    assert why == ""
    assert found.half_time.source == "earlier fit"
    assert found.series.index[0] >= logged.readings.index[-1]
    # It begins where the logger stopped, and knows its own frame: 5 months on it is still near.
    assert found.series["median"].iloc[0] == pytest.approx(logged.rh_percent.iloc[-7 * 24 :].mean(), abs=1.5)
    assert share_held(found, year_pair) > 0.9
    # A logger read some weeks ago is still inside.
    recent = replace(year_pair.inside, readings=year_pair.inside.readings.iloc[: -40 * 24])
    assert finding(recent, year_pair.outside, FrameFacts(), fitted=fitted) == (None, "")
