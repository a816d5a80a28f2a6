"""The record of one frame: humidity and temperature inside and in the room, with band, events and excursions."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from isohume.analysis.frame import Event
from isohume.analysis.readings import seconds_utc
from isohume.analysis.results import Excursion
from isohume.dashboard import theme
from isohume.dashboard.figures.flags import draw_flags
from isohume.dashboard.figures.time_axis import wall_clock_ms
from isohume.dashboard.thinning import FloatArray, Trace
from isohume.dashboard.views import Record

# About one bucket per pixel of the widest graph; each keeps its smallest and its largest reading.
N_BUCKETS = 1000
HEIGHT = 560
# Share of the height: temperature below, humidity above.
TEMPERATURE_DOMAIN, HUMIDITY_DOMAIN = [0.0, 0.2], [0.28, 1.0]
# More marks than this would hide the line; the list below the picture has them all.
MOST_MARKS = 12
# Never zoom the humidity axis closer than this [%RH]: noise would look like weather.
SMALLEST_RANGE_PERCENT = 12.0


def record_figure(
    record: Record,
    *,
    window: tuple[float, float],
    zone: str,
    band: tuple[float, float] | None,
    excursions: Sequence[Excursion] = (),
    events: Iterable[Event] = (),
    estimate: pd.DataFrame | None = None,
) -> go.Figure:
    """Draw `window` [s since 1970] of a record; long stretches are thinned, extremes and gaps stay.

    `estimate` is the estimated inside of a frame without a logger: daily, columns median, low, high [%RH].
    """
    start, end = window
    figure = theme.new_figure(height=HEIGHT)
    room = _Drawn.of(record.room_rh, window, zone)
    inside = _Drawn.of(record.inside_rh, window, zone)
    _line(figure, room, "Room", colour=theme.ROOM_LINE_COLOUR, width=1.1, hover="%{y:.1f} %RH")
    if estimate is not None:
        _estimate(figure, estimate, zone)
    _line(figure, inside, "Inside", colour=theme.INSIDE_COLOUR, width=2.2, hover="%{y:.1f} %RH")
    mean = _Drawn.of(record.inside_mean30d, window, zone)
    _line(figure, mean, "30-day mean", colour=theme.MEAN_COLOUR, width=1.4, dash="dash", hover="%{y:.1f} %RH")
    if band is not None:
        _band(figure, band)
        _outside_band(figure, inside, band)
        _excursion_marks(figure, longest_excursions(excursions, window), zone)
    seen = [event for event in events if start <= event.time_utc.timestamp() <= end]
    _strips(figure, [event for event in seen if event.kind == "strip read" and event.rh_percent is not None], zone)
    _events(figure, [event for event in seen if event.kind != "strip read"], zone)
    draw_flags(figure, record.flags, window=window, zone=zone)
    for trace, name, colour in (
        (record.room_temperature, "Room temperature", theme.ROOM_COLOUR),
        (record.inside_temperature, "Inside temperature", theme.INSIDE_COLOUR),
    ):
        drawn = _Drawn.of(trace, window, zone)
        _line(figure, drawn, name, colour=colour, width=1.2, hover="%{y:.1f} °C", axis="y2", showlegend=False)
    left, right = wall_clock_ms(np.array([start, end]), zone)
    figure.update_layout(
        margin={"r": 40},  # the limits of the band stand there
        xaxis={"type": "date", "range": [left, right], "anchor": "y2", "hoverformat": "%-d %b %Y, %H:%M"},
        yaxis={
            "domain": HUMIDITY_DOMAIN,
            "title": {"text": "Relative humidity [%]"},
            "range": humidity_range([inside.quantity, room.quantity, *_ends(estimate)], band),
            "fixedrange": True,
        },
        yaxis2={
            **figure.layout.template.layout.yaxis.to_plotly_json(),
            "domain": TEMPERATURE_DOMAIN,
            "title": {"text": "Temperature [°C]"},
            "fixedrange": True,
            "nticks": 4,
        },
    )
    return figure


class _Drawn:
    """A trace thinned to a window, in the wall clock of the site."""

    __slots__ = ("quantity", "times_ms")

    def __init__(self, times_ms: FloatArray, values: FloatArray) -> None:
        self.times_ms, self.quantity = times_ms, values

    @classmethod
    def of(cls, trace: Trace, window: tuple[float, float], zone: str) -> _Drawn:
        times, values = trace.window(*window, n_buckets=N_BUCKETS)
        return cls(wall_clock_ms(times, zone), values)


def humidity_range(drawn: Iterable[FloatArray], band: tuple[float, float] | None) -> list[float]:
    """Return the humidity axis that shows all that is drawn, the band, and a little air."""
    seen = np.concatenate([*(values[np.isfinite(values)] for values in drawn), np.array(band or ())])
    if seen.size == 0:
        return [0.0, 100.0]
    low, high = float(seen.min()), float(seen.max())
    slack = max((SMALLEST_RANGE_PERCENT - (high - low)) / 2, 0.06 * (high - low))
    return [max(low - slack, 0.0), min(high + slack, 100.0)]


def _line(
    figure: go.Figure,
    drawn: _Drawn,
    name: str,
    *,
    colour: str,
    width: float,
    hover: str,
    axis: str = "y",
    showlegend: bool = True,
    dash: str = "solid",
) -> None:
    figure.add_scatter(
        x=drawn.times_ms,
        y=drawn.quantity.astype(np.float32),
        mode="lines",
        name=name,
        line={"color": colour, "width": width, "dash": dash},
        connectgaps=False,
        yaxis=axis,
        showlegend=showlegend and drawn.quantity.size > 0,
        hovertemplate=f"{hover}<extra>{name}</extra>",
    )


def _estimate(figure: go.Figure, series: pd.DataFrame, zone: str) -> None:
    """Draw what is only estimated: a dashed line in a hatched interval."""
    times = wall_clock_ms(seconds_utc(pd.DatetimeIndex(series.index)), zone)
    low, median, high = (series[name].to_numpy(dtype=np.float32) for name in ("low", "median", "high"))
    edge = {"color": theme.INSIDE_COLOUR, "width": 0.5, "dash": "2px,4px"}
    figure.add_scatter(x=times, y=high, mode="lines", line=edge, showlegend=False, hoverinfo="skip", name="high")
    figure.add_scatter(
        x=times, y=low, mode="lines", line=edge, fill="tonexty", fillcolor="rgba(0,114,178,0.06)",
        fillpattern={"shape": "/", "size": 7, "solidity": 0.18, "fgcolor": theme.INSIDE_COLOUR, "fillmode": "overlay"},
        name="Inside, estimated: 95 % interval", hoverinfo="skip",
    )  # fmt: skip
    figure.add_scatter(
        x=times, y=median, mode="lines", name="Inside, estimated",
        hovertemplate="%{y:.1f} %RH<extra>Estimated</extra>",
        line={"color": theme.INSIDE_COLOUR, "width": 2, "dash": "6px,4px"},
    )  # fmt: skip


def _ends(estimate: pd.DataFrame | None) -> list[FloatArray]:
    return [] if estimate is None else [estimate[name].to_numpy(dtype=np.float64) for name in ("low", "high")]


def _band(figure: go.Figure, band: tuple[float, float]) -> None:
    figure.add_hrect(*band, fillcolor=theme.BAND_COLOUR, opacity=0.1, line_width=0, layer="below")
    for limit in band:
        figure.add_hline(limit, line={"color": theme.BAND_COLOUR, "width": 1}, opacity=0.7, layer="below")
        figure.add_annotation(
            x=1, y=limit, xref="paper", yref="y", xanchor="left", yanchor="middle", xshift=4,
            text=f"{limit:g} %", showarrow=False, font={"color": "#00694D", "size": 12},
        )  # fmt: skip


def _outside_band(figure: go.Figure, inside: _Drawn, band: tuple[float, float]) -> None:
    """Draw what lies outside the band once more, heavier, from crossing to crossing."""
    times, values = outside_only(inside.times_ms, inside.quantity, band)
    if times.size:
        figure.add_scatter(
            x=times,
            y=values.astype(np.float32),
            mode="lines",
            name="Outside the band",
            line={"color": theme.OUTSIDE_BAND_COLOUR, "width": 3},
            hoverinfo="skip",
        )


def outside_only(times: FloatArray, values: FloatArray, band: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Return the parts of a line that lie outside the band, starting and ending on its limits; NaN between parts."""
    if values.size == 0:
        return times, values
    for limit in band:
        before, after = values[:-1] - limit, values[1:] - limit
        with np.errstate(invalid="ignore"):
            crossing = np.flatnonzero(before * after < 0)
        along = before[crossing] / (before[crossing] - after[crossing])
        at = times[crossing] + along * (times[crossing + 1] - times[crossing])
        times, values = np.insert(times, crossing + 1, at), np.insert(values, crossing + 1, limit)
    out = (values < band[0]) | (values > band[1])
    beside = np.zeros_like(out)
    beside[:-1] |= out[1:]
    beside[1:] |= out[:-1]
    kept = out | (beside & np.isin(values, band))
    if not out.any():
        return np.empty(0), np.empty(0)
    shown = np.where(kept, values, np.nan)
    needed = kept | np.concatenate([[False], kept[:-1]])  # one NaN after each part
    return times[needed], shown[needed]


