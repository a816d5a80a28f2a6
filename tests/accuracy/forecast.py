"""How well the forecast foresees simulated frames whose room ahead is unknown."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.forecast.fan import inside_fan, passage
from isohume.analysis.forecast.finding import HORIZON_DAYS, N_MEMBERS, reading_scatter
from isohume.analysis.forecast.room import daily_means, daily_room, own_room
from isohume.analysis.readings import hourly
from tests.accuracy.frames import SimulatedFrame, air_record, simulated_frames

LEADS_DAYS = (30, 60, 120)
RECORDS_DAYS = (60, 425)
AHEAD_DAYS = 125
# The band of each frame lies this far from its last 7-day mean, so that many frames leave it within the time ahead.
BAND_HALF_WIDTH_PERCENT = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One forecast against what came."""

    record_days: int
    half_time_days: float
    kind: str
    held: dict[int, bool]
    width: dict[int, float]
    true_leave_days: float | None  # until the simulated 7-day mean leaves the band
    leave_days: float | None


def try_frame(frame: SimulatedFrame, record_days: int, *, seed: int) -> Tried | None:
    """Forecast from the last `record_days` before the time ahead; None where the model is not determined."""
    hours = frame.inside.readings.shape[0]
    now = hours - AHEAD_DAYS * 24
    cut = slice(now - record_days * 24, now)
    inside, outside = (air_record(side.readings.iloc[cut]) for side in (frame.inside, frame.outside))
    fitted = fit_exchange(inside, outside)
    if not isinstance(fitted, FittedExchange):
        return None
    rng = np.random.default_rng(seed)
    known = daily_room(inside, outside, end=fitted.end_utc)
    room = own_room(known, n_days=HORIZON_DAYS, n_members=N_MEMBERS, rng=rng)
    fan = inside_fan(fitted, room, reading_sd_percent=reading_scatter(inside, fitted), rng=rng)
    low, high = fan.reading_fan()
    later = hourly(frame.inside.rh_percent).reindex(fan.dates.round("h"))
    recent = daily_means(hourly(inside.rh_percent), end=fitted.end_utc)
    middle = float(np.mean(recent[-7:]))
    band = middle - BAND_HALF_WIDTH_PERCENT, middle + BAND_HALF_WIDTH_PERCENT
    found = passage(fan, recent, low=band[0], high=band[1])
    leave = None if found.likely is None else (found.likely - fan.start) / pd.Timedelta(days=1)
    return Tried(
        record_days=record_days,
        half_time_days=frame.half_time_days,
        kind=frame.kind,
        held={lead: bool(low[lead] <= later.iloc[lead] <= high[lead]) for lead in LEADS_DAYS},
        width={lead: float(high[lead] - low[lead]) for lead in LEADS_DAYS},
        true_leave_days=_true_leave(frame, now, band),
        leave_days=leave,
    )


def _true_leave(frame: SimulatedFrame, now: int, band: tuple[float, float]) -> float | None:
    """Return the days until the trailing 7-day mean of the readings to come leaves the band; None if it does not."""
    mean = frame.inside.rh_percent.rolling(7 * 24).mean().to_numpy()[now:]
    outside = (mean < band[0]) | (mean > band[1])
    return float(outside.argmax() / 24) if outside.any() else None


def table(seed: int, n_frames: int) -> str:
    """Return the accuracy table as text."""
    frames = simulated_frames(seed, n_frames, days=RECORDS_DAYS[-1] + AHEAD_DAYS)
    lines = [f"forecast, {n_frames} frames, seed {seed}; share of later readings in the 80 % fan (mean width, %RH)"]
    for record_days in RECORDS_DAYS:
        tried = [found for k, frame in enumerate(frames) if (found := try_frame(frame, record_days, seed=seed + k))]
        cells = []
        for lead in LEADS_DAYS:
            held = np.mean([one.held[lead] for one in tried])
            cells.append(f"{lead} d {held:.2f} ({np.mean([one.width[lead] for one in tried]):.1f})")
        lines.append(f"record {record_days:3d} d, {len(tried):3d} determined: {', '.join(cells)}")
        by_kind = [
            f"{kind} {np.mean([one.held[lead] for one in tried if one.kind == kind for lead in LEADS_DAYS]):.2f}"
            for kind in sorted({one.kind for one in tried})
        ]
        lines.append(f"    by room: {', '.join(by_kind)}")
        left = [one for one in tried if one.true_leave_days is not None and 0 < one.true_leave_days <= AHEAD_DAYS - 5]
        errors = [
            abs((one.leave_days if one.leave_days is not None else HORIZON_DAYS) - one.true_leave_days)
            for one in left
            if one.true_leave_days is not None
        ]
        lines.append(f"    leave-by: {len(left)} frames left their band; median error {np.median(errors):.1f} days")
    return "\n".join(lines)


def main(arguments: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy forecast")
    parser.add_argument("--frames", type=int, default=120)
    parser.add_argument("--seed", type=int, default=902)
    chosen = parser.parse_args(arguments)
    print(table(chosen.seed, chosen.frames))
