"""The climate an object has grown used to, as limits for a later period (approach of EN 15757)."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import html

from isohume.analysis import phrases
from isohume.analysis.acclimatised import acclimatised_limits, judge_acclimatised
from isohume.analysis.readings import AirRecord
from isohume.dashboard.components.blocks import KeyFigure, key_figures, no_result
from isohume.dashboard.formats import date, share, signed
from isohume.dashboard.views import Site

NAME = "The climate it has grown used to"
LEDE = (
    "After EN 15757:2010 (its percentiles from memory: check them against the standard): the 30-day cycle of at least "
    "13 earlier months, and the fluctuations around it without their most extreme 14 %, are the limits for the period "
    "chosen."
)


def acclimatised(
    air: AirRecord | None, place: str, span: tuple[pd.Timestamp, pd.Timestamp] | None, site: Site
) -> list[Any]:
    """Hold one air in a period to the limits that its earlier record gives, or say why there are none.

    Parameters
    ----------
    air : AirRecord or None
        Of the inside or of the room, over all time.
    place : str
        Which of the two, in words.
    span : (start, end) or None
        The period to judge; what lies before it is the reference.
    """
    head = [html.H3(NAME), html.P(LEDE, className="prose note")]
    if air is None or span is None:
        return [*head, no_result(f"There is no record of {place} in this period.")]
    start, end = span
    known = air.rh_percent.dropna()
    earlier, judged = known.loc[: start - pd.Timedelta(seconds=1)], known.loc[start:end]
    if judged.empty:
        return [*head, no_result(f"There is no record of {place} in this period.")]
    try:
        limits = acclimatised_limits(earlier)
    except ValueError as error:
        return [
            *head,
            no_result(f"{error} The period chosen does not count: choose a shorter one.", lead="No limits."),
        ]
    found = judge_acclimatised(judged, limits)
    reference = f"{date(limits.reference_start, site.time_zone)} to {date(limits.reference_end, site.time_zone)}"
    fluctuations = f"{signed(limits.percentile_low)} to {signed(limits.percentile_high, 1, '%RH')}"
    covered = f"of {phrases.hours(found.hours_covered)} covered, {place}"
    return [
        *head,
        key_figures(
            [
                KeyFigure("Below its limits", phrases.hours(found.hours_below), covered),
                KeyFigure("Above its limits", phrases.hours(found.hours_above), covered),
                KeyFigure(
                    "Limits around the cycle",
                    f"{signed(limits.lower)} to {signed(limits.upper, 1, '%RH')}",
                    f"never closer than ±10 %RH; the fluctuations themselves: {fluctuations}",
                ),
                KeyFigure("Reference", share(limits.coverage), f"covered, {reference}"),
            ]
        ),
    ]
