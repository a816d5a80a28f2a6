"""A small invented collection for the pages, drawn from synthetic series: no archive, no files, no analysis."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.dew_point import dew_point
from isohume.analysis.estimated_inside import EstimatedInside, KnownHalfTime
from isohume.analysis.frame import Event, FrameFacts, Panel
from isohume.analysis.panel import panel
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
from isohume.dashboard.drawn_record import DrawnRecord
from isohume.dashboard.views import (
    FileAccount,
    FrameSummary,
    FrameView,
    Site,
    SmallPicture,
    UnknownFrameError,
)

NOW = pd.Timestamp("2026-11-20T07:00Z")
ZONE = "Europe/Berlin"
BAND = (45.0, 55.0)
# frame, painting, room, standing, direction, data, reason
STORIES: tuple[tuple[str, str, str, str, str | None, str, str], ...] = (
    ("F04", "Woman at a Well, oil on limewood", "South cabinet", "damp risk", None, "sound",
     "Inside at or above 75 %RH for 61 h of the last 30 days; limit 48 h."),
    ("F02", "Harbour under Snow, oil on oak panel", "North gallery", "needs reconditioning", "too dry", "sound",
     "7-day mean 41.2 %RH, 3.8 %RH below the band 45–55 %RH, farther than the logger’s uncertainty of ±2 %RH."),
    ("F07", "Two Hares, tempera on poplar", "South cabinet", "needs reconditioning", "too damp", "doubtful",
     "62 h outside the band by more than the logger’s uncertainty in the last 30 days; limit 48 h."),
    ("F03", "Still Life with Quinces, oil on hardboard", "North gallery", "check seal", None, "sound",
     "The leakage grew 2.4 times around 3 Mar 2026 (1.9 to 3.1)."),
    ("F05", "Saint with a Ladder, oil on oak panel", "North gallery", "leaving band", "too dry", "sound",
     "Earliest plausible date of leaving the band 14 Jan 2027, within 90 days."),
    ("F09", "River Landscape", "Store", "steady", None, "stale",
     "A band is agreed and the forecast stays inside."),
    ("F01", "Portrait of a Glassmaker, oil on walnut", "North gallery", "steady", None, "sound",
     "A band is agreed and the forecast stays inside."),
    ("F06", "<script>alert(1)</script> & Sons", "Store", "cannot tell", None, "too little",
     "Within its band now, forecast unknown: 18 days of record."),
    ("F08", "Orchard, oil on canvas board", "Store", "cannot tell", None, "doubtful",
     "No logger inside: estimated from 4 strip readings and the room."),
)  # fmt: skip


def room_and_inside(n_hours: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Room and inside humidity and a temperature: season and weather, the inside following with 40 days."""
    rng = np.random.default_rng(seed)
    hours = np.arange(n_hours)
    season = np.cos(2 * np.pi * (hours / 24 - 40) / 365.25)
    weather = np.empty(n_hours)
    value = 0.0
    for place, push in enumerate(rng.normal(0, 0.55, n_hours)):
        value = 0.985 * value + push
        weather[place] = value
    room = 47 - 11 * season + weather + 1.5 * np.sin(2 * np.pi * hours / 24)
    inside = np.empty(n_hours)
    level, k = room[: 24 * 30].mean() + 6, 1 - 0.5 ** (1 / (24 * 40))
    for place in range(n_hours):
        level += k * (room[place] - level)
        inside[place] = level
    temperature = 20 - 1.5 * season + 0.4 * np.sin(2 * np.pi * hours / 24) + 0.02 * weather
    return room, inside + rng.normal(0, 0.15, n_hours), temperature


