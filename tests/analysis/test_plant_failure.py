from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.exchange.fit import CannotTell, FittedExchange, fit_exchange
from isohume.analysis.frame import FrameFacts
from isohume.analysis.plant_failure import plant_failure, plant_failure_recorded
from isohume.analysis.readings import AirRecord


@pytest.fixture(scope="module")
def fitted(year_pair: Any) -> FittedExchange:
    found = fit_exchange(year_pair.inside, year_pair.outside)
    assert isinstance(found, FittedExchange)
    return found


def around(year_pair: Any, half_width: float) -> FrameFacts:
    now = float(year_pair.inside.rh_percent.iloc[-48:].mean())
    return FrameFacts(frame_id="F01", band=(now - half_width, now + half_width))


def test_a_dry_room_takes_the_frame_out_below(fitted: FittedExchange, year_pair: Any) -> None:
    found = plant_failure(fitted, frame=around(year_pair, 5), room_rh_percent=15, room_celsius=21)
    assert found.side == "below"
    assert found.hours_earliest is not None
    assert found.hours_likely is not None
    assert found.hours_earliest <= found.hours_likely
    # First order, by hand: from h to 15 %RH with a half-time of 40 days, 5 %RH take 40·log2((h−15)/(h−20)) days; a
    # layered frame's air moves faster at first and warmth changes it: within a factor 3.
    now = float(year_pair.inside.rh_percent.iloc[-48:].mean())
    by_hand = 24 * 40 * np.log2((now - 15) / (now - 20))
    assert by_hand / 3 < found.hours_likely < by_hand * 1.5


def test_a_damp_room_takes_it_out_above_and_a_drier_one_sooner_than_a_mild_one(
    fitted: FittedExchange, year_pair: Any
) -> None:
    frame = around(year_pair, 4)
    damp = plant_failure(fitted, frame=frame, room_rh_percent=95, room_celsius=18)
    assert damp.side == "above"
    harsh = plant_failure(fitted, frame=frame, room_rh_percent=10, room_celsius=21)
    mild = plant_failure(fitted, frame=frame, room_rh_percent=25, room_celsius=21)
    assert harsh.hours_likely is not None
    assert mild.hours_likely is None or harsh.hours_likely < mild.hours_likely


def test_a_room_within_the_band_takes_it_nowhere(fitted: FittedExchange, year_pair: Any) -> None:
    now = float(year_pair.inside.rh_percent.iloc[-48:].mean())
    found = plant_failure(
        fitted, frame=around(year_pair, 8), room_rh_percent=now, room_celsius=fitted.reference_celsius
    )
    assert (found.hours_earliest, found.hours_likely, found.side) == (None, None, "")
    assert found.horizon_hours == 60 * 24


def test_without_band_or_model_it_says_why(fitted: FittedExchange) -> None:
    assert "No band" in plant_failure(fitted, frame=FrameFacts(), room_rh_percent=20, room_celsius=20).why
    unknown = CannotTell(why="Too short.")
    frame = FrameFacts(band=(40, 60))
    assert plant_failure(unknown, frame=frame, room_rh_percent=20, room_celsius=20).why == "Too short."


def test_a_recorded_failure_equals_the_fixed_climate_it_holds(fitted: FittedExchange, year_pair: Any) -> None:
    frame = around(year_pair, 5)
    index = pd.date_range("2026-01-01", periods=60 * 24 + 1, freq="h", tz="UTC")
    room = AirRecord(
        readings=pd.DataFrame({"rh_percent": 15.0, "temperature_celsius": 21.0}, index=index, dtype="float64")
    )
    recorded = plant_failure_recorded(fitted, frame=frame, room=room)
    assert recorded == plant_failure(fitted, frame=frame, room_rh_percent=15, room_celsius=21)
    with pytest.raises(ValueError, match="a day or more"):
        plant_failure_recorded(fitted, frame=frame, room=AirRecord(readings=room.readings.iloc[:10]))
