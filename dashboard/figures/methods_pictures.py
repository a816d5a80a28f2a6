"""The pictures of the Methods page, drawn from examples that the analysis works out."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from threading import Lock

import numpy as np
import pandas as pd

from isohume.analysis.phrases import MONTHS
from isohume.analysis.seal.thresholds import LEAST_LOG_LIKELIHOOD_RATIO
from isohume.dashboard import theme
from isohume.dashboard.figures.plain_svg import Chart, FloatArray
from isohume.dashboard.formats import date
from isohume.dashboard.methods_text.examples import fan_example, gain_example, seal_example, step_example
from isohume.dashboard.methods_text.pictures_told import PICTURES

PERCENT_TICKS = [(0.25 * k, f"{25 * k} %") for k in range(5)]
PERIOD_TICKS = [(1.0, "1 d"), (7.0, "7 d"), (30.0, "30 d"), (365.25, "1 year")]
_AT_WORK = Lock()
SHOWN_BEFORE = pd.Timedelta(days=90)


@cache
def picture(name: str) -> str:
    """Return one picture as SVG.

    Raises
    ------
    KeyError
        No picture of that name.
    """
    with _AT_WORK:  # a page asks for all of them at once, and they share one example
        return DRAWN[name](PICTURES[name].description)


def _step(title: str) -> str:
    found = step_example()
    last = float(found.days[-1])
    chart = Chart(
        x_range=(0.0, last), y_range=(0.0, 1.0), title=title, x_title="Days after the step", y_title="Share come in"
    )
    chart.line(found.days, found.share_of_one_store, colour=theme.ROOM_COLOUR, dashed=True)
    chart.line(found.days, found.share, colour=theme.INSIDE_COLOUR, width=2.5)
    chart.moment(found.half_time_days, f"half-time {found.half_time_days:.1f} days")
    chart.legend([("air in the frame", theme.INSIDE_COLOUR, False), ("one store", theme.ROOM_COLOUR, True)])
    spacing = _round_spacing(last)
    return chart.svg([(day, f"{day:.0f}") for day in np.arange(0.0, last, spacing)], PERCENT_TICKS)


def _gains(title: str) -> str:
    found = gain_example()
    chart = Chart(
        x_range=(float(found.periods_days[0]), float(found.periods_days[-1])),
        y_range=(0.0, 1.0),
        title=title,
        x_title="Length of the swing",
        y_title="Share come in",
        logarithmic=True,
    )
    chart.line(found.periods_days, found.share_of_one_store, colour=theme.ROOM_COLOUR, dashed=True)
    chart.line(found.periods_days, found.share, colour=theme.INSIDE_COLOUR, width=2.5)
    chart.legend([("air in the frame", theme.INSIDE_COLOUR, False), ("one store", theme.ROOM_COLOUR, True)])
    return chart.svg(PERIOD_TICKS, PERCENT_TICKS)


def _seal(title: str) -> str:
    found = seal_example()
    dates = _days(found.scan.dates)
    ratio = np.maximum(found.scan.log_likelihood_ratio, 0.0)
    highest = 1.12 * float(ratio.max())
    chart = Chart(
        x_range=(float(dates[0]), float(dates[-1])),
        y_range=(0.0, highest),
        title=title,
        x_title="Date of the change",
        y_title="Log likelihood ratio",
    )
    chart.line(dates, ratio, colour=theme.INSIDE_COLOUR, width=2.5)
    chart.level(LEAST_LOG_LIKELIHOOD_RATIO)
    chart.legend(
        [
            ("changed leak against sound frame", theme.INSIDE_COLOUR, False),
            (f"counts from {LEAST_LOG_LIKELIHOOD_RATIO:g}", theme.INK, True),
        ]
    )
    made = f"{date(found.grown_on, 'UTC')}: × {found.true_factor:.1f}"
    told = "" if found.finding.factor is None else f", found × {found.finding.factor:.1f}"
    chart.moment(float(_days(pd.DatetimeIndex([found.grown_on]))[0]), made + told, before=True)
    spacing = _round_spacing(highest)
    y_ticks = [(value, f"{value:.0f}") for value in np.arange(0.0, highest, spacing)]
    return chart.svg(_months(found.scan.dates), y_ticks)


def _fan(title: str) -> str:
    found = fan_example()
    recorded = found.recorded.loc[found.fan.start - SHOWN_BEFORE :]
    series = found.fan.series()
    low10, median, high90 = (np.asarray(series[key], dtype=np.float64) for key in ("low10", "median", "high90"))
    values = np.concatenate([low10, high90, recorded, found.came])
    low, high = np.floor(values.min() / 5) * 5, np.ceil(values.max() / 5) * 5
    dates = pd.DatetimeIndex(pd.DatetimeIndex(recorded.index).append(found.fan.dates))
    chart = Chart(
        x_range=(float(_days(dates)[0]), float(_days(dates)[-1])),
        y_range=(low, high),
        title=title,
        y_title="Inside [%RH]",
    )
    ahead = _days(found.fan.dates)
    chart.area(ahead, low10, high90, colour=theme.FORECAST_COLOUR)
    chart.line(ahead, median, colour=theme.FORECAST_COLOUR, dashed=True)
    for course, colour in ((recorded, theme.INSIDE_COLOUR), (found.came, theme.INK)):
        chart.line(_days(pd.DatetimeIndex(course.index)), np.asarray(course, dtype=np.float64), colour=colour)
    chart.legend(
        [
            ("recorded", theme.INSIDE_COLOUR, False),
            ("median of the fan", theme.FORECAST_COLOUR, True),
            ("what came", theme.INK, False),
        ]
    )
    spacing = _round_spacing(high - low)
    return chart.svg(_months(dates), [(value, f"{value:.0f}") for value in np.arange(low, high + 1, spacing)])


DRAWN: dict[str, Callable[[str], str]] = {"step-response": _step, "gains": _gains, "seal-scan": _seal, "fan": _fan}


def _days(dates: pd.DatetimeIndex) -> FloatArray:
    return np.asarray(dates.as_unit("s").asi8 / 86400.0)


def _months(dates: pd.DatetimeIndex) -> list[tuple[float, str]]:
    starts = pd.date_range(dates[0].normalize(), dates[-1], freq="MS")
    every = -(-len(starts) // 6)
    chosen = starts[starts >= dates[0]][::every]
    return list(zip(_days(chosen).tolist(), [MONTHS[one.month - 1][:3] for one in chosen], strict=True))


def _round_spacing(length: float) -> float:
    """Return a round step that divides a length into four to eight."""
    rough = length / 5
    power = 10.0 ** np.floor(np.log10(rough))
    return float(power * next(step for step in (1, 2, 2.5, 5, 10) if step * power >= rough))
