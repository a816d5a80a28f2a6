"""What is kept comes back as it was, or is computed again."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.readings import AirRecord
from isohume.analysis.results import ForecastFinding
from isohume.dashboard import kept_assessment, summaries
from isohume.dashboard.urgency import needs_decision, urgency
from isohume.dashboard.views import FrameStore


def through_json(document: dict[str, object]) -> dict[str, object]:
    return json.loads(json.dumps(document, allow_nan=False))


def test_an_assessment_comes_back_as_it_was(store: FrameStore) -> None:
    found = store.frame("F02").assessment
    assert kept_assessment.from_document(through_json(kept_assessment.to_document(found))) == found


def test_the_course_of_a_forecast_comes_back(store: FrameStore) -> None:
    days = pd.date_range("2026-11-20", periods=4, tz="UTC")
    course = pd.DataFrame({"median": [50.0, 49.5, 49.0, np.nan], "low10": 45.0, "high90": 55.0}, index=days)
    found = replace(store.frame("F01").assessment, forecast=ForecastFinding(series=course, horizon_days=4.0))
    again = kept_assessment.from_document(through_json(kept_assessment.to_document(found)))
    pd.testing.assert_frame_equal(again.forecast.series, course, check_freq=False)


def test_findings_of_another_shape_are_refused() -> None:
    for outdated in ({"#": "Assessment", "=": {"score": 3}}, {"#": "Verdict", "=": {}}, {"#": "tuple", "=": []}, {}):
        with pytest.raises(kept_assessment.OutdatedFindingError):
            kept_assessment.from_document(outdated)


def test_a_row_comes_back_as_it_was(store: FrameStore) -> None:
    for row in store.summaries():
        again = summaries.from_document(through_json(summaries.to_document(row)))
        assert again.standing == row.standing
        assert again.data == row.data
        assert again.newest_utc == row.newest_utc
        # Kept to one decimal of %RH: the picture is 60 pixels high.
        np.testing.assert_allclose(again.picture.inside, row.picture.inside, atol=0.05)


def test_a_small_picture_counts_its_own_weeks(store: FrameStore) -> None:
    record, row = store.record("F02"), store.summaries()[1]
    index = pd.to_datetime(record.inside_rh.seconds, unit="s", utc=True)
    air = AirRecord(
        readings=pd.DataFrame({"rh_percent": record.inside_rh.quantity, "temperature_celsius": 20.0}, index)
    )
    end = pd.Timestamp("2026-11-20T07:00Z")
    picture = summaries.small_picture(store.frame("F02").facts, air, None, end_utc=end)
    # An independent count with pandas: the last seven days, start included, end not.
    last_week = air.rh_percent[(index >= end - pd.Timedelta(days=7)) & (index < end)]
    assert picture.inside[-1] == pytest.approx(last_week.mean())
    assert np.isnan(picture.room_low).all()
    assert row.frame_id == "F02"


def test_most_urgent_means_hands_before_records(store: FrameStore) -> None:
    rows = {row.frame_id: row for row in store.summaries()}
    order = sorted(rows.values(), key=lambda row: urgency(row.standing, row.data, row.frame_id))
    # All reasons of the invented rows name a rule that asks for hands, so standing alone decides here.
    assert [row.frame_id for row in order][:5] == ["F04", "F02", "F07", "F03", "F05"]
    assert needs_decision(rows["F09"].standing, rows["F09"].data)


def test_the_picture_of_an_estimate_shows_its_interval_and_is_kept(store: FrameStore) -> None:
    found, room = store.frame("F08").assessment, store.air("F08")[1]
    made = summaries.summary(store.frame("F08").facts, found, room="Store", inside=None, outside=room)
    series = found.estimate.series
    last = series.loc[made.picture.end_utc - pd.Timedelta(days=7) :]
    assert made.picture.inside[-1] == pytest.approx(last["median"].mean(), abs=0.2)
    assert made.picture.inside_high[-1] - made.picture.inside_low[-1] == pytest.approx(8.0), "4 %RH to either side"
    again = summaries.from_document(json.loads(json.dumps(summaries.to_document(made))))
    np.testing.assert_allclose(again.picture.inside_low, made.picture.inside_low, atol=0.05)