class FakeStore:
    """Implements `FrameStore` over synthetic series."""

    def __init__(self, *, n_copies: int = 1, step: str = "h", n_years: float = 1.17) -> None:
        self.n_copies, self.step, self.n_years = n_copies, step, n_years

    def site(self) -> Site:
        return Site(name="Flusstor Museum (invented)", time_zone=ZONE, invented=True, now=NOW)

    def _stories(self) -> list[tuple[str, ...]]:
        if self.n_copies == 1:
            return list(STORIES)
        return [(f"{story[0]}-{copy:03d}", *story[1:]) for story in STORIES for copy in range(self.n_copies)]

    @cache  # noqa: B019 - a store lives as long as its test
    def series(self, seed: int) -> pd.DataFrame:
        n_hours = int(self.n_years * 8766)
        room, inside, temperature = room_and_inside(n_hours, seed)
        index = pd.date_range(end=NOW, periods=n_hours, freq="h")
        frame = pd.DataFrame({"room": room, "inside": inside, "temperature": temperature}, index=index)
        if self.step != "h":
            frame = frame.resample(self.step).interpolate()
        else:
            frame.iloc[3000:3200, 1] = np.nan
        return frame

    @cache  # noqa: B019 - as above
    def summaries(self) -> tuple[FrameSummary, ...]:
        return tuple(self._summary(story) for story in self._stories())

    def _summary(self, story: tuple[Any, ...]) -> FrameSummary:
        frame_id, painting, room, name, direction, data, reason = story
        series = self.series(_seed(frame_id)).iloc[-8736:]
        weeks = np.arange(len(series)) // 168
        daily = series["room"].groupby(np.arange(len(series)) // 24).mean().to_numpy()
        week_of_day = np.arange(daily.size) // 7
        by = NOW if name in ("damp risk", "needs reconditioning") else None
        if name == "leaving band":
            by = NOW + pd.Timedelta(days=13)
        return FrameSummary(
            frame_id=frame_id,
            painting=painting,
            room=room,
            lifecycle="hanging",
            band=BAND,
            standing=Standing(
                name=name, direction=direction, by=by,
                reasons=(Reason(rule="a rule", text=reason, value=41.2, limit=45.0, unit="%RH"),),
                next_step="Show the frame to the conservator; A. Sommer may open it. Agree the water to add before.",
            ),
            data=DataQuality(
                name=data,
                reasons=(Reason(rule="record", text="98 % of the hours are covered; calibrated on 15 Jan 2026."),),
            ),
            newest_utc=None if data == "too little" else NOW - pd.Timedelta(days=61 if data == "stale" else 3),
            estimated=frame_id.startswith("F08"),
            needs_decision=name not in ("steady", "cannot tell") or data == "stale",
            changed=None,
            picture=SmallPicture(
                end_utc=NOW,
                inside=series["inside"].groupby(weeks).mean().to_numpy(),
                room_low=pd.Series(daily).groupby(week_of_day).min().to_numpy(),
                room_high=pd.Series(daily).groupby(week_of_day).max().to_numpy(),
            ),
        )  # fmt: skip

    def known_summaries(self) -> tuple[FrameSummary, ...]:
        return self.summaries()

    def unassessed(self) -> tuple[str, ...]:
        return ()

    def complete(self, frame_ids: Any = None, *, progress: Any = None) -> None:
        """Everything is known."""

    def known_frame(self, frame_id: str) -> FrameView:
        return self.frame(frame_id)

    def frame(self, frame_id: str) -> FrameView:
        frames = self.summaries()
        ids = [frame.frame_id for frame in frames]
        if frame_id not in ids:
            raise UnknownFrameError(frame_id)
        place = ids.index(frame_id)
        summary = frames[place]
        facts = FrameFacts(
            frame_id=frame_id,
            painting=summary.painting,
            band=BAND,
            conditioned_percent=50.0,
            conditioned_on=NOW - pd.Timedelta(days=400),
            panel=Panel(species="Oak, white (Quercus alba)", cut="quarter-sawn", width_mm=320, thickness_mm=9),
            events=(
                Event(time_utc=NOW - pd.Timedelta(days=400), kind="sealed"),
                Event(time_utc=NOW - pd.Timedelta(days=200), kind="strip read", rh_percent=47, note="<b>by eye</b>"),
            ),
            owner="Flusstor Museum (invented)",
            opened_by="A. Sommer",
            time_zone=ZONE,
        )
        return FrameView(
            facts=facts,
            room=summary.room,
            estimated=summary.estimated,
            newest_utc=summary.newest_utc,
            assessment=self._assessment(summary, facts),
            files=_files(),
            previous_id=ids[place - 1] if place else None,
            next_id=ids[place + 1] if place + 1 < len(ids) else None,
        )

    def _assessment(self, summary: FrameSummary, facts: FrameFacts) -> Assessment:
        series = self.series(_seed(summary.frame_id))
        whole = assessment(series["inside"])
        inside, outside = (air(series[place], series["temperature"]) for place in ("inside", "room"))
        # Real findings where their keys are the contract.
        whole = replace(whole, panel=panel(inside, outside, frame=facts), dew_point=dew_point(inside, outside))
        if summary.data.name == "too little":
            short = Ratio(ratio=None, why="18 days of record; 30 are needed for this scale.")
            whole = replace(
                whole,
                band=None,
                buffering=BufferingFinding(
                    daily=short, daily_temperature_removed=short, weekly=short, seasonal=short, lag_hours=None,
                    why="the records overlap for 18 days only.",
                ),
                exchange=ExchangeFinding(determined=False, why="18 days of record.", half_time_at_least=9.0),
            )  # fmt: skip
        if summary.estimated:
            whole = replace(whole, band=None, estimate=estimated(series["inside"]))
        return replace(whole, standing=summary.standing, data=summary.data)

    @cache  # noqa: B019 - as above
    def air(self, frame_id: str) -> tuple[AirRecord | None, AirRecord]:
        is_estimated = self.frame(frame_id).estimated
        series = self.series(_seed(frame_id))
        temperature = series["temperature"]
        inside = None if is_estimated else air(series["inside"], temperature + 0.2)
        return inside, air(series["room"], temperature)

    @cache  # noqa: B019 - as above
    def record(self, frame_id: str) -> DrawnRecord:
        return DrawnRecord(*self.air(frame_id))


def _seed(frame_id: str) -> int:
    return int(frame_id[2])


def estimated(inside: pd.Series) -> EstimatedInside:
    """What is said of the inside of a frame that has no logger, here drawn from the series that nobody logged."""
    daily = inside.resample("D").mean().interpolate()
    return EstimatedInside(
        series=pd.DataFrame({"median": daily, "low": daily - 4, "high": daily + 4}),
        half_time=KnownHalfTime(days=40, source="sister frame"),
        strip_differences=((NOW - pd.Timedelta(days=200), 1.2),),
        notes=("Estimated from the room's record and 1 strip reading; nothing was logged inside.",),
    )


def air(rh_percent: pd.Series, temperature_celsius: pd.Series) -> AirRecord:
    """Make an air record of two series."""
    return AirRecord(
        readings=pd.DataFrame({"rh_percent": rh_percent, "temperature_celsius": temperature_celsius}),
        n_readings=len(rh_percent),
    )


def assessment(inside: pd.Series) -> Assessment:
    """All findings, with figures that look like a frame's."""
    start, end = inside.index[0], inside.index[-1]
    low, high = BAND
    below, above = int((inside < low).sum()), int((inside > high).sum())
    outside = (inside < low).to_numpy()
    edges = np.flatnonzero(np.diff(outside.astype(int)))
    excursions = tuple(
        Excursion(
            start_utc=inside.index[a + 1], end_utc=inside.index[b], hours=float(b - a), side="below",
            extreme_percent=float(inside.iloc[a + 1 : b + 1].min()), extreme_utc=inside.iloc[a + 1 : b + 1].idxmin(),
            cut_by_gap=False, open_at_start=False, ongoing=b == edges[-1],
        )
        for a, b in pairwise(edges)
        if outside[a + 1]
    )  # fmt: skip
    monthly = inside.resample("D").mean().rolling(30, center=True).mean().dropna()
    return Assessment(
        as_of=NOW,
        period=Period(
            start_utc=start, end_utc=end, hours_inside_covered=9950, hours_both_covered=9900, coverage=0.981
        ),
        band=BandFinding(
            low=low, high=high, hours_below=below, hours_above=above, hours_covered=9950,
            share_within=1 - (below + above) / 9950, hours_outside_beyond_doubt=below * 0.6,
            hours_outside_possible=below * 1.3, deficit_percent_hours=2.1 * below, excess_percent_hours=1.0 * above,
            uncertainty_percent=2.0, excursions=excursions,
        ),
        buffering=BufferingFinding(
            daily=Ratio(ratio=4.1, low=3.8, high=4.6),
            daily_temperature_removed=Ratio(ratio=14.0, at_floor=True),
            weekly=Ratio(ratio=6.2, low=4.9, high=8.0),
            seasonal=Ratio(ratio=2.1),
            lag_hours=3.4,
            temperature_share_of_daily=0.93,
        ),
        drift=DriftFinding(
            mean30d_percent=44.1, departure_percent=-5.9, slope_percent_per_30d=-1.8, slope_low=-2.6, slope_high=-0.9,
            lowest30d=DatedMean(percent=float(monthly.min()), date=monthly.idxmin()),
            highest30d=DatedMean(percent=float(monthly.max()), date=monthly.idxmax()),
            annual=AnnualCycle(
                inside_mean_percent=48, inside_amplitude_percent=5, outside_amplitude_percent=11,
                inside_minimum_date=NOW - pd.Timedelta(days=240), outside_minimum_date=NOW - pd.Timedelta(days=285),
                attenuation=2.2, lag_days=45,
            ),
        ),
        exchange=ExchangeFinding(
            determined=True, reservoirs=1, reference_celsius=20.4, half_time_days=41, half_time_low=33,
            half_time_high=52, half_time_days_at_20=42, share_after_24h=0.017,
            temperature_response_percent_per_kelvin=0.32, logger_offset_percent=-0.6,
            gain={"1d": Gain(gain=0.003), "7d": Gain(gain=0.02, low=0.015, high=0.03),
                  "30d": Gain(gain=0.08, low=0.06, high=0.11), "1y": Gain(gain=0.7, low=0.62, high=0.77)},
        ),
        forecast=ForecastFinding(why="The forecast needs a longer record than this."),
        seal=SealFinding(changed=None, why="The seal check needs 120 days on either side."),
        panel={},
        dew_point={},
        standing=Standing(name="steady"),
        data=DataQuality(name="sound"),
    )  # fmt: skip


def _files() -> tuple[FileAccount, ...]:
    return tuple(
        FileAccount(
            file=file, sha256="ab" * 32, side=side, logger=logger, imported_utc=NOW - pd.Timedelta(days=2),
            first_utc=NOW - pd.Timedelta(days=420), last_utc=NOW, in_file=10_086, kept=10_080, flagged=12,
            duplicate=4, conflicting=0, rejected=2,
            in_words="UTF-8, semicolon, decimal comma; time in column 1, day first, Europe/Berlin.",
        )
        for file, side, logger in (("frame_02.csv", "inside", "L02"), ("north_gallery.csv", "room", "L01"))
    )  # fmt: skip


@pytest.fixture(scope="session")
def store() -> FakeStore:
    return FakeStore()
