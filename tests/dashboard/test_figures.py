"""What the record figure shows, against counts made without it."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.figures.record import humidity_range, outside_only, record_figure
from isohume.dashboard.figures.season import season_figure
from isohume.dashboard.figures.time_axis import seconds_from_wall_clock, wall_clock_ms
from isohume.dashboard.pages.frame import DAY, choose_window
from isohume.dashboard.views import FrameStore

BERLIN = "Europe/Berlin"


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
