"""Each rule of data has a case that turns it on and one, just beside it, that keeps it off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.data_quality import RULES, DataFacts, data_quality, period_of, rules_in_words, value_at
from isohume.analysis.frame import Event, FrameFacts, Limits
from isohume.analysis.readings import AirRecord

AS_OF = pd.Timestamp("2026-11-20T07:00Z")
DAY = pd.Timedelta(days=1)
HOUR = pd.Timedelta(hours=1)


def record(*, days: float = 60.0, percent: float = 50.0, end: pd.Timestamp = AS_OF) -> AirRecord:
    index = pd.date_range(end=end, periods=int(days * 24) + 1, freq="h", tz="UTC", name="time_utc").as_unit("us")
    readings = pd.DataFrame({"rh_percent": percent, "temperature_celsius": 20.0}, index=index, dtype="float64")
    return AirRecord(readings=readings, n_readings=len(index), calibrated_on=AS_OF - 100 * DAY)


def facts(inside: AirRecord | None, outside: AirRecord | None, **more: object) -> DataFacts:
    made = DataFacts(
        inside=inside,
        outside=outside,
        frame=FrameFacts(),
        as_of=AS_OF,
        period=period_of(inside, outside, as_of=AS_OF),
    )
    return replace(made, **more)  # type: ignore[arg-type]  # test shorthand


def with_gap(*, share: float) -> AirRecord:
    whole = record()
    keep = np.ones(len(whole.readings), dtype=bool)
    keep[100 : 100 + round(share * len(keep))] = False
    return replace(whole, readings=whole.readings[keep])


def with_flags(*, newest: int = 0, n_excluded: int = 0, elsewhere: int = 0) -> AirRecord:
    whole = record()
    readings = whole.readings.copy()
    if newest:
        readings.iloc[-newest:, 0] = np.nan
    return replace(whole, readings=readings, n_excluded=n_excluded, flag_counts={"outside placement": elsewhere})


def strip(percent: float) -> FrameFacts:
    return FrameFacts(events=(Event(time_utc=AS_OF - 5 * DAY, kind="strip read", rh_percent=percent),))


GOOD = record()
LATE = record(end=AS_OF - 45 * DAY)
# Strip and logger together: sqrt(3² + (2·2.5)²) = 5.83 %RH.
CASES = {
    "old readings": (facts(record(end=AS_OF - 45 * DAY - HOUR), GOOD), facts(LATE, LATE)),
    "file not come": (facts(GOOD, GOOD, files_missing=("logger 7: no file since 3 Oct 2026",)), facts(GOOD, GOOD)),
    "short record": (facts(record(days=20.9), record(days=20.9)), facts(record(days=21), GOOD)),
    "gaps": (facts(with_gap(share=0.31), GOOD), facts(with_gap(share=0.29), GOOD)),
    "flags": (facts(with_flags(n_excluded=145), GOOD), facts(with_flags(n_excluded=144, elsewhere=0), GOOD)),
    "strip disagrees": (facts(GOOD, GOOD, frame=strip(56.0)), facts(GOOD, GOOD, frame=strip(55.8))),
    # Two loggers of 3 %RH each: 4.24 %RH.
    "sister logger disagrees": (
        facts(GOOD, GOOD, sister=record(percent=45.7)),
        facts(GOOD, GOOD, sister=record(percent=45.8)),
    ),
    "clock doubt": (facts(GOOD, replace(GOOD, flag_counts={"clock doubt": 1})), facts(GOOD, GOOD)),
    "calibration": (
        facts(replace(GOOD, calibrated_on=AS_OF - 731 * DAY), GOOD),
        facts(replace(GOOD, calibrated_on=AS_OF - 730 * DAY), GOOD),
    ),
}


def test_every_rule_has_its_pair_of_cases() -> None:
    assert set(CASES) == {rule.rule for rule in RULES}


@pytest.mark.parametrize("name", CASES)
def test_rule_fires_on_one_side_of_its_limit_only(name: str) -> None:
    on, off = (data_quality(case) for case in CASES[name])
    rule = next(rule for rule in RULES if rule.rule == name)
    assert on.name == rule.name
    assert name in {reason.rule for reason in on.reasons}
    assert name not in {reason.rule for reason in off.reasons}
    assert all("nan" not in reason.text and "None" not in reason.text for reason in on.reasons)


def test_a_sound_record_says_what_it_covers() -> None:
    found = data_quality(facts(GOOD, GOOD))
    assert found.name == "sound"
    assert "Covered 100 % from 21 Sep 2026 to 20 Nov 2026" in found.reasons[0].text


def test_flags_of_the_newest_month_weigh_by_themselves() -> None:
    stuck = data_quality(facts(with_flags(newest=100, n_excluded=100), GOOD))
    assert stuck.name == "doubtful"
    assert "the newest 30 days" in stuck.reasons[0].text


def test_readings_taken_elsewhere_are_no_fault_of_the_record() -> None:
    assert data_quality(facts(with_flags(n_excluded=400, elsewhere=390), GOOD)).name == "sound"


def test_without_any_calibration_the_first_reading_counts() -> None:
    long_ago = replace(record(days=800), calibrated_on=None)
    assert data_quality(facts(long_ago, GOOD)).name == "doubtful"
    assert data_quality(facts(replace(GOOD, calibrated_on=None), GOOD)).name == "sound"


def test_no_logger_inside_is_too_little() -> None:
    found = data_quality(facts(None, GOOD))
    assert found.name == "too little"
    assert "There is no inside record." in found.reasons[0].text
    assert data_quality(facts(None, None)).name == "too little"


def test_worst_name_comes_first_and_all_reasons_are_kept() -> None:
    old = replace(record(days=10, end=AS_OF - 60 * DAY), flag_counts={"clock doubt": 3})
    found = data_quality(facts(old, GOOD))
    assert found.name == "stale"
    assert [reason.rule for reason in found.reasons] == ["old readings", "short record", "clock doubt"]


def test_limits_belong_to_the_frame() -> None:
    strict = FrameFacts(limits=Limits(stale_days=7.0))
    late = record(end=AS_OF - 8 * DAY)
    assert data_quality(facts(late, GOOD)).name == "sound"
    assert data_quality(facts(late, GOOD, frame=strict)).name == "stale"
    assert any("older than 7 days" in words for _, _, words in rules_in_words(strict.limits))


def test_period_counts_the_hours_of_both_sides() -> None:
    found = period_of(record(days=10), record(days=4, end=AS_OF - 8 * DAY), as_of=AS_OF)
    assert found.start_utc == AS_OF - 10 * DAY
    assert found.hours_inside_covered == pytest.approx(240.0)
    assert found.hours_both_covered == pytest.approx(48.0)  # the last two of its four days overlap
    assert found.coverage == pytest.approx(1.0)


def test_value_at_runs_straight_and_stops_at_gaps() -> None:
    index = pd.DatetimeIndex(["2026-01-01T00:00Z", "2026-01-01T01:00Z", "2026-01-02T00:00Z", "2026-01-02T01:00Z"])
    series = pd.Series([40.0, 50.0, 60.0, 60.0], index=index)
    assert value_at(series, pd.Timestamp("2026-01-01T00:15Z")) == pytest.approx(42.5)
    assert value_at(series, pd.Timestamp("2026-01-01T12:00Z")) is None
    assert value_at(series, pd.Timestamp("2025-12-31T12:00Z")) is None
