"""How fast the frame exchanges moisture with its room, and what that means in words."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.analysis.results import ExchangeFinding
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result, section
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.figures.exchange import SWINGS, gain_figure, measured_ratios, step_figure
from isohume.dashboard.formats import days, number, share, signed
from isohume.dashboard.views import FrameView

GAIN_NOTE = (
    "Bars and lines: the model at the reference temperature, with its 95 % interval. Diamonds: one over the measured "
    "buffering ratio, which also holds what temperature and hands did. They need not agree to the last per cent; "
    "where they lie far apart, the model misses something."
)
LEDE = (
    "A model of the frame as one or two stores of moisture, fitted to both records. The half-time is how long the "
    "inside needs to go half the way to a new room humidity."
)


def exchange(view: FrameView) -> html.Section:
    """Build the section; where the half-time cannot be told, say why and what is known at least."""
    found = view.assessment.exchange
    parts: list[Any] = []
    bounds = _bounds(found)
    if not found.determined:
        parts.append(no_result(f"{found.why} {bounds}".strip()))
    else:
        parts += [key_figures(_figures(found)), html.P(in_words(found), className="meaning")]
    frame_id, step = view.facts.frame_id, view.assessment.curves.step_response
    if step is not None and found.determined:
        parts += [
            html.H3("A lasting step in the room"),
            graph(
                step_figure(step, found),
                description="Inside humidity after the room fell from 50 to 40 %RH and stayed there.",
            ),
            frame_table_links(frame_id, "step", "Step response"),
        ]
    if found.gain:
        measured = measured_ratios(view.assessment.buffering)
        parts += [
            html.H3("Swings of the room"),
            html.P(gains_in_words(found), className="prose"),
            graph(
                gain_figure(found.gain, measured),
                description="Share of a room swing that comes in, for swings of a day, a week, a month, a year: "
                "by the model with its interval, and as measured.",
            ),
            html.P(GAIN_NOTE, className="note"),
            frame_table_links(frame_id, "gains", "Gains and ratios"),
        ]
    if found.notes:
        parts += [html.H3("What to know about this fit"), _notes(found)]
    return section("exchange", "Exchange with the room", *parts, lede=LEDE)


def _notes(found: ExchangeFinding) -> html.Ul:
    return html.Ul([html.Li(f"{note.rstrip('. ')}.") for note in found.notes], className="prose notes")


def _figures(found: ExchangeFinding) -> list[KeyFigure]:
    interval = (
        f"95 % interval {days(found.half_time_low)} to {days(found.half_time_high)}"
        if found.half_time_low is not None and found.half_time_high is not None
        else "no interval"
    )
    figures = [
        KeyFigure("Half-time", days(found.half_time_days), interval),
        KeyFigure(
            "At 20 °C", days(found.half_time_days_at_20), f"measured at {number(found.reference_celsius, 1, '°C')}"
        ),
        KeyFigure("In after 24 h", share(found.share_after_24h), "of a sudden change in the room"),
    ]
    if found.slow_mode_half_time_days is not None:
        figures.append(
            KeyFigure("Slow part", days(found.slow_mode_half_time_days), "half-time of the panel’s own pace")
        )
    if found.temperature_response_percent_per_kelvin is not None:
        response = signed(found.temperature_response_percent_per_kelvin, 2, "%RH per K")
        figures.append(KeyFigure("Temperature", response, "inside, at once"))
    if found.logger_offset_percent is not None:
        figures.append(KeyFigure("Offset", signed(found.logger_offset_percent, 1, "%RH"), "between the two loggers"))
    return figures


def _bounds(found: ExchangeFinding) -> str:
    if found.half_time_at_least is not None and found.half_time_at_most is not None:
        return f"It lies between {days(found.half_time_at_least)} and {days(found.half_time_at_most)}."
    if found.half_time_at_least is not None:
        return f"It is at least {days(found.half_time_at_least)}."
    return f"It is at most {days(found.half_time_at_most)}." if found.half_time_at_most is not None else ""


def in_words(found: ExchangeFinding) -> str:
    """Say what a half-time means for a room that falls from 50 to 40 %RH and stays there."""
    half = days(found.half_time_days)
    twice = days(2 * found.half_time_days) if found.half_time_days is not None else ""
    text = f"If the room fell from 50 to 40 %RH and stayed there, the inside would reach 45 %RH after {half}"
    if found.reservoirs == 1:
        return f"{text} and 42.5 %RH after {twice}. Single days hardly show; what lasts longer than that comes in."
    return f"{text}; the air and the board follow first, the panel more slowly."


def gains_in_words(found: ExchangeFinding) -> str:
    """Say how much of the room's swings comes in."""
    told = [f"of {name} {share(found.gain[key].gain)}" for key, name in SWINGS.items() if key in found.gain]
    return f"Of a swing that lasts so long from crest to crest comes in: {', '.join(told)}."
