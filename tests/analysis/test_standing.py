"""Each rule of standing has a case that turns it on and one, just beside it, that keeps it off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.estimated_inside import EstimatedInside, KnownHalfTime
from isohume.analysis.frame import Event, FrameFacts, Limits
from isohume.analysis.readings import AirRecord
from isohume.analysis.recent import RecentAir, largest_change_within_a_day, recent_air
from isohume.analysis.results import BufferingFinding, ForecastFinding, Ratio, SealFinding
from isohume.analysis.standing import RULES, rules_in_words, standing
from isohume.analysis.standing_rules import StandingFacts

AS_OF = pd.Timestamp("2026-11-20T07:00Z")
DAY = pd.Timedelta(days=1)
UNKNOWN = Ratio(ratio=None, why="record too short")
NO_BUFFERING = BufferingFinding(
    daily=UNKNOWN, daily_temperature_removed=UNKNOWN, weekly=UNKNOWN, seasonal=UNKNOWN, lag_hours=None
)
FRAME = FrameFacts(
    frame_id="F01",
    band=(45.0, 55.0),
    conditioned_percent=50.0,
    owner="Flusstor Museum (invented)",
    opened_by="the paintings conservator",
    time_zone="Europe/Berlin",
)
CALM = RecentAir(
    newest_utc=AS_OF - DAY,
    since_utc=AS_OF - 31 * DAY,
    hours_covered=720.0,
    mean_7d_percent=50.0,
    hours_below=0.0,
    hours_above=0.0,
    hours_below_beyond_doubt=0.0,
    hours_above_beyond_doubt=0.0,
    hours_outside_7d=0.0,
    hours_damp=0.0,
    largest_change_24h_percent=2.0,
    largest_change_end_utc=AS_OF - 3 * DAY,
    flagged_share=0.0,
)
FAR_AWAY = ForecastFinding(
    horizon_days=365.0,
    room="recorded year",
    leave_by=None,
    earliest_plausible=AS_OF + 300 * DAY,
    chance_outside_at_horizon=0.2,
)
FACTS = StandingFacts(
    recent=CALM,
    frame=FRAME,
    as_of=AS_OF,
    uncertainty_percent=3.0,
    buffering=NO_BUFFERING,
    forecast=FAR_AWAY,
    seal=SealFinding(changed=False),
)


def recent(**changes: object) -> StandingFacts:
    return replace(FACTS, recent=replace(CALM, **changes))  # type: ignore[arg-type]  # test shorthand


def weekly(low: float, ratio: float, high: float) -> StandingFacts:
    return replace(FACTS, buffering=replace(NO_BUFFERING, weekly=Ratio(ratio=ratio, low=low, high=high)))


def forecast(days: float | None, **more: object) -> StandingFacts:
    date = None if days is None else AS_OF + days * DAY
    return replace(FACTS, forecast=replace(FAR_AWAY, earliest_plausible=date, **more))  # type: ignore[arg-type]


def seal(**changes: object) -> StandingFacts:
    return replace(FACTS, seal=SealFinding(**changes))  # type: ignore[arg-type]


BACK_SOON = {"expected_back_by": AS_OF + 30 * DAY}
BACK_LATE = {"expected_back_by": AS_OF + 31 * DAY}
# Rule, facts that turn it on, facts that keep it off.
CASES = {
    "sides swapped": (weekly(0.3, 0.5, 0.79), weekly(0.3, 0.5, 0.8)),
    "mostly flagged": (recent(flagged_share=0.51), recent(flagged_share=0.5)),
    "damp air": (recent(hours_damp=48.0), recent(hours_damp=47.9)),
    "near dew point": (replace(FACTS, hours_near_dew_point=6.0), replace(FACTS, hours_near_dew_point=5.9)),
    "mean beyond doubt": (recent(mean_7d_percent=41.9), recent(mean_7d_percent=42.0)),
    "hours beyond doubt": (recent(hours_above_beyond_doubt=48.1), recent(hours_above_beyond_doubt=48.0)),
    "departure": (recent(mean_7d_percent=60.1), recent(mean_7d_percent=60.0)),
    "seal changed": (
        seal(changed=True, factor=3.0, date=AS_OF - 20 * DAY),
        seal(changed=True, factor=0.4, date=AS_OF - 20 * DAY),
    ),
    "frame open?": (weekly(0.9, 1.05, 1.24), weekly(1.0, 1.1, 1.25)),
    "mean as read": (recent(mean_7d_percent=44.9), recent(mean_7d_percent=45.0)),
    "hours as read": (
        recent(hours_below=49.0, hours_outside_7d=1.0),
        recent(hours_below=49.0, hours_outside_7d=0.0),
    ),
    "leaving soon": (forecast(90.0), forecast(90.1)),
    "quick change": (recent(largest_change_24h_percent=10.1), recent(largest_change_24h_percent=10.0)),
}


def fired(facts: StandingFacts) -> set[str]:
    return {reason.rule for reason in standing(facts).reasons}


def test_every_rule_has_its_pair_of_cases() -> None:
    assert set(CASES) == {rule.name for rule in RULES}


@pytest.mark.parametrize("name", CASES)
def test_rule_fires_on_one_side_of_its_limit_only(name: str) -> None:
    on, off = CASES[name]
    assert name in fired(on)
    assert name not in fired(off)
    reason = next(reason for reason in standing(on).reasons if reason.rule == name)
    assert standing(on).name == next(rule.standing for rule in RULES if rule.name in fired(on))
    assert reason.text.endswith(".")
    assert reason.value is not None
    assert "None" not in reason.text
    assert "nan" not in reason.text


@pytest.mark.parametrize("name", CASES)
def test_a_rule_whose_figure_is_unknown_stays_silent(name: str) -> None:
    nothing = replace(
        FACTS,
        recent=RecentAir(),
        forecast=ForecastFinding(why="not made"),
        seal=SealFinding(changed=None, why="short"),
    )
    assert name not in fired(nothing)


def test_steady_needs_a_band_and_a_known_future() -> None:
    assert standing(FACTS).name == "steady"
    no_band = standing(replace(FACTS, frame=replace(FRAME, band=None)))
    assert no_band.name == "cannot tell"
    assert "No band" in no_band.reasons[0].text
    no_forecast = standing(replace(FACTS, forecast=ForecastFinding(why="Half-time not determined.")))
    assert no_forecast.name == "cannot tell"
    assert "Within its band" in no_forecast.reasons[0].text
    assert "forecast unknown: half-time not determined" in no_forecast.reasons[0].text


def test_a_room_that_never_leaves_the_band_needs_no_forecast() -> None:
    unknown = replace(FACTS, forecast=ForecastFinding(why="unknown"))
    calm_room = replace(CALM, room_lowest_7d_percent=46.0, room_highest_7d_percent=54.0)
    assert standing(replace(unknown, recent=calm_room)).name == "steady"
    dry_room = replace(calm_room, room_lowest_7d_percent=44.0)
    assert standing(replace(unknown, recent=dry_room)).name == "cannot tell"


def test_first_match_names_and_all_matches_are_listed() -> None:
    facts = replace(recent(mean_7d_percent=38.0, hours_damp=50.0), seal=SealFinding(changed=True, factor=3.0))
    found = standing(facts)
    assert found.name == "damp risk"
    assert [reason.rule for reason in found.reasons] == [
        "damp air",
        "mean beyond doubt",
        "departure",
        "seal changed",
    ]
    assert [rule.order for rule in RULES] == sorted(rule.order for rule in RULES)


@pytest.mark.parametrize(("mean", "direction"), [(38.0, "too dry"), (62.0, "too damp")])
def test_reconditioning_says_which_way(mean: float, direction: str) -> None:
    found = standing(recent(mean_7d_percent=mean))
    assert (found.name, found.direction) == ("needs reconditioning", direction)


def test_a_failed_seal_comes_before_a_mean_outside_as_read() -> None:
    leaking = SealFinding(changed=True, factor=3.0)
    assert standing(replace(recent(mean_7d_percent=44.0), seal=leaking)).name == "check seal"
    assert standing(replace(recent(mean_7d_percent=41.0), seal=leaking)).name == "needs reconditioning"


def test_as_read_waits_for_an_inside_that_is_expected_back() -> None:
    outside = replace(CALM, mean_7d_percent=44.0, hours_below=200.0, hours_outside_7d=168.0)
    soon = replace(FACTS, recent=outside, forecast=replace(FAR_AWAY, **BACK_SOON))
    assert standing(soon).name == "steady"
    assert "expected back by 20 Dec 2026" in standing(soon).reasons[0].text
    late = replace(FACTS, recent=outside, forecast=replace(FAR_AWAY, **BACK_LATE))
    assert {"mean as read", "hours as read"} <= fired(late)


def test_a_leak_that_was_mended_since_is_not_held_against_the_frame() -> None:
    leak = SealFinding(changed=True, factor=3.0, date=AS_OF - 100 * DAY)
    mended = replace(FRAME, events=(Event(time_utc=AS_OF - 50 * DAY, kind="seal repaired"),))
    assert "seal changed" in fired(replace(FACTS, seal=leak))
    assert "seal changed" not in fired(replace(FACTS, seal=leak, frame=mended))


def test_the_date_to_act_by_is_never_silently_past() -> None:
    ahead = standing(forecast(60.0))
    assert ahead.by == AS_OF + 18 * DAY
    assert "act by 8 Dec 2026" in ahead.next_step
    passed = standing(forecast(20.0))
    assert passed.by == AS_OF
    assert "29 Oct 2026: it has passed" in passed.next_step
    assert standing(recent(mean_7d_percent=38.0)).by == AS_OF


def test_a_frame_that_has_left_its_band_is_not_said_to_be_leaving_it() -> None:
    outside = replace(forecast(0.0), recent=replace(CALM, mean_7d_percent=38.0))
    assert "leaving soon" not in fired(outside)
    assert standing(outside).name == "needs reconditioning"


def test_limits_belong_to_the_frame() -> None:
    lax = replace(FRAME, limits=Limits(horizon_days=30.0, lead_time_days=14.0))
    assert standing(replace(forecast(60.0), frame=lax)).by == AS_OF + 46 * DAY
    assert "leaving soon" not in fired(replace(forecast(60.0), frame=lax))
    assert any("within 30 days" in words for _, _, name, words in rules_in_words(lax.limits) if name == "leaving soon")


@pytest.mark.parametrize(("days_ago", "judged"), [(13.9, False), (14.0, True)])
def test_a_frame_just_closed_is_judged_on_damp_only(days_ago: float, judged: bool) -> None:  # noqa: FBT001
    closed = replace(FRAME, events=(Event(time_utc=AS_OF - days_ago * DAY, kind="reconditioned"),))
    dry = replace(recent(mean_7d_percent=38.0), frame=closed)
    assert (standing(dry).name == "needs reconditioning") is judged
    assert standing(replace(recent(hours_damp=60.0), frame=closed)).name == "damp risk"


@pytest.mark.parametrize("lifecycle", ["open", "retired"])
def test_an_open_or_retired_frame_is_not_judged(lifecycle: str) -> None:
    facts = replace(recent(mean_7d_percent=38.0), frame=replace(FRAME, lifecycle=lifecycle))  # type: ignore[arg-type]
    assert standing(facts).name == "cannot tell"


@pytest.mark.parametrize("name", CASES)
def test_next_step_informs_and_names_people(name: str) -> None:
    found = standing(CASES[name][0])
    assert found.next_step
    if found.name in {"damp risk", "needs reconditioning", "check seal"}:
        assert "Flusstor Museum (invented)" in found.next_step
        assert "the paintings conservator" in found.next_step
        assert "conservator" in found.next_step.replace("the paintings conservator", "")


def test_the_next_step_of_an_unusable_record_fits_what_is_wrong_with_it() -> None:
    swapped, flagged = (standing(CASES[name][0]).next_step for name in ("sides swapped", "mostly flagged"))
    assert "which logger lies in the frame" in swapped
    assert "by eye" not in swapped
    assert "battery" in flagged
    assert "Supply what is missing" in standing(replace(FACTS, frame=replace(FRAME, band=None))).next_step


def test_an_estimate_is_said_to_be_one_and_not_judged() -> None:
    days = pd.date_range(AS_OF - 2 * DAY, AS_OF - DAY, freq="D", name="time_utc")
    estimate = EstimatedInside(
        series=pd.DataFrame({"median": 38.0, "low": 35.0, "high": 41.0}, index=days),
        half_time=KnownHalfTime(days=40.0, source="construction"),
        strip_differences=(),
        notes=(),
    )
    found = standing(replace(FACTS, recent=RecentAir(), estimate=estimate))
    # Wholly below its band of 45 to 55 %RH, and still not judged: nothing was logged.
    assert found.name == "cannot tell"
    assert found.reasons[0].text.startswith("Estimated, not logged: about 38.0 %RH")
    assert "An estimate is not judged" in found.next_step
    assert "Estimated" not in standing(replace(FACTS, recent=RecentAir())).reasons[0].text


def record(values: np.ndarray, *, end: pd.Timestamp = AS_OF, uncertainty: float = 3.0) -> AirRecord:
    index = pd.date_range(end=end, periods=len(values), freq="h", tz="UTC", name="time_utc").as_unit("us")
    readings = pd.DataFrame({"rh_percent": values, "temperature_celsius": 20.0}, index=index, dtype="float64")
    return AirRecord(readings=readings, n_readings=len(values), uncertainty_percent=uncertainty)


def test_recent_figures_of_a_step() -> None:
    # 20 days at 50, then 10 days at 40 %RH: one crossing hour of the straight line between them.
    values = np.concatenate([np.full(480, 50.0), np.full(241, 40.0)])
    found = recent_air(record(values), None, frame=FRAME, as_of=AS_OF)
    assert found.mean_7d_percent == pytest.approx(40.0)
    assert found.hours_covered == pytest.approx(720.0)
    assert found.hours_below == pytest.approx(240.5)  # 45 lies half-way down the step of one hour
    assert found.hours_below_beyond_doubt == pytest.approx(240.2)  # 42 lies at 0.8 of it
    assert found.hours_outside_7d == pytest.approx(168.0)
    assert found.largest_change_24h_percent == pytest.approx(10.0)
    assert found.hours_damp == 0.0


def test_damp_counts_readings_exactly_at_the_limit() -> None:
    assert recent_air(record(np.full(49, 75.0)), None, frame=FRAME, as_of=AS_OF).hours_damp == pytest.approx(48.0)


def test_recent_figures_begin_after_the_frame_was_last_open() -> None:
    values = np.concatenate([np.full(672, 38.0), np.full(49, 50.0)])
    opened = replace(FRAME, events=(Event(time_utc=AS_OF - 61 * pd.Timedelta(hours=1), kind="reconditioned"),))
    found = recent_air(record(values), None, frame=opened, as_of=AS_OF)
    assert found.mean_7d_percent == pytest.approx(50.0, abs=0.2)
    assert found.hours_covered == pytest.approx(49.0)
    too_fresh = replace(FRAME, events=(Event(time_utc=AS_OF - 30 * pd.Timedelta(hours=1), kind="opened"),))
    assert recent_air(record(values), None, frame=too_fresh, as_of=AS_OF).mean_7d_percent is None


def test_flagged_readings_of_the_last_month_are_counted() -> None:
    values = np.full(2000, 50.0)
    values[-360:] = np.nan
    found = recent_air(record(values), None, frame=FRAME, as_of=AS_OF)
    assert found.flagged_share == pytest.approx(360 / 721)
    assert recent_air(record(np.full(48, np.nan)), None, frame=FRAME, as_of=AS_OF).flagged_share == 1.0


def test_room_extremes_need_most_of_a_year() -> None:
    hours = np.arange(365 * 24)
    swing = 50 + 8 * np.sin(2 * np.pi * hours / (365 * 24))
    found = recent_air(None, record(swing), frame=FRAME, as_of=AS_OF)
    assert found.room_lowest_7d_percent == pytest.approx(42.0, abs=0.05)
    assert found.room_highest_7d_percent == pytest.approx(58.0, abs=0.05)
    assert recent_air(None, record(swing[-299 * 24 :]), frame=FRAME, as_of=AS_OF).room_lowest_7d_percent is None


def test_largest_change_takes_a_closed_day() -> None:
    index = pd.DatetimeIndex(["2026-01-01T00:00Z", "2026-01-02T00:00Z", "2026-01-03T01:00Z"])
    series = pd.Series([50.0, 56.0, 70.0], index=index)
    change, end = largest_change_within_a_day(series)
    assert change == pytest.approx(6.0)  # exactly 24 h apart counts, 25 h does not
    assert end == index[1]
