from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.readings import AirRecord
from isohume.analysis.terms import Clause, ClimateTerms, find_terms, published_terms
from isohume.analysis.terms_judge import ClauseResult, judge_terms

START = pd.Timestamp("2026-01-05", tz="UTC")


def record(values: np.ndarray, *, step: str = "h", temperature: float = 20.0) -> AirRecord:
    index = pd.date_range(START, periods=len(values), freq=step, tz="UTC")
    readings = pd.DataFrame({"rh_percent": values.astype(float), "temperature_celsius": temperature}, index=index)
    return AirRecord(readings=readings, uncertainty_percent=2.0)


def judge(clause: Clause, inside: AirRecord, *, days: float = 10, first_day: float = 0) -> ClauseResult:
    terms = ClimateTerms(name="loan", source="agreed", clauses=(clause,))
    start = START + pd.Timedelta(days=first_day)
    (result,) = judge_terms(terms, inside=inside, room=None, start=start, end=start + pd.Timedelta(days=days))
    return result


RANGE = Clause(air="inside", quantity="rh_percent", kind="range", low=45, high=55)


def test_range_counts_hours_as_read_and_beyond_doubt() -> None:
    values = np.full(241, 50.0)
    values[100:111] = 60.0  # ten hours at 60 %RH, an hour to climb and an hour to fall
    result = judge(RANGE, record(values))
    assert result.verdict == "breached"
    # The straight flanks cross 55 at half an hour, and 57 (55 + U) at three tenths of an hour from the plateau.
    assert result.hours_breached == pytest.approx(10 + 2 * 0.5)
    assert result.hours_beyond_doubt == pytest.approx(10 + 2 * 0.3)
    assert (result.worst, result.worst_utc) == (60.0, START + pd.Timedelta(hours=100))


def test_breach_within_the_uncertainty_is_said_to_be_so() -> None:
    values = np.full(241, 50.0)
    values[50] = 56.0
    result = judge(RANGE, record(values))
    assert result.verdict == "breached"
    assert not result.beyond_doubt
    assert "within the uncertainty" in result.report()


def test_met_needs_95_percent_of_the_period() -> None:
    assert judge(RANGE, record(np.full(241, 50.0))).verdict == "met"
    missing = np.full(241, 50.0)
    missing[20:60] = np.nan
    result = judge(RANGE, record(missing))
    assert result.verdict == "no breach in what is covered"
    assert result.coverage == pytest.approx((240 - 41) / 240)


def test_a_clause_about_air_that_was_not_logged_cannot_be_judged() -> None:
    room = Clause(air="room", quantity="rh_percent", kind="range", low=40, high=60)
    result = judge(room, record(np.full(241, 50.0)))
    assert result.verdict == "cannot say"
    assert "nothing was logged in the room" in result.report()


def test_swing_is_largest_minus_smallest_in_any_closed_24_hours() -> None:
    values = np.full(241, 50.0)
    values[100], values[124] = 47.0, 53.0  # exactly 24 h apart: both belong to one closed window
    swing = Clause(air="inside", quantity="rh_percent", kind="swing in 24 h", high=5.5)
    assert judge(swing, record(values)).worst == 6.0
    values[124], values[125] = 50.0, 53.0  # 25 h apart: no window holds both
    result = judge(swing, record(values))
    assert result.worst == 3.0
    assert result.verdict == "met"


def test_distance_is_from_the_centred_24_hour_mean() -> None:
    hours = np.arange(241)
    values = 50 + 4 * np.sin(2 * np.pi * hours / 24)  # the 24-h mean of a daily sine is its level
    within = Clause(air="inside", quantity="rh_percent", kind="distance from 24-h mean", high=4.01)
    beyond = Clause(air="inside", quantity="rh_percent", kind="distance from 24-h mean", high=3.0)
    assert judge(within, record(values), days=8, first_day=1).verdict == "met"
    result = judge(beyond, record(values), days=8, first_day=1)
    assert result.worst == pytest.approx(4.0)
    # |sin| > 3/4 for 1 - 2·arcsin(3/4)/π of the time; 2 %: the record runs straight within each hour.
    share = 1 - 2 * np.arcsin(0.75) / np.pi
    assert result.hours_breached == pytest.approx(share * 8 * 24, rel=0.02)


def test_seasonal_allowance_needs_a_year() -> None:
    clause = Clause(air="inside", quantity="rh_percent", kind="seasonal allowance", low=5, high=5)
    assert "needs 300 days" in judge(clause, record(np.full(241, 50.0))).why
    days = 400
    season = 50 + 8 * np.sin(2 * np.pi * np.arange(days * 24) / (365.25 * 24))
    result = judge(clause, record(season), days=365, first_day=17)
    assert result.verdict == "breached"


def test_dew_point_margin_is_judged_only_with_a_measured_surface() -> None:
    clause = Clause(air="inside", quantity="temperature_celsius", kind="dew-point margin", low=2.0)
    inside = record(np.full(241, 50.0))
    assert "no surface temperature" in judge(clause, inside).why
    terms = ClimateTerms(name="loan", source="agreed", clauses=(clause,))
    surface = pd.Series(10.0, index=inside.readings.index)  # dew point of 20 °C and 50 %RH: 9.27 °C (PsychroLib)
    (result,) = judge_terms(
        terms,
        inside=inside,
        room=None,
        start=START,
        end=START + pd.Timedelta(days=10),
        coldest_surface_celsius=surface,
    )
    assert result.verdict == "breached"
    assert result.worst == pytest.approx(10 - 9.272, abs=0.01)


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        # Bizot Green Protocol as refreshed in 2023 (verified): 40-60 %RH.
        ("Bizot Green Protocol (refreshed), 2023", 40, 60),
        # ASHRAE types of control, 2019 (memory): AA long-term outer limits 35-65 %RH.
        ("Type of control AA, ASHRAE 2019", 35, 65),
    ],
)
def test_published_ranges(name: str, low: float, high: float) -> None:
    ranges = [
        clause for clause in find_terms(name).clauses if clause.kind == "range" and clause.quantity == "rh_percent"
    ]
    assert [(clause.low, clause.high) for clause in ranges] == [(low, high)]


def test_every_published_set_states_source_status_and_readable_clauses() -> None:
    every = published_terms(air="inside")
    assert len(every) > 20
    assert len({terms.name for terms in every}) == len(every)
    for terms in every:
        assert terms.status in {"verified", "memory"}
        assert terms.clauses
        assert all(clause.in_words().endswith(".") for clause in terms.clauses)


def test_unknown_terms_name_what_is_known() -> None:
    with pytest.raises(KeyError, match="Bizot Green Protocol"):
        find_terms("house rules")


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "range"},
        {"kind": "range", "low": 60.0, "high": 40.0},
        {"kind": "swing in 24 h", "low": 3.0},
        {"kind": "range", "low": 40.0, "averaging_hours": 3.0},
        {"kind": "dew-point margin", "high": 2.0},
    ],
)
def test_clauses_that_limit_nothing_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(ValueError, match=r"limit|average"):
        Clause(air="inside", quantity="rh_percent", **wrong)  # type: ignore[arg-type]
