"""Findings as sentences: figures with units, unknown said as unknown, and no leftovers of the program."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from isohume.analysis import phrases
from isohume.analysis.estimated_inside import EstimatedInside, KnownHalfTime
from isohume.analysis.frame import FrameFacts
from isohume.analysis.results import (
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
from isohume.analysis.wording import forecast_in_words, in_words
from isohume.analysis.wording_events import NOT_EVIDENCE, estimate_in_words

T = pd.Timestamp("2026-11-20T23:30Z")  # already the 21st in Berlin
FRAME = FrameFacts(band=(45.0, 55.0), conditioned_percent=50.0, time_zone="Europe/Berlin")
RATIO = Ratio(ratio=5.24, low=4.1, high=6.61)
KNOWN = Assessment(
    as_of=T,
    period=Period(start_utc=T, end_utc=T, hours_inside_covered=8000.4, hours_both_covered=7000.0, coverage=0.998),
    band=BandFinding(
        low=45.0,
        high=55.0,
        hours_below=30.25,
        hours_above=0.0,
        hours_covered=8000.4,
        share_within=0.9962,
        hours_outside_beyond_doubt=0.0,
        hours_outside_possible=512.0,
        deficit_percent_hours=12.0,
        excess_percent_hours=0.0,
        uncertainty_percent=2.0,
        excursions=(
            Excursion(
                start_utc=T,
                end_utc=T,
                hours=30.25,
                side="below",
                extreme_percent=43.21,
                extreme_utc=T,
                cut_by_gap=False,
                open_at_start=False,
                ongoing=True,
            ),
        ),
    ),
    buffering=BufferingFinding(
        daily=replace(RATIO, at_floor=True),
        daily_temperature_removed=RATIO,
        weekly=RATIO,
        seasonal=Ratio(ratio=None, why="Too short: 100 days."),
        lag_hours=3.0,
        temperature_share_of_daily=0.91,
    ),
    drift=DriftFinding(
        mean30d_percent=47.5,
        departure_percent=-2.5,
        slope_percent_per_30d=-1.25,
        slope_low=-2.0,
        slope_high=-0.5,
        lowest30d=DatedMean(percent=44.0, date=T),
        highest30d=None,
        annual=None,
        why="No annual cycle: 200 days, 300 needed.",
    ),
    exchange=ExchangeFinding(
        determined=True,
        half_time_days=61.2,
        half_time_low=55.0,
        half_time_high=68.0,
        reference_celsius=20.3,
        share_after_24h=0.035,
        gain={"1y": Gain(gain=0.61)},
        notes=("Two reservoirs",),
    ),
    forecast=ForecastFinding(
        horizon_days=365.0,
        room="fitted",
        earliest_plausible=T,
        leave_by=T,
        chance_outside_at_horizon=0.97,
        back_test_share_in_80=0.81,
    ),
    seal=SealFinding(changed=True, date=T, factor=3.04, factor_low=2.1, factor_high=4.5),
    panel={
        "movement_framed_mm": 0.214,
        "movement_unframed_mm": 1.3,
        "movement_period_days": 365.0,
        "notes": ("A note",),
    },
    dew_point={"why": "No surface was measured."},
    standing=Standing(
        name="leaving band",
        direction="too dry",
        reasons=(Reason(rule="leaving soon", text="May leave."),),
        next_step="Plan.",
        by=T,
    ),
    data=DataQuality(name="sound", reasons=(Reason(rule="sound", text="Nothing speaks against it."),)),
)
UNKNOWN = replace(
    KNOWN,
    band=None,
    buffering=BufferingFinding(
        **dict.fromkeys(
            ("daily", "daily_temperature_removed", "weekly", "seasonal"), Ratio(ratio=None, why="no room record")
        ),
        lag_hours=None,
    ),
    drift=DriftFinding(
        mean30d_percent=None,
        departure_percent=None,
        slope_percent_per_30d=None,
        slope_low=None,
        slope_high=None,
        lowest30d=None,
        highest30d=None,
        annual=None,
        why="Too short.",
    ),
    exchange=ExchangeFinding(determined=False, why="The room was too even.", half_time_at_least=20.0),
    forecast=ForecastFinding(why="The exchange model is not determined."),
    seal=SealFinding(changed=None, why="Too short.", smallest_detectable=4.0),
    panel={"why": "The panel is not recorded."},
    standing=Standing(
        name="cannot tell", reasons=(Reason(rule="missing", text="Nothing is known."),), next_step="Wait."
    ),
)


def said(assessment: Assessment) -> dict[str, str]:
    return {section.heading: " ".join(section.sentences) for section in in_words(assessment, frame=FRAME)}


@pytest.mark.parametrize("assessment", [KNOWN, UNKNOWN], ids=["known", "unknown"])
def test_every_section_speaks_in_whole_sentences(assessment: Assessment) -> None:
    for section in in_words(assessment, frame=FRAME):
        assert section.sentences, section.heading
        for sentence in section.sentences:
            assert sentence.endswith("."), sentence
            assert not any(word in sentence for word in ("None", "nan", "Timestamp", "..", "{", "  ")), sentence


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("What it needs", "Leaving band (too dry), by 21 Nov 2026."),
        ("Period", "inside covered 8 000 h (over 99.5 %)"),
        ("Hours outside the band", "Outside 45–55 %RH for 30.2 h of 8 000 h covered, as read: 30.2 h below"),
        ("Hours outside the band", "1 excursion; the longest 30.2 h below the band from 21 Nov 2026"),
        ("Hours outside the band", "extreme 43.2 %RH, not over yet."),
        ("Buffering", "Day by day: at least 5.2 (95 % interval 4.1 to 6.6)."),
        ("Buffering", "Season by season: cannot say, too short: 100 days."),
        ("Season and drift", "−2.5 %RH from the 50 %RH of conditioning"),
        ("Season and drift", "−1.2 %RH per 30 days (95 % interval −2.0 %RH to −0.5 %RH)"),
        ("Exchange with the room", "after 61 days (95 % interval 55 days to 68 days) at 20.3 °C."),
        ("Exchange with the room", "Of the room's swing over a year 61 % reaches the inside."),
        ("Forecast", "Chance of having left it within 365 days: 97 %."),
        ("Seal check", "Leakage changed around 21 Nov 2026 by a factor of 3.0 (95 % interval 2.1 to 4.5)."),
        ("Panel", "moved by 0.21 mm over 365 days; unframed in the room it would have moved by 1.30 mm."),
    ],
)  # fmt: skip
def test_figures_stand_with_unit_interval_and_local_date(heading: str, words: str) -> None:
    assert words in said(KNOWN)[heading]


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("Hours outside the band", "cannot be counted"),
        ("Exchange with the room", "cannot be told: the room was too even. The half-time is at least 20 days."),
        ("Forecast", "No forecast: the exchange model is not determined."),
        ("Seal check", "Cannot say: too short."),
    ],
)
def test_unknown_is_said_with_its_reason(heading: str, words: str) -> None:
    assert words in said(UNKNOWN)[heading]


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0351, "0.035"), (1.0, "1.0"), (3.04, "3.0"), (9.96, "10"), (14.4, "14"), (1234.0, "1200"), (0.0, "0")],
)
def test_significant_figures(value: float, text: str) -> None:
    assert phrases.significant(value) == text


@pytest.mark.parametrize(
    ("share", "text"), [(0.0, "0 %"), (0.001, "under 0.5 %"), (0.5, "50 %"), (0.9999, "over 99.5 %"), (1.0, "100 %")]
)
def test_a_share_is_whole_only_if_it_is(share: float, text: str) -> None:
    assert phrases.share(share) == text


def test_a_moment_carries_its_offset() -> None:
    assert phrases.moment(T, time_zone="Europe/Berlin") == "21 Nov 2026 00:30 (UTC+01:00)"
    assert phrases.day(T, time_zone="UTC") == "20 Nov 2026"


def test_an_estimate_is_marked_wherever_it_is_said() -> None:
    days = pd.date_range(T, periods=30, freq="D")
    estimate = EstimatedInside(
        series=pd.DataFrame({"median": 47.0, "low": 43.0, "high": 51.0}, index=days),
        half_time=KnownHalfTime(days=40.0, source="sister frame"),
        strip_differences=((T, 1.5),),
        notes=("Estimated from its room.",),
    )
    found = replace(KNOWN, estimate=estimate)
    said = estimate_in_words(found, time_zone="UTC")
    assert said[0] == "Estimated: 47.0 %RH on 19 Dec 2026, with 95 % confidence between 43.0 %RH and 51.0 %RH."
    assert any("+1.5 %RH from it" in one for one in said)
    assert said[-1] == NOT_EVIDENCE
    assert "Inside, estimated" in {section.heading for section in in_words(found, frame=FRAME)}
    why = replace(KNOWN, no_estimate="No room.")
    assert estimate_in_words(why, time_zone="UTC") == ("The inside cannot be estimated: no room.",)
    assert estimate_in_words(KNOWN, time_zone="UTC") == ()


def test_a_frame_that_is_outside_is_not_said_to_leave_soon() -> None:
    fan = pd.DataFrame({"median": [57.0], "low10": [56.0], "high90": [58.0]}, index=pd.DatetimeIndex([T]))
    already = replace(
        KNOWN.forecast, leave_by=T, earliest_plausible=T, chance_outside_at_horizon=1.0, horizon_days=365.0, series=fan
    )
    assert already.is_outside_now
    text = " ".join(forecast_in_words(already, time_zone="Europe/Berlin"))
    assert text.startswith("Outside its band now")
    assert "May leave" not in text
    later = replace(already, leave_by=T + pd.Timedelta(days=1), earliest_plausible=T)
    assert "May leave" in " ".join(forecast_in_words(later, time_zone="Europe/Berlin"))
