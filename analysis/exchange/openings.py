"""Openings that nobody wrote down: the inside jumps farther than the model and its noise can explain.

One such day spoils a whole record: the likelihood can only explain it by a large disturbance everywhere. It is found
by its one-step error, treated like a recorded opening, and said.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from isohume.analysis.exchange.drive import SETTLING_HOURS, ExchangeData, IntArray
from isohume.analysis.exchange.filter import FilteredStates, standardised

# On 30 sound simulated frames of 60 and 395 days the largest one-step error was 5.7 robust standard deviations and
# 0.9 %RH; of 30 frames with an unrecorded opening of 1 to 6 hours, two thirds showed more than 8 and 1.4 %RH.
LEAST_ROBUST_SDS = 7.0
LEAST_PERCENT = 1.0
MEDIAN_TO_SD = 1.4826  # standard deviation of a normal distribution over its median absolute deviation
MOST_OPENINGS = 4  # more than these are not openings but another frame than the model's


def unrecorded_openings(data: ExchangeData, filtered: FilteredStates) -> IntArray:
    """Return the indices of readings that follow from nothing before, at most one in each time of settling."""
    errors = np.where(np.isnan(standardised(filtered)), np.nan, filtered.errors)
    size = np.abs(errors)
    robust_sd = MEDIAN_TO_SD * float(np.nanmedian(size))
    jumps = np.flatnonzero((size > LEAST_ROBUST_SDS * robust_sd) & (size > LEAST_PERCENT))
    settling = _settling_steps(data)
    apart = np.diff(jumps, prepend=-settling - 1) > settling
    return jumps[apart][:MOST_OPENINGS]


def with_openings(data: ExchangeData, openings: IntArray) -> ExchangeData:
    """Return the record with the state unknown anew at these times, and the readings masked while it settles."""
    start, observed = data.segment_start.copy(), data.observed.copy()
    start[openings] = True
    for opened in openings:
        observed[opened : opened + _settling_steps(data)] = np.nan
    dates = ", ".join(f"{data.times[opened]:%Y-%m-%d}" for opened in openings)
    note = f"Taken as openings that nobody recorded, for the inside jumped: {dates}."
    return replace(data, segment_start=start, observed=observed, notes=(*data.notes, note))


def _settling_steps(data: ExchangeData) -> int:
    return int(np.ceil(SETTLING_HOURS / 24 / data.step_days))
