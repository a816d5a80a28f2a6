"""How well the forecast foresees simulated frames whose room ahead is unknown.

`python -m tests.accuracy forecast --frames 120 --seed 5001 6001 --csv analysis/data/forecast_accuracy.csv`

Each frame has 550 days; the forecast is made 125 days before their end, from the 60 or the 425 days before that, and
never sees what follows. A frame measured for 60 days may hang in a room that was measured for 425. With `--raw
file.csv` every forecast is written as it comes.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path

import numpy as np
import pandas as pd

from isohume.analysis.exchange.fit import FittedExchange, fit_exchange
from isohume.analysis.forecast.fan import Fan, inside_fan, passage
from isohume.analysis.forecast.finding import HORIZON_DAYS, N_MEMBERS, reading_scatter
from isohume.analysis.forecast.room import daily_means, daily_room, own_room
from isohume.analysis.readings import hourly
from tests.accuracy.frames import SimulatedFrame, air_record, simulated_frames
from tests.accuracy.intervals import binomial_interval, frames_of_seeds, kept_rows, median_interval

LEADS_DAYS = (30, 60, 120)
RECORDS_DAYS = ((60, 60), (60, 425), (425, 425))  # of the frame and of its room
AHEAD_DAYS = 125
LEAVES_WITHIN_DAYS = 120
BATCH = 20  # frames simulated at once
# The band of each frame lies this far from its last 7-day mean, so that many frames leave it within the time ahead.
BAND_HALF_WIDTH_PERCENT = 5.0
FAN = (10.0, 90.0)


def try_frame(frame: SimulatedFrame, record_days: int, room_days: int, *, seed: int) -> dict[str, object]:
    """Forecast from the last days of frame and room before the time ahead, and hold it against what came."""
    hours = frame.inside.readings.shape[0]
    now = hours - AHEAD_DAYS * 24
    inside, outside = (
        air_record(side.readings.iloc[now - days * 24 : now])
        for side, days in ((frame.inside, record_days), (frame.outside, room_days))
    )
    row: dict[str, object] = {
        "record_days": record_days,
        "room_days": room_days,
        "half_time": round(frame.half_time_days, 2),
        "room": frame.kind,
        "determined": 0,
    }
    fitted = fit_exchange(inside, outside)
    if not isinstance(fitted, FittedExchange):
        return row
    rng = np.random.default_rng(seed)
    known = daily_room(inside, outside, end=fitted.end_utc)
    room = own_room(known, n_days=HORIZON_DAYS, n_members=N_MEMBERS, rng=rng)
    fan = inside_fan(fitted, room, reading_sd_percent=reading_scatter(inside, fitted), rng=rng)
    recent = daily_means(hourly(inside.rh_percent), end=fitted.end_utc)
    middle = float(np.mean(recent[-7:]))
    band = middle - BAND_HALF_WIDTH_PERCENT, middle + BAND_HALF_WIDTH_PERCENT
    found = passage(fan, recent, low=band[0], high=band[1])
    row |= {
        "determined": 1,
        "reading_sd": round(fan.reading_sd_percent, 3),
        "leave_day": _days(found.likely, fan),
        "earliest_day": _days(found.earliest, fan),
        "true_leave_day": _true_leave(frame, now, band),
    }
    return row | _against_the_readings(fan, frame)


def _against_the_readings(fan: Fan, frame: SimulatedFrame) -> dict[str, object]:
    """Return, for each lead, whether the fan of readings held the reading and that of means the day's mean."""
    low, high = fan.reading_fan()
    later = hourly(frame.inside.rh_percent)
    readings = later.reindex(fan.dates.round("h"))
    means = later.rolling(24).mean().reindex(fan.dates.round("h"))
    row: dict[str, object] = {}
    for lead in LEADS_DAYS:
        of_means = np.percentile(fan.members[lead], FAN)
        row |= {
            f"held_{lead}": int(low[lead] <= readings.iloc[lead] <= high[lead]),
            f"held_mean_{lead}": int(of_means[0] <= means.iloc[lead] <= of_means[1]),
            f"width_{lead}": round(float(high[lead] - low[lead]), 2),
            f"rank_{lead}": round(float((fan.members[lead] < means.iloc[lead]).mean()), 3),
            f"error_{lead}": round(float(np.median(fan.members[lead]) - means.iloc[lead]), 2),
        }
    return row


