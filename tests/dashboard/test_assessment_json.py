"""The assessment document keeps its fixed shape: scripts and notebooks depend on every key."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.before_after import Intervention, SideOfEvent
from isohume.analysis.estimated_inside import EstimatedInside, KnownHalfTime
from isohume.analysis.exchange.model import ExchangeParameters
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import (
    AnnualCycle,
    Assessment,
    BandFinding,
    BufferingFinding,
    DataQuality,
    DatedMean,
    DriftFinding,
    ExchangeFinding,
    Excursion,
    ForecastFinding,
    Gain,
    Period,
    Ratio,
    Reason,
    SealFinding,
    Standing,
)
from isohume.dashboard.assessment_json import SCHEMA, InputFile, assessment_document, dump, plain
from isohume.dashboard.kept_assessment import from_document, to_document

NOON = pd.Timestamp("2026-11-20T12:00Z")
RATIO = Ratio(ratio=5.0, low=4.0, high=6.0)
FRAME = FrameFacts(band=(45.0, 55.0), conditioned_percent=50.0, time_zone="Europe/Berlin")
FULL = Assessment(
    as_of=NOON,
    period=Period(start_utc=NOON, end_utc=NOON, hours_inside_covered=1.0, hours_both_covered=1.0, coverage=1.0),
    band=BandFinding(
        low=45.0,
        high=55.0,
        hours_below=3.0,
        hours_above=0.0,
        hours_covered=10.0,
        share_within=0.7,
        hours_outside_beyond_doubt=0.0,
        hours_outside_possible=5.0,
        deficit_percent_hours=4.0,
        excess_percent_hours=0.0,
        uncertainty_percent=3.0,
        excursions=(
            Excursion(
                start_utc=NOON,
                end_utc=NOON,
                hours=3.0,
                side="below",
                extreme_percent=43.0,
                extreme_utc=NOON,
                cut_by_gap=False,
                open_at_start=False,
                ongoing=True,
            ),
        ),
    ),
    buffering=BufferingFinding(
        daily=RATIO, daily_temperature_removed=RATIO, weekly=RATIO, seasonal=RATIO, lag_hours=2.0
    ),
    drift=DriftFinding(
        mean30d_percent=47.0,
        departure_percent=-3.0,
        slope_percent_per_30d=-1.0,
        slope_low=-1.5,
        slope_high=-0.5,
        lowest30d=DatedMean(percent=44.0, date=NOON),
        highest30d=DatedMean(percent=52.0, date=NOON),
        annual=AnnualCycle(
            inside_mean_percent=48.0,
            inside_amplitude_percent=4.0,
            outside_amplitude_percent=12.0,
            inside_minimum_date=NOON,
            outside_minimum_date=NOON,
            attenuation=3.0,
            lag_days=40.0,
        ),
    ),
    exchange=ExchangeFinding(
        determined=True, half_time_days=60.0, gain={"1d": Gain(gain=0.01), "7d": Gain(gain=0.1, low=0.05, high=0.2)}
    ),
    forecast=ForecastFinding(
        horizon_days=365.0,
        earliest_plausible=NOON,
        chance_outside_at_horizon=0.9,
        series=pd.DataFrame(
            {"median": [48.0], "low10": [46.0], "high90": [50.0]}, index=pd.DatetimeIndex([NOON], name="time_utc")
        ),
    ),
    seal=SealFinding(changed=False, smallest_detectable=1.5),
    panel={"emc_inside_percent": 9.3, "movement_mm": None, "why": "no species"},
    dew_point={"inside_celsius": np.float64(9.0), "hours_above_65": math.nan},
    standing=Standing(name="leaving band", direction="too dry", reasons=(Reason(rule="r", text="t"),), by=NOON),
    data=DataQuality(name="sound"),
)
# Design, section 7. A dict is an object with at least these keys.
SHAPE: dict[str, Any] = {
    "schema": None,
    "isohume_version": None,
    "as_of": None,
    "inputs": {
        "files": None,
        "parameters": {"band": None, "conditioned_percent": None, "limits": {"horizon_days": None}},
    },
    "period": dict.fromkeys(("start_utc", "end_utc", "hours_inside_covered", "hours_both_covered", "coverage")),
    "quality": {"inside": {"flags": None, "notes": None}, "outside": {"flags": None, "notes": None}},
    "band": dict.fromkeys(
        (
            "low",
            "high",
            "hours_below",
            "hours_above",
            "hours_covered",
            "share_within",
            "hours_outside_beyond_doubt",
            "hours_outside_possible",
            "deficit_percent_hours",
            "excess_percent_hours",
            "excursions",
        )
    ),
    "buffering": {
        **{
            scale: dict.fromkeys(("ratio", "low", "high", "at_floor"))
            for scale in ("daily", "daily_temperature_removed", "weekly", "seasonal")
        },
        "lag_hours": None,
    },
    "drift": {
        **dict.fromkeys(("mean30d_percent", "departure_percent", "slope_percent_per_30d", "slope_low", "slope_high")),
        "lowest30d": {"percent": None, "date": None},
        "highest30d": {"percent": None, "date": None},
        "annual": None,
    },
    "exchange": {
        **dict.fromkeys(
            (
                "determined",
                "why",
                "reservoirs",
                "reference_celsius",
                "half_time_days",
                "half_time_low",
                "half_time_high",
                "half_time_at_least",
                "half_time_at_most",
                "half_time_days_at_20",
                "slow_mode_half_time_days",
                "share_after_24h",
                "temperature_response_percent_per_kelvin",
                "logger_offset_percent",
                "notes",
            )
        ),
        "gain": {"1d": {"gain": None}},
    },
    "forecast": dict.fromkeys(
        (
            "why",
            "horizon_days",
            "room",
            "leave_by",
            "earliest_plausible",
            "chance_outside_at_horizon",
            "expected_back_by",
            "back_test_share_in_80",
        )
    ),
    "seal": dict.fromkeys(("changed", "date", "factor", "factor_low", "factor_high", "smallest_detectable", "why")),
    "panel": {},
    "dew_point": {},
    "standing": dict.fromkeys(("name", "direction", "reasons", "next_step", "by")),
    "data": dict.fromkeys(("name", "reasons")),
    "did_it_help": None,
    "estimate": None,
}
EXCURSION = {
    "start_utc",
    "end_utc",
    "hours",
    "side",
    "extreme_percent",
    "extreme_utc",
    "cut_by_gap",
    "open_at_start",
    "ongoing",
}


def record() -> AirRecord:
    index = pd.DatetimeIndex([NOON], name="time_utc").as_unit("us")
    readings = pd.DataFrame({"rh_percent": [50.0], "temperature_celsius": [20.0]}, index=index)
    return AirRecord(readings=readings, flag_counts={"rh spike": 2}, n_readings=1, notes=("a remark",))


def document(assessment: Assessment = FULL, **more: Any) -> dict[str, Any]:
    made = assessment_document(
        assessment,
        inside=record(),
        outside=record(),
        frame=FRAME,
        files=[InputFile(side="inside", file="a.csv", sha256="0" * 64)],
        parameters={"time_zone": None, "seed": 0},
        **more,
    )
    return json.loads(dump(made))  # type: ignore[no-any-return]  # what a script would see


def assert_shape(found: Any, shape: Any, place: str) -> None:
    if shape is None:
        return
    assert isinstance(found, dict), place
    for key, inner in shape.items():
        assert key in found, f"{place}.{key}"
        assert_shape(found[key], inner, f"{place}.{key}")


def test_every_key_of_the_fixed_shape_exists() -> None:
    found = document()
    assert list(found) == list(SHAPE)
    assert_shape(found, SHAPE, "assessment")
    assert found["schema"] == SCHEMA == "isohume.assessment.1"
    assert set(found["band"]["excursions"][0]) == EXCURSION
    assert set(found["standing"]["reasons"][0]) == {"rule", "text", "value", "limit", "unit"}
    assert found["inputs"]["files"][0] == {"side": "inside", "file": "a.csv", "sha256": "0" * 64, "channel": ""}
    assert found["quality"]["inside"]["flags"] == {"rh spike": 2}


def test_times_are_iso_in_utc_with_z() -> None:
    berlin = replace(FULL, as_of=NOON.tz_convert("Europe/Berlin"))
    assert document(berlin)["as_of"] == "2026-11-20T12:00:00Z"


def test_unknown_is_null_and_never_nan() -> None:
    found = document()
    assert found["dew_point"] == {"inside_celsius": 9.0, "hours_above_65": None}
    unknown = replace(FULL, band=None, buffering=replace(FULL.buffering, weekly=Ratio(ratio=None, why="too short")))
    assert document(unknown)["band"] is None
    assert document(unknown)["buffering"]["weekly"] == {"why": "too short"}
    with pytest.raises(ValueError, match="not JSON compliant"):
        dump({"value": math.nan})


def test_series_come_only_when_asked_for() -> None:
    assert "series" not in document()["forecast"]
    series = document(with_series=True)["forecast"]["series"]
    assert series == {"date": ["2026-11-20T12:00:00Z"], "median": [48.0], "low10": [46.0], "high90": [50.0]}
    without = replace(FULL, forecast=ForecastFinding(why="no model"))
    assert document(without, with_series=True)["forecast"]["series"] is None


HANDLED = Intervention(
    event=Event(time_utc=NOON, kind="reconditioned", rh_percent=50.0),
    before=SideOfEvent(
        start_utc=NOON,
        end_utc=NOON,
        hours_covered=24.0,
        mean_percent=47.0,
        hours_outside_per_month=None,
        slope_percent_per_30d=None,
        slope_low=None,
        slope_high=None,
        half_time_days=30.0,
    ),
    after=None,
    half_time_change="cannot tell",
    why="There is no record from after it.",
)
ESTIMATE = EstimatedInside(
    series=pd.DataFrame({"median": [48.0], "low": [44.0], "high": [52.0]}, index=pd.DatetimeIndex([NOON])),
    half_time=KnownHalfTime(days=40.0, source="sister frame", parameters=ExchangeParameters(tau_leak=20.0)),
    strip_differences=((NOON, 1.5),),
    notes=("Estimated.",),
)


def test_what_was_done_stands_beside_what_it_changed() -> None:
    assert document()["did_it_help"] == []
    (one,) = document(replace(FULL, interventions=(HANDLED,)))["did_it_help"]
    assert set(one) == {"event", "before", "after", "half_time_change", "why"}
    assert set(one["event"]) == {"time_utc", "kind", "rh_percent", "room", "note"}
    assert one["event"]["time_utc"] == "2026-11-20T12:00:00Z"
    assert one["before"]["half_time_days"] == 30.0
    assert one["after"] is None


def test_an_estimate_says_that_it_is_one() -> None:
    assert document()["estimate"] is None
    assert document(replace(FULL, no_estimate="no room"))["estimate"] == {"why": "no room"}
    found = document(replace(FULL, estimate=ESTIMATE))["estimate"]
    assert found["estimated"] is True
    assert found["half_time_source"] == "sister frame"
    assert found["newest"] == {"date": "2026-11-20T12:00:00Z", "median": 48.0, "low": 44.0, "high": 52.0}
    assert found["strip_differences"] == [{"time_utc": "2026-11-20T12:00:00Z", "difference_percent": 1.5}]
    assert "series" not in found
    assert document(replace(FULL, estimate=ESTIMATE), with_series=True)["estimate"]["series"]["median"] == [48.0]


def test_both_survive_being_kept() -> None:
    found = replace(FULL, interventions=(HANDLED,), estimate=ESTIMATE, forecast=ForecastFinding(why="none"))
    again = from_document(json.loads(json.dumps(to_document(found))))
    assert again.interventions == found.interventions
    assert again.estimate is not None
    assert again.estimate.half_time == ESTIMATE.half_time
    assert again.estimate.strip_differences == ESTIMATE.strip_differences
    pd.testing.assert_frame_equal(again.estimate.series, ESTIMATE.series, check_freq=False)


def test_a_stranger_in_the_document_is_our_error() -> None:
    with pytest.raises(TypeError, match="no place"):
        plain(object())
