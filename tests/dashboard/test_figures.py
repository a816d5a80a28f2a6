"""What the record figure shows, against counts made without it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from dash.exceptions import PreventUpdate

from isohume.analysis.assess import assess
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.results import Assessment
from isohume.dashboard import ids
from isohume.dashboard.figures.before_after import before_after_figure
from isohume.dashboard.figures.exchange import SWINGS, gain_figure, measured_ratios, step_figure
from isohume.dashboard.figures.flags import draw_flags
from isohume.dashboard.figures.forecast import forecast_figure
from isohume.dashboard.figures.movement import movement_figure, strain_figure
from isohume.dashboard.figures.record import humidity_range, outside_only, record_figure
from isohume.dashboard.figures.seal import seal_figure
from isohume.dashboard.figures.season import season_figure
from isohume.dashboard.figures.time_axis import seconds_from_wall_clock, wall_clock_ms
from isohume.dashboard.record_window import DAY, choose_window
from isohume.dashboard.theme import new_figure
from isohume.dashboard.views import FrameStore
from isohume.ingest.flags import Flag
from isohume.ingest.handover import flag_runs

BERLIN = "Europe/Berlin"
NOW = pd.Timestamp("2026-11-20T07:00Z")


def test_wall_clock_agrees_with_zoneinfo_around_both_changes() -> None:
    # Checked against the standard library's own reading of the time zone database.
    for day in ("2026-03-29", "2026-10-25", "2026-07-01"):
        seconds = pd.Timestamp(day, tz="UTC").timestamp() + 900.0 * np.arange(96)
        expected = [
            datetime.fromtimestamp(t, ZoneInfo(BERLIN)).replace(tzinfo=UTC).timestamp() * 1000 for t in seconds
        ]
        assert wall_clock_ms(seconds, BERLIN).tolist() == expected


def test_a_reported_time_is_read_back_in_the_zone_of_the_site() -> None:
    seconds = seconds_from_wall_clock("2026-07-01 12:00:00.5", BERLIN)
    assert seconds == pd.Timestamp("2026-07-01T10:00:00.5Z").timestamp()
    # 25 Oct 2026, 02:30 happens twice in Berlin: the first is summer time, UTC+2.
    assert seconds_from_wall_clock("2026-10-25 02:30", BERLIN) == pd.Timestamp("2026-10-25T00:30Z").timestamp()
    # 29 Mar 2026, 02:30 does not happen: the clock shows 03:00, UTC+2.
    assert seconds_from_wall_clock("2026-03-29 02:30", BERLIN) == pd.Timestamp("2026-03-29T01:00Z").timestamp()


def test_what_lies_outside_the_band_is_drawn_from_crossing_to_crossing() -> None:
    times = np.arange(6.0)
    values = np.array([50.0, 40.0, 50.0, np.nan, 60.0, 50.0])
    x, y = outside_only(times, values, (45.0, 55.0))
    # By hand: down through 45 at 0.5, lowest at 1, back at 1.5; after the gap from 60 at 4 to 55 at 4.5.
    finite = ~np.isnan(y)
    assert x[finite].tolist() == [0.5, 1.0, 1.5, 4.0, 4.5]
    assert y[finite].tolist() == [45.0, 40.0, 45.0, 60.0, 55.0]
    assert np.isnan(y[(x > 1.5) & (x < 4.0)]).any(), "two excursions are two lines"


def test_nothing_is_drawn_over_a_record_within_its_band() -> None:
    x, _ = outside_only(np.arange(3.0), np.array([50.0, 45.0, 55.0]), (45.0, 55.0))
    assert x.size == 0


def test_the_humidity_axis_never_leaves_its_scale() -> None:
    assert humidity_range([np.array([1.0, 99.5])], (45.0, 55.0)) == [0.0, 100.0]
    low, high = humidity_range([np.array([50.0, 50.1])], None)
    assert high - low == pytest.approx(12.0)


def test_the_record_figure_keeps_the_extremes_of_its_window(store: FrameStore) -> None:
    record, view = store.record("F02"), store.frame("F02")
    figure = record_figure(
        record,
        window=record.span,
        zone=BERLIN,
        band=view.facts.band,
        excursions=view.assessment.band.excursions,
        events=view.facts.events,
    )
    inside = next(trace for trace in figure.data if trace.name == "Inside")
    assert np.nanmin(inside.y) == np.float32(record.inside_rh.quantity.min())
    assert np.nanmax(inside.y) == np.float32(record.inside_rh.quantity.max())
    assert np.isnan(inside.y).sum() == 1, "the record has one gap of 200 hours"
    told = next(trace for trace in figure.data if trace.name == "Event")
    assert "<b>" not in " ".join(told.customdata), "a note from data is text"


def test_the_season_figure_marks_lowest_and_highest(store: FrameStore) -> None:
    view = store.frame("F01")
    figure = season_figure(store.record("F01"), view=view, zone=BERLIN)
    marks = next(trace for trace in figure.data if trace.mode == "markers+text")
    assert list(marks.y) == [view.assessment.drift.lowest30d.percent, view.assessment.drift.highest30d.percent]


def test_an_estimate_is_drawn_as_one_and_nothing_as_logged(store: FrameStore) -> None:
    record, view = store.record("F08"), store.frame("F08")
    series = view.assessment.estimate.series
    figure = record_figure(record, window=record.span, zone=BERLIN, band=None, estimate=series)
    drawn = {trace.name: trace for trace in figure.data}
    assert drawn["Inside, estimated"].line.dash == "6px,4px"
    assert np.asarray(drawn["Inside, estimated"].y) == pytest.approx(series["median"].to_numpy(), abs=1e-4)
    interval = drawn["Inside, estimated: 95 % interval"]
    assert interval.fillpattern.shape == "/"
    assert np.asarray(interval.y) == pytest.approx(series["low"].to_numpy(), abs=1e-4)
    assert len(drawn["Inside"].y) == 0


@pytest.fixture(scope="module")
def real(store: FrameStore) -> tuple[Assessment, FrameFacts]:
    """Findings of a real assessment over invented series: a panel in a frame that follows its room in 40 days."""
    inside, outside = store.air("F02")
    done = Event(time_utc=NOW - pd.Timedelta(days=150), kind="reconditioned", rh_percent=50)
    facts = replace(store.frame("F02").facts, events=(done,))
    return assess(inside, outside, frame=facts, as_of=NOW), facts


def test_the_step_is_drawn_through_the_half_time_and_its_interval(real: tuple[Assessment, FrameFacts]) -> None:
    found = real[0].exchange
    figure = step_figure(real[0].curves.step_response, found)
    inside = next(trace for trace in figure.data if trace.name == "Inside")
    # Half of a fall from 50 to 40 %RH is 45 %RH.
    assert np.interp(found.half_time_days, inside.x, inside.y) == pytest.approx(45.0, abs=0.02)
    share = real[0].curves.step_response
    days = share.index.to_numpy()
    fast, slow = np.interp(0.5, share["high"], days), np.interp(0.5, share["low"], days)
    assert fast == pytest.approx(found.half_time_low, rel=0.03)
    assert slow == pytest.approx(found.half_time_high, rel=0.03)
    assert np.interp(1.0, days, share["share"]) == pytest.approx(found.share_after_24h, rel=0.02)


def test_gains_are_drawn_beside_one_over_the_measured_ratios(real: tuple[Assessment, FrameFacts]) -> None:
    found = real[0]
    figure = gain_figure(found.exchange.gain, measured_ratios(found.buffering))
    model = next(trace for trace in figure.data if trace.name == "By the model")
    drawn = dict(zip(model.y, model.x, strict=True))
    for key, name in SWINGS.items():
        gain = found.exchange.gain[key]
        place = list(model.y).index(f"Swing of {name}")
        assert drawn[f"Swing of {name}"] == pytest.approx(100 * gain.gain)
        assert model.x[place] + model.error_x.array[place] == pytest.approx(100 * gain.high)
        assert model.x[place] - model.error_x.arrayminus[place] == pytest.approx(100 * gain.low)
    seen = next(trace for trace in figure.data if trace.name == "As measured")
    measured = dict(zip(seen.y, seen.x, strict=True))
    weekly = found.buffering.weekly
    assert measured["Swing of a week"] == pytest.approx(100 / weekly.ratio)
    place = list(seen.y).index("Swing of a week")
    assert seen.x[place] + seen.error_x.array[place] == pytest.approx(100 / weekly.low)
    assert measured["Swing of a year"] == pytest.approx(100 / found.buffering.seasonal.ratio)


def test_the_seal_check_draws_every_date_it_tried(real: tuple[Assessment, FrameFacts]) -> None:
    scan = real[0].curves.seal_scan
    figure = seal_figure(scan, real[0].seal, zone="UTC")
    evidence = figure.data[0]
    assert len(evidence.x) == len(scan)
    assert np.asarray(evidence.customdata) == pytest.approx(scan["log_likelihood_ratio"].to_numpy(), abs=0.06)
    assert np.asarray(evidence.y) == pytest.approx(scan["log_likelihood_ratio"].clip(lower=1).to_numpy())
    assert real[0].seal.changed is False
    assert figure.layout.shapes[-1].type == "line"
    assert len(figure.layout.shapes) == 2, "two limits, and no date where nothing changed"


def test_the_movement_drawn_is_the_movement_found(real: tuple[Assessment, FrameFacts]) -> None:
    found, course = real[0].panel, real[0].curves.movement
    figure = movement_figure(course, zone=BERLIN, conditioned_percent=50)
    for name, key in (("In its frame", "framed"), ("Unframed in the room", "unframed")):
        drawn = np.asarray(next(trace.y for trace in figure.data if trace.name == name))
        # Beyond 6 to 14 % moisture content the strain is not quite linear, so the zero matters a little.
        assert drawn.max() - drawn.min() == pytest.approx(found[f"movement_{key}_mm"], rel=0.03)
    assert course["framed"].iloc[-1] == pytest.approx(found["movement_since_conditioning_mm"], abs=1e-6)
    strains = {"In its frame": found["strain_framed_percent"], "Unframed": found["strain_unframed_percent"]}
    bars = strain_figure(strains, {"yield": 0.4}).data[0]
    assert dict(zip(bars.y, bars.x, strict=True)) == strains


def test_before_and_after_are_drawn_with_their_intervals(real: tuple[Assessment, FrameFacts]) -> None:
    (done,) = real[0].interventions
    figure = before_after_figure(done)
    drawn = {(trace.y[0], trace.mode): list(trace.x) for trace in figure.data}
    for name, side in (("Before", done.before), ("After", done.after)):
        assert drawn[name, "lines"] == [side.half_time_low, side.half_time_high]
        assert drawn[name, "markers+text"] == [side.half_time_days]
    nothing = replace(done, before=None, after=None)
    assert before_after_figure(nothing) is None


def test_the_forecast_is_drawn_as_found_with_its_dates(real: tuple[Assessment, FrameFacts]) -> None:
    found = real[0].forecast
    dates = {"earliest plausible": found.earliest_plausible, "leaves by": found.leave_by}
    figure = forecast_figure(found.series, band=(45, 55), zone="UTC", dates=dates)
    drawn = {trace.name: np.asarray(trace.y) for trace in figure.data}
    assert drawn["Median course"] == pytest.approx(found.series["median"].to_numpy(), abs=1e-4)
    assert drawn["Eight courses in ten"] == pytest.approx(found.series["low10"].to_numpy(), abs=1e-4)
    named = {note.text: note.x for note in figure.layout.annotations}
    for name, date in dates.items():
        assert (name in named) == (date is not None)
        if date is not None:
            assert named[name] == pytest.approx(date.timestamp() * 1000, abs=1000)


def test_flags_are_drawn_where_they_stand_with_words() -> None:
    times = pd.date_range("2026-01-01", periods=100, freq="h", tz="UTC")
    masks = np.zeros(100, dtype=np.uint32)
    masks[10], masks[50:55] = int(Flag.RH_SPIKE), int(Flag.RH_OUTLIER)
    runs = [("inside", run) for run in flag_runs(times, masks)]
    figure = new_figure(height=100)
    window = (times[0].timestamp(), times[-1].timestamp())
    draw_flags(figure, runs, window=window, zone="UTC")
    drawn = figure.data[0]
    seconds = np.asarray(drawn.x)[~np.isnan(np.asarray(drawn.x, dtype=float))] / 1000
    assert seconds.tolist() == [times[place].timestamp() for place in (10, 10, 50, 54)]
    assert "rh spike: 1 reading, left out" in drawn.customdata
    assert "rh outlier: 5 readings, counted" in drawn.customdata
    elsewhere = new_figure(height=100)
    draw_flags(elsewhere, runs, window=(window[1] + 10, window[1] + 20), zone="UTC")
    assert not elsewhere.data


SPAN = (1.7e9, 1.7e9 + 1000 * DAY)


def choose(trigger: object, **given: object) -> tuple[tuple[float, float], str | None]:
    asked = {"asked": None, "relayout": None, "period": None, "window": None, "span": SPAN, "zone": BERLIN, **given}
    return choose_window(trigger, **asked)


def test_a_long_record_opens_with_its_last_twelve_months() -> None:
    assert choose(None) == ((SPAN[1] - 365 * DAY, SPAN[1]), "365")
    short = (SPAN[0], SPAN[0] + 400 * DAY)
    assert choose(None, span=short) == (short, "all")


def test_an_address_opens_the_stretch_it_names() -> None:
    asked = [SPAN[0] + DAY, SPAN[0] + 2 * DAY]
    assert choose(None, window=asked, period="start") == (tuple(asked), None)


def test_dragging_looks_closer_and_double_click_shows_all() -> None:
    chosen, period = choose(
        ids.FRAME_RECORD,
        relayout={"xaxis.range[0]": "2024-01-10 00:00", "xaxis.range[1]": "2024-01-12 00:00"},
        period="365",
    )
    assert chosen == (pd.Timestamp("2024-01-09T23:00Z").timestamp(), pd.Timestamp("2024-01-11T23:00Z").timestamp())
    assert period is None
    assert choose(ids.FRAME_RECORD, relayout={"xaxis.autorange": True}) == (SPAN, "all")
    with pytest.raises(PreventUpdate):
        choose(ids.FRAME_RECORD, relayout={"autosize": True})


def test_stepping_stays_within_the_record() -> None:
    window = [SPAN[1] - 30 * DAY, SPAN[1]]
    assert choose(ids.FRAME_LATER, window=window) == (tuple(window), None)
    assert choose(ids.FRAME_EARLIER, window=window)[0] == (SPAN[1] - 45 * DAY, SPAN[1] - 15 * DAY)


def test_an_excursion_is_shown_with_its_surroundings() -> None:
    stretch = [SPAN[0] + 10 * DAY, SPAN[0] + 12 * DAY, 1.0]
    assert choose(ids.FRAME_ASKED, asked=stretch)[0] == (SPAN[0] + 10 * DAY, SPAN[0] + 12 * DAY)
