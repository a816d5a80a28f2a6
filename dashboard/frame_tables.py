"""The tables of the Frames page and of a frame's page, for spreadsheets: numbers as computed, times in UTC."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import pandas as pd
from flask import Response

from isohume.analysis.readings import AirRecord, hourly
from isohume.dashboard.exports import Cell, csv_bytes, xlsx_bytes
from isohume.dashboard.formats import days_ago
from isohume.dashboard.views import FrameSummary, FrameView, Site

Table = tuple[Sequence[str], Sequence[Sequence[Cell]]]
TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def response(headings: Sequence[str], rows: Sequence[Sequence[Cell]], *, name: str, kind: str) -> Response:
    """Return a table as a file to keep."""
    data = csv_bytes(headings, rows) if kind == "csv" else xlsx_bytes({name: (headings, rows)})
    answer = Response(data, mimetype=TYPES[kind])
    # Headers hold ASCII, and a name must not lead elsewhere.
    plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-.") else "_" for sign in name)
    answer.headers["Content-Disposition"] = f'attachment; filename="{plain}.{kind}"'
    return answer


def all_frames(frames: Sequence[FrameSummary], site: Site) -> Table:
    """List all frames, most urgent first."""
    headings = (
        "frame", "painting", "room", "lifecycle", "band low [%RH]", "band high [%RH]", "standing", "direction",
        "by (UTC)", "reason", "record", "doubt", "newest reading (UTC)", "newest, days ago", "estimated",
        "changed since last review", "findings",
    )  # fmt: skip
    computed = {"now": "up to date", "before": "from before the newest change", "never": "not computed yet"}
    rows = [
        [
            one.frame_id, one.painting, one.room, one.lifecycle,
            one.band[0] if one.band else None, one.band[1] if one.band else None,
            one.standing.name, one.standing.direction, one.standing.by,
            one.standing.reasons[0].text if one.standing.reasons else "", one.data.name,
            one.data.reasons[0].text if one.data.reasons else "", one.newest_utc, days_ago(one.newest_utc, site.now),
            one.estimated, one.changed, computed[one.computed],
        ]
        for one in frames
    ]  # fmt: skip
    return headings, rows


def events(view: FrameView) -> Table:
    """List what hands did."""
    names = ("rh_percent", "water_g", "board_kg", "warp_mm", "warp_where", "warp_how", "room", "note")
    headings = ("time (UTC)", "event", "humidity [%RH]", "water added [g]", "board [kg]", "warp [mm]", "warp where",
                "warp how", "moved to", "note")  # fmt: skip
    return headings, [[one.time_utc, one.kind, *(getattr(one, name) for name in names)] for one in view.facts.events]


def excursions(view: FrameView) -> Table:
    """List the runs outside the band."""
    headings = ("side", "from (UTC)", "to (UTC)", "time outside [h]", "extreme [%RH]", "extreme at (UTC)",
                "open at start", "cut by a gap", "still going on")  # fmt: skip
    band = view.assessment.band
    return headings, [
        [one.side, one.start_utc, one.end_utc, one.hours, one.extreme_percent, one.extreme_utc, one.open_at_start,
         one.cut_by_gap, one.ongoing]
        for one in (band.excursions if band else ())
    ]  # fmt: skip


def files(view: FrameView) -> Table:
    """Account for every row of every file."""
    headings = ("file", "SHA-256", "side", "logger", "first (UTC)", "last (UTC)", "rows", "kept", "flagged",
                "duplicate", "conflicting", "rejected", "kept on (UTC)", "how it is read")  # fmt: skip
    return headings, [
        [one.file, one.sha256, one.side, one.logger, one.first_utc, one.last_utc, one.in_file, one.kept, one.flagged,
         one.duplicate, one.conflicting, one.rejected, one.imported_utc, one.in_words]
        for one in view.files
    ]  # fmt: skip


def forecast(view: FrameView) -> Table:
    """Return the forecast day by day."""
    return _dated(view.assessment.forecast.series, "date (UTC)", unit=" [%RH]")


def estimate(view: FrameView) -> Table:
    """Return the estimated inside day by day."""
    found = view.assessment.estimate
    return _dated(None if found is None else found.series, "date (UTC), estimated", unit=" [%RH]")


def step(view: FrameView) -> Table:
    """Return the step response."""
    course = view.assessment.curves.step_response
    headings = ("days after the step", "share come in [0-1]", "low", "high")
    if course is None:
        return headings, []
    columns = (course.index, course["share"], course["low"], course["high"])
    return headings, [list(map(float, row)) for row in zip(*columns, strict=True)]


def gains(view: FrameView) -> Table:
    """Return the gain by period, and the measured ratios."""
    found = view.assessment
    rows: list[list[Cell]] = [
        ["modelled gain [0-1]", period, gain.gain, gain.low, gain.high] for period, gain in found.exchange.gain.items()
    ]
    for name in ("daily", "daily_temperature_removed", "weekly", "seasonal"):
        ratio = getattr(found.buffering, name)
        rows.append(["measured ratio, room / inside", name.replace("_", " "), ratio.ratio, ratio.low, ratio.high])
    return ("figure", "period", "value", "low", "high"), rows


def seal(view: FrameView) -> Table:
    """Return the scan of the seal check, date by date."""
    return _dated(view.assessment.curves.seal_scan, "date (UTC)")


def panel(view: FrameView) -> Table:
    """Return the movement of the panel, framed and unframed."""
    return _dated(view.assessment.curves.movement, "time (UTC)", unit=" [mm]")


def helped(view: FrameView) -> Table:
    """Set the record before an event beside the record after it."""
    names = ("start_utc", "end_utc", "hours_covered", "mean_percent", "hours_outside_per_month",
             "slope_percent_per_30d", "slope_low", "slope_high", "half_time_days", "half_time_low",
             "half_time_high", "why")  # fmt: skip
    headings = ("event", "event at (UTC)", "half-time", "side", "from (UTC)", "to (UTC)", "covered [h]", "mean [%RH]",
                "outside the band [h per month]", "drift [%RH per 30 days]", "drift low", "drift high",
                "half-time [days]", "half-time low", "half-time high", "why")  # fmt: skip
    return headings, [
        [one.event.kind, one.event.time_utc, one.half_time_change, word, *(getattr(side, name) for name in names)]
        for one in view.assessment.interventions
        for word, side in (("before", one.before), ("after", one.after))
        if side is not None
    ]


def readings(inside: AirRecord | None, outside: AirRecord | None) -> Table:
    """Return hourly means of both airs, as the findings use them; flagged values are left out."""
    headings = ("time (UTC)", "inside [%RH]", "inside [°C]", "room [%RH]", "room [°C]")
    columns = {
        f"{place} {unit}": hourly(series)
        for place, air in (("inside", inside), ("room", outside))
        if air is not None
        for unit, series in (("rh", air.rh_percent), ("t", air.temperature_celsius))
    }
    if not columns:
        return headings, []
    table = pd.DataFrame(columns).reindex(columns=["inside rh", "inside t", "room rh", "room t"])
    rows = zip(table.index, *(table[name] for name in table.columns), strict=True)
    return headings, [[time, *(_rounded(value) for value in values)] for time, *values in rows]


OF_A_FRAME: Mapping[str, Callable[[FrameView], Table]] = {
    table.__name__: table
    for table in (events, excursions, files, forecast, estimate, step, gains, seal, panel, helped)
}


def _dated(course: pd.DataFrame | None, first: str, *, unit: str = "") -> Table:
    if course is None:
        return (first,), []
    headings = (first, *(f"{str(name).replace('_', ' ')}{unit}" for name in course.columns))
    rows = zip(course.index, *(course[name] for name in course.columns), strict=True)
    return headings, [[time, *(_rounded(value, 6) for value in values)] for time, *values in rows]


def _rounded(value: float, digits: int = 3) -> float | None:
    return round(float(value), digits) if pd.notna(value) else None
