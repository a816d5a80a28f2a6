"""The parts of a frame's page below its verdict: one section per finding, or why there is none."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import dcc, html

from isohume.analysis import phrases
from isohume.analysis.results import BandFinding, Excursion, Ratio
from isohume.dashboard import ids
from isohume.dashboard.components.blocks import KeyFigure, key_figures, no_result, section
from isohume.dashboard.components.exchange_part import exchange
from isohume.dashboard.components.forecast_part import forecast
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.components.frame_helped import helped
from isohume.dashboard.components.frame_seal import seal
from isohume.dashboard.components.object_parts import dew_point, panel
from isohume.dashboard.components.waves import waves
from isohume.dashboard.figures.record import excursion_stretch
from isohume.dashboard.formats import MISSING, count, date, number, share, signed
from isohume.dashboard.views import FrameView, Site

EXCURSIONS_LISTED = 12
# Anchor of the part that stands in the place of all that needs readings from inside.
WITHOUT_A_LOGGER = "without-a-logger"


def sections(view: FrameView, site: Site) -> list[html.Section]:
    """Return every part that rests on findings, in the order of the page."""
    if view.estimated:
        return [_without_a_logger(), _season(view, site), panel(view, site), dew_point(view, site)]
    return [
        _excursions(view, site),
        _buffering(view),
        _season(view, site),
        exchange(view),
        seal(view, site),
        forecast(view, site),
        helped(view, site),
        panel(view, site),
        dew_point(view, site),
    ]


def _without_a_logger() -> html.Section:
    what = "Hours outside the band, buffering, the half-time, the seal check, the forecast and what an event changed"
    return section(
        WITHOUT_A_LOGGER,
        "What needs a logger inside",
        no_result(f"{what} rest on readings from inside the frame. Place a logger in it, even for two months: the "
                  "half-time found then serves the estimate afterwards.", lead="Cannot say."),
    )  # fmt: skip


def record_figures(view: FrameView) -> Any:
    """Return the hours outside the band in one row, as read and with the logger's doubt."""
    band = view.assessment.band
    if band is None:
        return no_result(_no_band(view))
    covered = f"of {phrases.hours(band.hours_covered)} covered"
    return key_figures(
        [
            KeyFigure("Within the band", share(band.share_within), covered),
            KeyFigure("Below", phrases.hours(band.hours_below), f"under {band.low:g} %RH, as read"),
            KeyFigure("Above", phrases.hours(band.hours_above), f"over {band.high:g} %RH, as read"),
            KeyFigure(
                "Outside beyond doubt",
                phrases.hours(band.hours_outside_beyond_doubt),
                f"farther than ±{band.uncertainty_percent:g} %RH (k = 2)",
            ),
            KeyFigure("Possibly outside", phrases.hours(band.hours_outside_possible), "not certainly inside"),
        ]
    )


def _no_band(view: FrameView) -> str:
    if view.facts.band is None:
        return "No band is agreed for this frame, so no hour counts as outside. Set one in the register."
    return "There is no usable inside record to hold against the band."


def _excursions(view: FrameView, site: Site) -> html.Section:
    band = view.assessment.band
    name = "Outside the band"
    if band is None:
        return section("excursions", name, no_result(_no_band(view)))
    if not band.excursions:
        covered = phrases.hours(band.hours_covered)
        calm = f"The inside stayed within {band.low:g}–{band.high:g} %RH for all {covered} covered."
        return section("excursions", name, html.P(calm))
    n_excursions = len(band.excursions)
    lede = (
        f"{count(n_excursions)} {'excursion' if n_excursions == 1 else 'excursions'}: deficit "
        f"{count(round(band.deficit_percent_hours))} %RH·h, excess {count(round(band.excess_percent_hours))} %RH·h. "
        "Runs on one side less than 1 h apart count as one."
    )
    return section(
        "excursions",
        name,
        html.Div(id=ids.FRAME_EXCURSIONS),
        dcc.Store(id=ids.FRAME_EXCURSIONS_DATA, data=excursions_document(band, site)),
        dcc.Store(id=ids.FRAME_EXCURSIONS_DRAWN),
        frame_table_links(view.facts.frame_id, "excursions", "Excursions"),
        lede=lede,
    )


def excursions_document(band: BandFinding, site: Site) -> dict[str, Any]:
    """Return what the browser draws the list of excursions from, newest first."""
    newest_first = sorted(band.excursions, key=lambda excursion: excursion.start_utc, reverse=True)
    starts, ends = (
        _moments([getattr(excursion, edge) for excursion in newest_first], site.time_zone)
        for edge in ("start_utc", "end_utc")
    )
    return {
        "headings": ["Side", "From", "To", "Time outside", "Extreme", "Beyond", "Remarks", "Look"],
        "at_first": EXCURSIONS_LISTED,
        "rows": [
            {"cells": _excursion_cells(excursion, band, start, end), "stretch": excursion_stretch(excursion)}
            for excursion, start, end in zip(newest_first, starts, ends, strict=True)
        ],
    }