def longest_excursions(excursions: Sequence[Excursion], window: tuple[float, float]) -> list[Excursion]:
    """Return the longest excursions with their extreme in a window, as many as can be told apart."""
    start, end = window
    seen = [excursion for excursion in excursions if start <= excursion.extreme_utc.timestamp() <= end]
    return sorted(seen, key=lambda excursion: excursion.hours, reverse=True)[:MOST_MARKS]


def _excursion_marks(figure: go.Figure, excursions: Sequence[Excursion], zone: str) -> None:
    if not excursions:
        return
    seconds = np.array([e.extreme_utc.timestamp() for e in excursions])
    figure.add_scatter(
        x=wall_clock_ms(seconds, zone),
        y=[e.extreme_percent for e in excursions],
        mode="markers",
        name="Extreme",
        marker={
            "symbol": ["triangle-down" if e.side == "below" else "triangle-up" for e in excursions],
            "size": 11,
            "color": theme.SHEET,
            "line": {"color": theme.OUTSIDE_BAND_COLOUR, "width": 2},
        },
        customdata=[f"{e.extreme_percent:.1f} %RH, {e.hours:.0f} h {e.side} the band" for e in excursions],
        hovertemplate="%{customdata}<extra>Excursion</extra>",
    )


def _strips(figure: go.Figure, strips: Sequence[Event], zone: str) -> None:
    """Put every reading of a paper strip at its humidity."""
    if not strips:
        return
    figure.add_scatter(
        x=wall_clock_ms(np.array([strip.time_utc.timestamp() for strip in strips]), zone),
        y=[strip.rh_percent for strip in strips],
        mode="markers",
        name="Strip read",
        marker={
            "symbol": "square",
            "size": 9,
            "color": theme.SHEET,
            "line": {"color": theme.INSIDE_COLOUR, "width": 2},
        },
        customdata=[theme.as_plot_text(event_words(strip)) for strip in strips],
        hovertemplate="%{customdata}<extra></extra>",
    )