def _days(date: pd.Timestamp | None, fan: Fan) -> float | None:
    return None if date is None else round((date - fan.start) / pd.Timedelta(days=1), 1)


def _true_leave(frame: SimulatedFrame, now: int, band: tuple[float, float]) -> float | None:
    """Return the days until the trailing 7-day mean of the readings to come leaves the band; None if it does not."""
    mean = frame.inside.rh_percent.rolling(7 * 24).mean().to_numpy()[now:]
    outside = (mean < band[0]) | (mean > band[1])
    return round(float(outside.argmax() / 24), 1) if outside.any() else None


def run(seed: int, n_frames: int) -> Iterator[dict[str, object]]:
    """Simulate and forecast; progress goes to stderr."""
    for first in range(0, n_frames, BATCH):
        size = min(BATCH, n_frames - first)
        frames = simulated_frames(seed * 1000 + first, size, days=RECORDS_DAYS[-1][1] + AHEAD_DAYS)
        for k, frame in enumerate(frames):
            for record_days, room_days in RECORDS_DAYS:
                row = try_frame(frame, record_days, room_days, seed=seed + first + k)
                yield {"frame": seed * 1000 + first + k} | row
        print(f"{first + size} of {n_frames} frames", file=sys.stderr, flush=True)


def table(rows: pd.DataFrame) -> pd.DataFrame:
    """Summarise: share of later readings in the fan, its width, and the error of the leave-by date."""
    lines = []
    for (record_days, room_days), of_length in rows.groupby(["record_days", "room_days"], sort=True):
        told = of_length[of_length["determined"] == 1]
        left = told[told["true_leave_day"].between(0, LEAVES_WITHIN_DAYS, inclusive="right")]
        errors = (left["leave_day"].fillna(HORIZON_DAYS) - left["true_leave_day"]).abs()
        error_low, error_high = median_interval(errors)
        not_before = left["earliest_day"].fillna(HORIZON_DAYS) <= left["true_leave_day"]
        for lead in LEADS_DAYS:
            held = told[f"held_{lead}"]
            low, high = binomial_interval(int(held.sum()), len(held))
            lines.append(
                {
                    "record_days": record_days,
                    "room_record_days": room_days,
                    "lead_days": lead,
                    "frames": len(of_length),
                    "determined": len(told),
                    "in_fan_percent": 100 * held.mean(),
                    "in_fan_percent_low": 100 * low,
                    "in_fan_percent_high": 100 * high,
                    "fan_width_percent_rh": told[f"width_{lead}"].mean(),
                    "median_error_percent_rh": told[f"error_{lead}"].abs().median(),
                    "left_within_120_days": len(left),
                    "leave_by_error_days_median": errors.median(),
                    "leave_by_error_days_low": error_low,
                    "leave_by_error_days_high": error_high,
                    "earliest_before_truth_percent": 100 * not_before.mean(),
                }
            )
    return pd.DataFrame(lines).round(1)


def main(arguments: list[str]) -> None:
    """Print the table, and write it where asked."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy forecast", description=__doc__)
    parser.add_argument("--frames", type=int, nargs="+", default=[120], help="one number, or one per seed")
    parser.add_argument("--seed", type=int, nargs="+", default=[5001])
    parser.add_argument("--raw", type=Path, help="where every forecast is written as it comes")
    parser.add_argument("--csv", type=Path, help="where the table is written")
    options = parser.parse_args(arguments)
    wanted = frames_of_seeds(options.seed, options.frames)
    rows = kept_rows((row for seed, n_frames in wanted.items() for row in run(seed, n_frames)), options.raw)
    summary = table(rows)
    print(summary.to_string(index=False))
    if options.csv:
        seeds = " ".join(map(str, wanted))
        frames = " ".join(map(str, wanted.values()))
        command = f"python -m tests.accuracy forecast --seed {seeds} --frames {frames}"
        with options.csv.open("w", encoding="utf-8", newline="") as handle:
            handle.write(
                f"# isohume {version('isohume')}; seeds {seeds}; {command}; share of later readings within the "
                "80 % fan, 95 % interval by Clopper and Pearson; leave-by where the 7-day mean left a band of ± 5 %RH "
                "within 120 days, 95 % interval of the median by order statistics\n"
            )
            summary.to_csv(handle, index=False, lineterminator="\n")
