"""Which stretch of a record is shown: by its address, its controls, or what was dragged in the picture."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.figures.time_axis import seconds_from_wall_clock

DAY = 86_400.0
PERIODS = {"all": "all", "365": "12 months", "90": "90 days", "30": "30 days", "7": "7 days"}
# A record up to this long is shown whole at first, a longer one by its last 12 months.
LONGEST_SHOWN_WHOLE = 450 * DAY
SHORTEST_WINDOW = 3600.0


def choose_window(
    trigger: Any,
    *,
    asked: list[float] | None,
    relayout: dict[str, Any] | None,
    period: str | None,
    window: list[float] | None,
    span: tuple[float, float],
    zone: str,
) -> tuple[tuple[float, float], str | None]:
    """Return the stretch to show [s since 1970] and the named period it is, if any."""
    first, last = span
    if trigger == ids.FRAME_RECORD:
        if relayout and "xaxis.range[0]" in relayout:
            start, end = (seconds_from_wall_clock(relayout[f"xaxis.range[{place}]"], zone) for place in (0, 1))
            return _within(start, end, span), None
        if relayout and relayout.get("xaxis.autorange"):
            return span, "all"
        raise PreventUpdate
    if trigger == ids.FRAME_ASKED and asked:
        return _within(asked[0], asked[1], span), None
    if trigger in (ids.FRAME_EARLIER, ids.FRAME_LATER) and window:
        step = (window[1] - window[0]) * (-0.5 if trigger == ids.FRAME_EARLIER else 0.5)
        step = min(max(step, first - window[0]), last - window[1])
        return _within(window[0] + step, window[1] + step, span), None
    if trigger != ids.FRAME_PERIOD and window:
        return _within(window[0], window[1], span), None
    if period not in PERIODS:
        period = "all" if last - first <= LONGEST_SHOWN_WHOLE else "365"
    return (span if period == "all" else _within(last - float(period) * DAY, last, span)), period


def _within(start: float, end: float, span: tuple[float, float]) -> tuple[float, float]:
    start = min(max(start, span[0]), span[1] - SHORTEST_WINDOW)
    return start, max(min(end, span[1]), start + SHORTEST_WINDOW)


def moment_asked(text: str) -> float | None:
    """Return a moment of an address [s since 1970], None where there is none."""
    try:
        time = pd.Timestamp(text)
    except ValueError:
        return None
    if pd.isna(time):
        return None
    return float((time.tz_localize("UTC") if time.tzinfo is None else time).timestamp())