def _events(figure: go.Figure, events: Sequence[Event], zone: str) -> None:
    if not events:
        return
    times = wall_clock_ms(np.array([e.time_utc.timestamp() for e in events]), zone)
    for time in times:
        figure.add_shape(
            type="line", x0=time, x1=time, y0=HUMIDITY_DOMAIN[0], y1=1, yref="paper", layer="below",
            line={"color": theme.INK, "width": 1, "dash": "2px,3px"},
        )  # fmt: skip
    figure.add_scatter(
        x=times,
        y=np.full(times.size, 0.5),
        yaxis="y3",
        mode="markers",
        name="Event",
        marker={"symbol": "diamond-tall", "size": 11, "color": theme.INK},
        customdata=[theme.as_plot_text(event_words(event)) for event in events],
        hovertemplate="%{customdata}<extra></extra>",
    )
    figure.update_layout(
        yaxis3={"domain": [0.975, 1.0], "range": [0, 1], "visible": False, "fixedrange": True, "anchor": "x"}
    )


def event_words(event: Event) -> str:
    """Say in a few words what hands did."""
    details = [
        f"at {event.rh_percent:g} %RH" if event.rh_percent is not None else "",
        f"{event.water_g:+g} g water" if event.water_g is not None else "",
        f"{event.board_kg:g} kg board" if event.board_kg is not None else "",
        f"warp {event.warp_mm:g} mm {event.warp_where}".strip() if event.warp_mm is not None else "",
        f"to {event.room}" if event.room else "",
        event.note,
    ]
    told = ", ".join(detail for detail in details if detail)
    return f"{event.kind}: {told}" if told else event.kind


def excursion_stretch(excursion: Excursion) -> tuple[float, float]:
    """Return the window that shows an excursion with as much again on either side, at least a day [s since 1970]."""
    start, end = excursion.start_utc.timestamp(), excursion.end_utc.timestamp()
    margin = max(end - start, pd.Timedelta(days=1).total_seconds())
    return start - margin, end + margin
