"""Simulated frames of a wanted half-time: varied panels, boards and air volumes, with the leakage that gives it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from isohume.sample_logs.physics import SURFACE_TRANSFER, FramePhysics, true_half_times
from isohume.sample_logs.sorption import FloatArray, saturation_pressure_pa

# Slope of the sorption equation near 50 %RH and 20 °C: 1.6 g per kg and %RH; only a first guess for the search.
CAPACITY_G_PER_KG_PERCENT = 1.6
BRACKET_FACTOR = 300.0  # the leakage is sought within this factor of the guess, either way
N_BISECTIONS = 18  # ln(300²) / 2^18: the half-time is met to about 0.01 %


def random_frame(rng: np.random.Generator, half_time_days: float, *, n_layers: int = 8) -> FramePhysics:
    """Return a layered frame whose true half-time is as asked.

    Parameters
    ----------
    rng : Generator
    half_time_days : float [days]
        At 20 °C, as `physics.true_half_time` defines it; 1 to 1000.
    n_layers : int

    Returns
    -------
    FramePhysics

    Raises
    ------
    ValueError
        No leakage gives this half-time.
    """
    return random_frames(rng, np.array([half_time_days]), n_layers=n_layers)[0]


def random_frames(
    rng: np.random.Generator, half_time_days: FloatArray, *, n_layers: int = 8
) -> tuple[FramePhysics, ...]:
    """Return one varied frame per half-time [days]; the search runs over all at once, far quicker than singly."""
    wanted = np.asarray(half_time_days, dtype=np.float64)
    frames = [_varied(rng, n_layers=n_layers) for _ in wanted]
    return with_half_times(frames, wanted)


def with_half_times(frames: Sequence[FramePhysics], half_time_days: FloatArray) -> tuple[FramePhysics, ...]:
    """Return the frames with leakage and permeance scaled until each has its half-time [days] at 20 °C.

    Raises
    ------
    ValueError
        No scale within a factor 300 of the guess gives a half-time.
    """
    wanted = np.asarray(half_time_days, dtype=np.float64)
    capacity = np.array([CAPACITY_G_PER_KG_PERCENT * (frame.board_kg + frame.panel_kg) for frame in frames])
    exchange = np.array([frame.exchange_g_per_day_percent() for frame in frames])
    guess = np.log(np.log(2.0) * capacity / wanted / exchange)
    low, high = guess - np.log(BRACKET_FACTOR), guess + np.log(BRACKET_FACTOR)
    for _ in range(N_BISECTIONS):
        middle = (low + high) / 2
        too_slow = _half_times(frames, middle, wanted) > wanted
        low, high = np.where(too_slow, middle, low), np.where(too_slow, high, middle)
    found = _half_times(frames, (low + high) / 2, wanted)
    missed = np.flatnonzero(np.abs(found / wanted - 1.0) > 0.01)
    if missed.size:
        k = missed[0]
        raise ValueError(f"No leakage gives frame {k} a half-time of {wanted[k]:g} days; nearest {found[k]:g} days.")
    return tuple(_scaled(frame, log_scale) for frame, log_scale in zip(frames, (low + high) / 2, strict=True))


def _half_times(frames: Sequence[FramePhysics], log_scale: FloatArray, wanted: FloatArray) -> FloatArray:
    scaled = [_scaled(frame, value) for frame, value in zip(frames, log_scale, strict=True)]
    return true_half_times(scaled, longest_days=float(1.1 * wanted.max()))


def _scaled(frame: FramePhysics, log_scale: float) -> FramePhysics:
    scale = float(np.exp(log_scale))
    return replace(
        frame,
        leakage_per_day=frame.leakage_per_day * scale,
        permeance_g_per_day_pa=frame.permeance_g_per_day_pa * scale,
    )


def _varied(rng: np.random.Generator, *, n_layers: int) -> FramePhysics:
    """Return a frame of plausible make, its leakage still arbitrary."""
    area = rng.uniform(0.2, 0.6) * rng.uniform(0.25, 0.9)
    thickness_mm = rng.uniform(4.0, 18.0)
    air_litres = 1000 * area * rng.uniform(0.012, 0.035)
    leak = FramePhysics(air_litres=air_litres, leakage_per_day=1.0).exchange_g_per_day_percent()
    share = rng.uniform(0.0, 0.5)  # of the exchange that goes by permeation
    per_pascal = leak * 100 / float(saturation_pressure_pa(np.asarray(20.0)))
    return FramePhysics(
        air_litres=air_litres,
        leakage_per_day=1.0,
        permeance_g_per_day_pa=per_pascal * share / (1 - share),
        board_kg=area * rng.uniform(0.8, 4.0),
        board_conductance_g_per_h_pa=area * SURFACE_TRANSFER * rng.uniform(0.3, 1.0),
        panel_kg=area * thickness_mm / 1000 * rng.uniform(430.0, 720.0),
        panel_area_m2=area,
        panel_thickness_mm=thickness_mm,
        coating_sd_m=float(rng.choice([0.0, rng.uniform(0.002, 0.03)])),
        diffusivity_m2_per_s=float(np.exp(rng.uniform(np.log(2e-11), np.log(1.5e-10)))),
        n_layers=n_layers,
        thermal_lag_hours=rng.uniform(0.7, 4.0),
    )
