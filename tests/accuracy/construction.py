"""The half-time from materials against simulated layered frames. `python -m tests.accuracy construction --frames 400`.

Each frame is described to the relation as a maker would: air, air exchange, sheets, dry masses of board and panel. The
truth is the simulated answer to the step that defines the half-time, 50 → 40 %RH, at several temperatures.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from isohume.analysis.constants import DAY_SECONDS
from isohume.analysis.construction import (
    AIR_PERMEABILITY,
    Buffer,
    FrameDesign,
    Sheet,
    design_half_time,
    panel_response_days,
)
from isohume.analysis.exchange.model import FloatArray
from isohume.analysis.plate import plate_time_constant
from isohume.analysis.sorption import emc_slope
from isohume.sample_logs.physics import FramePhysics, true_half_times
from isohume.sample_logs.random_frames import random_frames
from tests.accuracy.frames import HALF_TIME_DAYS, write_table

GRAMS_PER_KG = 1000.0
# Board and panel are both wood there: the slope of the sorption equation (Wood Handbook Eq. 4-5) in the middle of the
# half of the step that counts, 50 → 45 %RH.
MIDDLE_PERCENT = 47.5
CELSIUS = (6.0, 12.0, 20.0, 26.0)
CLASSES = ((0.0, 1.0), (1.0, 3.0), (3.0, 6.0), (6.0, 12.0), (12.0, np.inf))
LONGEST_DAYS = 6000.0


def main(arguments: list[str]) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy construction", description=__doc__)
    parser.add_argument("--frames", type=int, default=400)
    parser.add_argument("--seed", type=int, default=6001)
    parser.add_argument("--csv", type=Path, help="where the table is written")
    options = parser.parse_args(arguments)
    rng = np.random.default_rng(options.seed)
    frames = random_frames(rng, np.exp(rng.uniform(*np.log(HALF_TIME_DAYS), options.frames)))
    print(f"half-time from materials over the simulated one, {options.frames} frames, seed {options.seed}")
    print("half-time / panel's own response      n   median   10-90 %        given")
    rows: list[dict[str, object]] = []
    for celsius in CELSIUS:
        print(f"at {celsius:.0f} °C")
        ratio, share, given = ratios(frames, celsius)
        for low, high in CLASSES:
            here = (share >= low) & (share < high)
            if here.any():
                spread = np.percentile(ratio[here], (10, 90))
                rows.append(row_of(celsius, (low, high), ratio[here], given[here]))
                print(
                    f"  {low:4.0f} to {high:4.0f}                      {here.sum():5d}   {np.median(ratio[here]):5.3f}"
                    f"   {spread[0]:.2f} to {spread[1]:.2f}   {given[here].mean():6.0%}"
                )
        spread = np.percentile(ratio[given], (10, 90))
        print(
            f"  all that are given                {given.sum():5d}   {np.median(ratio[given]):5.3f}"
            f"   {spread[0]:.2f} to {spread[1]:.2f}"
        )
    write_table(options.csv, rows, "python -m tests.accuracy construction " + " ".join(arguments))


def row_of(celsius: float, between: tuple[float, float], ratio: FloatArray, given: np.ndarray) -> dict[str, object]:
    """Return one row of the published table."""
    low, high = between
    return {
        "temperature_celsius": celsius,
        "half_time_over_panels_own_response": f"{low:g} to {high:g}" if np.isfinite(high) else f"over {low:g}",
        "frames": ratio.size,
        "given_percent": round(100 * float(given.mean())),
        "median_error_percent": round(100 * float(np.median(ratio) - 1), 1),
        "error_p10_percent": round(100 * float(np.quantile(ratio, 0.1) - 1), 1),
        "error_p90_percent": round(100 * float(np.quantile(ratio, 0.9) - 1), 1),
    }


def ratios(frames: tuple[FramePhysics, ...], celsius: float) -> tuple[FloatArray, FloatArray, np.ndarray]:
    """Return relation over truth, relation over the panel's own response, and whether the relation is given."""
    truth = true_half_times(frames, celsius, longest_days=LONGEST_DAYS)
    designs = [design_of(frame, celsius) for frame in frames]
    found = np.array([unrefused(design, celsius) for design in designs])
    response = np.array([panel_response_days(design, celsius) or 0.0 for design in designs])
    given = np.array([design_half_time(design, temperature_celsius=celsius).half_time_days for design in designs])
    return found / truth, found / response, given != np.array(None)


def design_of(frame: FramePhysics, celsius: float) -> FrameDesign:
    """Describe a simulated frame as its maker would."""
    board, panel = (
        Buffer(mass_kg=mass, capacity_g_per_kg_per_percent=10 * emc_slope(MIDDLE_PERCENT, celsius))
        for mass in (frame.board_kg, frame.panel_kg)
    )
    response = plate_time_constant(frame.panel_thickness_mm, diffusivity_m2_per_s=frame.diffusivity_m2_per_s)
    return FrameDesign(
        air_volume_litres=frame.air_litres,
        air_exchange_per_day=frame.leakage_per_day,
        buffers=(board, panel),
        # As one square metre of a sheet: 8.64e7·δ_air/s_d g/(day Pa).
        sheets=(
            Sheet(area_m2=frame.permeance_g_per_day_pa / (GRAMS_PER_KG * DAY_SECONDS * AIR_PERMEABILITY), s_d_m=1.0),
        )
        if frame.permeance_g_per_day_pa
        else (),
        panel_response_days=response.total_seconds() / DAY_SECONDS,
    )


def unrefused(design: FrameDesign, celsius: float) -> float:
    """Return the half-time by the relation, also where it is refused."""
    capacity = design.capacity_g_per_percent(celsius)
    return float(np.log(2)) * capacity / design.conductance_g_per_day_per_percent(celsius)