def _moments(times: list[pd.Timestamp], zone: str) -> list[str]:
    """Write many moments in the site's zone; a decade can hold thousands of excursions."""
    local = pd.DatetimeIndex(times).tz_convert(zone)
    return [f"{time.day} {phrases.MONTHS[time.month - 1]} {time.year}, {time:%H:%M}" for time in local]


def _excursion_cells(excursion: Excursion, band: BandFinding, start: str, end: str) -> list[str]:
    below = excursion.side == "below"
    remarks = [
        "open at the start of the record" if excursion.open_at_start else "",
        "cut by a gap" if excursion.cut_by_gap else "",
        "still going on" if excursion.ongoing else "",
    ]
    limit = band.low if below else band.high
    return [
        f"{'▼' if below else '▲'} {excursion.side}",
        start,
        end,
        phrases.hours(excursion.hours),
        number(excursion.extreme_percent, 1, "%RH"),
        signed(excursion.extreme_percent - limit, 1, "%RH"),
        "; ".join(remark for remark in remarks if remark) or MISSING,
    ]


def _buffering(view: FrameView) -> html.Section:
    found = view.assessment.buffering
    daily = found.daily_temperature_removed if found.daily_temperature_removed.ratio is not None else found.daily
    notes = []
    if daily is not found.daily:
        notes.append(f"As read {_ratio_words(found.daily)}; here the part that follows the temperature is taken out.")
    if found.temperature_share_of_daily is not None:
        notes.append(f"Temperature explains {share(found.temperature_share_of_daily)} of the daily swing inside.")
    scales = [
        ("Day to day", daily, 9, " ".join(notes)),
        ("Week to week", found.weekly, 4, "Daily means against their 30-day mean."),
        ("Season to season", found.seasonal, 1, "30-day means; one year holds too few of them for an interval."),
    ]
    lag = (
        f"The inside follows the room by {number(found.lag_hours, 1, 'h')} within a day."
        if found.lag_hours is not None
        else f"No lag within a day can be given. {found.why or 'The two records hardly move together.'}"
    )
    cards = [_scale(name, ratio, cycles, note) for name, ratio, cycles, note in scales]
    return section(
        "buffering",
        "Buffering",
        html.Div(cards, className="scales"),
        html.P(lag),
        lede=(
            "How many times smaller the inside swings than its room: 1 means no buffering. "
            "Grey is the room, blue what is left of it inside, drawn to scale; the veil is the 95 % interval."
        ),
    )


def _scale(name: str, ratio: Ratio, cycles: int, note: str) -> html.Div:
    if ratio.ratio is None:
        return html.Div([html.H3(name), no_result(ratio.why)], className="scale")
    interval = (
        f"95 % interval {number(ratio.low)} to {number(ratio.high)}"
        if ratio.low is not None and ratio.high is not None
        else "no interval"
    )
    return html.Div(
        [
            html.H3(name),
            waves(ratio, cycles=cycles),
            html.P([html.Span(_ratio_words(ratio), className="value"), " ", html.Span(interval)]),
            html.P(note, className="note"),
        ],
        className="scale",
    )


def _ratio_words(ratio: Ratio) -> str:
    if ratio.ratio is None:
        return MISSING
    return f"{'at least ' if ratio.at_floor else ''}{number(ratio.ratio)} times"


def _season(view: FrameView, site: Site) -> html.Section:
    found, zone = view.assessment.drift, site.time_zone
    conditioned = view.facts.conditioned_percent
    figures = []
    if found.mean30d_percent is not None:
        from_conditioned = (
            f"{signed(found.departure_percent, 1)} from {conditioned:g} %RH, as conditioned"
            if conditioned is not None and found.departure_percent is not None
            else "conditioned humidity not known"
        )
        figures.append(KeyFigure("30-day mean", number(found.mean30d_percent, 1, "%RH"), from_conditioned))
    if found.slope_percent_per_30d is not None:
        interval = (
            f"{signed(found.slope_low)} to {signed(found.slope_high)}, last 60 days"
            if found.slope_low is not None
            else "last 60 days; description, no interval"
        )
        figures.append(KeyFigure("Drift in 30 days", signed(found.slope_percent_per_30d, 1, "%RH"), interval))
    for name, mean in (("Lowest 30-day mean", found.lowest30d), ("Highest 30-day mean", found.highest30d)):
        if mean is not None:
            figures.append(KeyFigure(name, number(mean.percent, 1, "%RH"), f"around {date(mean.date, zone)}"))
    if found.annual is not None:
        figures.append(
            KeyFigure(
                "Yearly swing let in",
                share(1 / found.annual.attenuation) if found.annual.attenuation else MISSING,
                f"{number(found.annual.lag_days, 0)} days after the room",
            )
        )
    return section(
        "season",
        "Season",
        key_figures(figures) if figures else no_result(found.why or "The record is too short."),
        html.P(found.why, className="remark") if figures and found.why else None,
        html.Div(html.P("Reading …", className="reading"), id=ids.FRAME_SEASON),
        lede="30-day means, the slow breath of the frame. A drift of 10 %RH downwards over a heated winter is common.",
    )
