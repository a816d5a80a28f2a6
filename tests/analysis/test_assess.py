"""The composition: what is cut, what is refused, what is said of sides that are missing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.assess import NoOverlapError, NoReadingsError, assess
from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.exchange.fit import CannotTell
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.readings import AirRecord

START = pd.Timestamp("2026-01-01T00:00Z")
HOURS = np.arange(60 * 24)
FRAME = FrameFacts(band=(45.0, 55.0), conditioned_percent=50.0)


def record(values: np.ndarray, *, start: pd.Timestamp = START) -> AirRecord:
    index = pd.date_range(start, periods=len(values), freq="h", name="time_utc").as_unit("us")
    celsius = 20 + np.sin(np.arange(len(values)) / 24)
    readings = pd.DataFrame({"rh_percent": values, "temperature_celsius": celsius}, index=index, dtype="float64")
    return AirRecord(readings=readings, n_readings=len(values))


ROOM = record(48 + 6 * np.sin(HOURS / 4) + 8 * np.sin(HOURS / 60))
INSIDE = record(48 + 2 * np.sin(HOURS / 60 - 1))


@pytest.fixture(autouse=True)
def quick_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the fit of the exchange model, which has tests of its own and takes seconds."""
    unknown = CannotTell(why="Left out in this test.")
    monkeypatch.setattr("isohume.analysis.assess.fit_exchange", lambda *_sides, **_facts: unknown)


def test_as_of_is_the_newest_reading_by_default() -> None:
    found = assess(INSIDE, ROOM, frame=FRAME)
    assert found.as_of == INSIDE.readings.index[-1]
    assert found.period.hours_both_covered == pytest.approx(HOURS[-1])


def test_nothing_after_as_of_is_seen() -> None:
    as_of = START + pd.Timedelta(days=30)
    disturbed = INSIDE.readings.copy()
    disturbed.loc[as_of + pd.Timedelta(hours=1) :, "rh_percent"] = 90.0
    whole = assess(INSIDE, ROOM, frame=FRAME, as_of=as_of)
    other = assess(replace(INSIDE, readings=disturbed), ROOM, frame=FRAME, as_of=as_of)
    assert whole.band == other.band
    assert whole.buffering == other.buffering
    assert whole.standing == other.standing
    assert whole.period.end_utc == as_of


def test_same_seed_same_findings() -> None:
    one, two = (assess(INSIDE, ROOM, frame=FRAME, seed=3) for _ in range(2))
    assert one == two


def test_sides_that_were_never_logged_together_are_refused() -> None:
    with pytest.raises(NoOverlapError, match="inside 2026-01-01 to 2026-03-01, room 2027-01-01"):
        assess(INSIDE, record(ROOM.rh_percent.to_numpy(), start=pd.Timestamp("2027-01-01T00:00Z")), frame=FRAME)
    with pytest.raises(NoReadingsError):
        assess(None, None, frame=FRAME)


def test_without_a_logger_inside_everything_says_why() -> None:
    strip = Event(time_utc=START + pd.Timedelta(days=20), kind="strip read", rh_percent=48.0)
    found = assess(None, ROOM, frame=replace(FRAME, events=(strip,)))
    assert found.standing.name == "cannot tell"
    assert found.data.name == "too little"
    assert found.band is None
    for why in (found.buffering.weekly.why, found.drift.why, found.exchange.why, found.forecast.why, found.seal.why):
        assert "inside the frame" in why
    assert found.panel["emc_room_now_percent"] is not None
    assert found.dew_point["dew_point_room_celsius"] is not None


def test_without_a_room_record_the_inside_is_judged_all_the_same() -> None:
    found = assess(record(np.full(len(HOURS), 38.0) + np.sin(HOURS / 7)), None, frame=FRAME)
    assert (found.standing.name, found.standing.direction) == ("needs reconditioning", "too dry")
    assert found.buffering.daily.ratio is None
    assert "room" in found.buffering.daily.why
    assert found.drift.mean30d_percent == pytest.approx(38.0, abs=0.2)


def test_a_frame_without_any_reading_is_assessed_for_the_moment_asked_for() -> None:
    found = assess(None, None, frame=FRAME, as_of=START)
    assert found.as_of == found.period.start_utc == START
    assert found.standing.name == "cannot tell"


def test_missing_files_make_the_record_stale() -> None:
    found = assess(INSIDE, ROOM, frame=FRAME, files_missing=["A file of logger 7 was expected by 3 Feb 2026."])
    assert found.data.name == "stale"
    assert found.data.reasons[0].text == "A file of logger 7 was expected by 3 Feb 2026."


def test_a_cold_measured_surface_is_a_damp_risk() -> None:
    # Inside near 20 °C and 48 %RH: dew point near 8.6 °C.
    cold = pd.Series(9.0, index=INSIDE.readings.index)
    found = assess(INSIDE, ROOM, frame=FRAME, surface_celsius=cold)
    assert found.standing.name == "damp risk"
    assert found.standing.reasons[0].rule == "near dew point"
    assert assess(INSIDE, ROOM, frame=FRAME, surface_celsius=cold + 5).standing.name != "damp risk"


def test_what_was_done_is_judged_and_nothing_where_nothing_was_done() -> None:
    opened = Event(time_utc=START + pd.Timedelta(days=25), kind="opened")
    found = assess(INSIDE, ROOM, frame=replace(FRAME, events=(opened,)))
    assert [one.event for one in found.interventions] == [opened]
    assert found.interventions[0].before is not None
    assert assess(INSIDE, ROOM, frame=FRAME).interventions == ()
    assert assess(INSIDE, None, frame=replace(FRAME, events=(opened,))).interventions == ()


def test_a_frame_without_a_logger_is_estimated_if_a_half_time_is_known() -> None:
    known = KnownHalfTime(days=20.0, source="sister frame")
    found = assess(None, ROOM, frame=FRAME, known_half_time=known)
    assert found.estimate is not None
    assert found.estimate.half_time == known
    assert found.standing.name == "cannot tell"
    assert found.standing.reasons[0].text.startswith("Estimated, not logged")
    unknown = assess(None, ROOM, frame=FRAME)
    assert unknown.estimate is None
    assert "built alike" in unknown.no_estimate
    logged = assess(INSIDE, ROOM, frame=FRAME, known_half_time=known)
    assert (logged.estimate, logged.no_estimate) == (None, "")
