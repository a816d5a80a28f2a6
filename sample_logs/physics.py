"""One sealed frame as a chain of water stores: room, frame air with a fast board, and a layered panel.

The stores hold grams of water; nothing here is a formula that the analysis inverts. With vapour pressure e [Pa],
moisture content M [% of dry mass], activity h [1] (relative humidity as a fraction) and E = e_s(T) of the frame:

    air      d(V·κ·e)/dt   = G_room·(e_room - e) - q_board - q_panel     κ = 1000 / (461.5·T) g/(m³ Pa)
    room     G_room        = leakage·N·V·κ/24 + permeance/24             N air changes [1/day]
    board    10·m_b·dM_b/dt = q_board = G_b·(e - E·h(M_b, T))
    panel    10·m_l·dM_1/dt = q_panel + 10·m_l·(D/z²)·(M_2 - M_1)        layer mass m_l = m_p/n, thickness z
             10·m_l·dM_i/dt = 10·m_l·(D/z²)·(M_{i+1} - 2·M_i + M_{i-1}), no flow through the back of the last layer
    surface  q_panel = (e - E·h(M_1, T)) / (1/(A·β) + s_coating/(3.6e6·δ·A) + half a layer)
    inside   dT/dt = (T_room - T)/thermal lag

M(h, T) is equation 4-5 of the Wood Handbook; its inverse h(M, T) is followed by Newton steps. D rises with temperature
as saturated vapour does. Times are in hours [h], masses in kilograms of dry matter, flows in g/h.
A step is implicit and linearised: water is conserved to rounding whatever the step. The panel is carried in the
eigenmodes of its diffusion, so a step costs the same few array operations for one frame or for hundreds.

Rooms and loggers: `isohume.sample_logs.rooms`. Frames of a wanted half-time: `isohume.sample_logs.random_frames`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from isohume.sample_logs.marching import REFERENCE_CELSIUS, Batch, March, lagged, panel_modes, warmths
from isohume.sample_logs.sorption import (
    AIR_PERMEABILITY,
    FloatArray,
    saturation_pressure_pa,
    vapour_g_per_m3_pa,
)

ResetKind = Literal["opened", "reconditioned", "new board"]

# Vapour transfer at a surface in still air, g/(h m² Pa): 2.5e-8 kg/(m² s Pa), the round value of building physics.
SURFACE_TRANSFER = 0.09
GRAMS_PER_KG_PERCENT = 10.0  # 1 % of 1 kg dry matter
OPEN_LEAKAGE_FACTOR = 1e5  # an open frame: its air is the room's
BLOCK_STEPS = 1024  # steps whose temperature terms are computed at once
SECONDS_PER_HOUR, SECONDS_PER_DAY, GRAMS_PER_KG = 3600.0, 86400.0, 1000.0
# The step that defines the half-time, and the steps of its simulation: from 2 min, growing as 0.4 % of the time gone.
STEP_FROM_PERCENT, STEP_TO_PERCENT = 50.0, 40.0
SHORTEST_STEP_S, STEP_GROWTH = 120.0, 0.004
LONGEST_HALF_TIME_DAYS = 365.0 * 30


@dataclass(frozen=True, slots=True, kw_only=True)
class FramePhysics:
    """What one sealed frame is made of.

    Attributes
    ----------
    air_litres : float [L]
    leakage_per_day : float [1/day]
        Exchange of the frame's air with the room's through gaps.
    permeance_g_per_day_pa : float [g/(day Pa)]
        Diffusion through glazing and backing: 8.64e7·δ_air·Σ area/s_d.
    board_kg : float [kg]
        Dry mass of the fast buffering board; 0 for none.
    board_conductance_g_per_h_pa : float [g/(h Pa)]
        How quickly the board exchanges vapour with the air.
    panel_kg, panel_area_m2, panel_thickness_mm : float [kg], [m²], [mm]
        Dry mass, area of the one open face and thickness; 0 kg for no panel.
    coating_sd_m : float [m]
        Diffusion-equivalent air layer of a coating on the open face; 0 for bare wood.
    diffusivity_m2_per_s : float [m²/s]
        Moisture diffusivity through the thickness at 20 °C, driven by moisture content.
    n_layers : int
    thermal_lag_hours : float [h]
        Time constant of the inside temperature behind the room's.
    """

    air_litres: float = 3.0
    leakage_per_day: float = 2.0
    permeance_g_per_day_pa: float = 0.0
    board_kg: float = 0.4
    board_conductance_g_per_h_pa: float = 0.01
    panel_kg: float = 0.9
    panel_area_m2: float = 0.144
    panel_thickness_mm: float = 9.0
    coating_sd_m: float = 0.0
    diffusivity_m2_per_s: float = 5e-11
    n_layers: int = 8
    thermal_lag_hours: float = 1.5

    def exchange_g_per_day_percent(self, temperature_celsius: float = REFERENCE_CELSIUS) -> float:
        """Return the vapour that leaks and permeates per %RH of difference [g/(day %RH)]."""
        t = np.asarray(temperature_celsius, dtype=np.float64)
        leak = self.leakage_per_day * self.air_litres / 1000 * float(vapour_g_per_m3_pa(t))
        return (leak + self.permeance_g_per_day_pa) * float(saturation_pressure_pa(t)) / 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Reset:
    """What hands did to a frame at one step.

    `opened`: during the step that ends at `index` the frame's air is the room's. `reconditioned`: air, board and every
    layer of the panel are brought to `rh_percent`. `new board`: the board only.
    """

    index: int
    kind: ResetKind
    rh_percent: float | None = None
    frame: int = 0  # position in the batch


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameCourse:
    """What the simulated frame did; (n,) arrays for one frame, (n, frames) for several."""

    rh_percent: FloatArray  # of the frame's air
    temperature_celsius: FloatArray
    board_moisture_percent: FloatArray
    panel_moisture_percent: FloatArray  # mean over the thickness
    surface_moisture_percent: FloatArray  # of the layer at the open face
    water_g: FloatArray  # in air, board and panel together
    inflow_g: FloatArray  # from the room, during the step that ends here


_MARCHED = tuple(name for name in FrameCourse.__slots__ if name != "temperature_celsius")


def simulate(
    physics: FramePhysics,
    room_rh: FloatArray,
    room_temp: FloatArray,
    *,
    start_rh: float,
    step_s: float | FloatArray = 3600.0,
    leakage_factor: FloatArray | None = None,
    resets: Sequence[Reset] = (),
) -> FrameCourse:
    """Simulate one frame; parameters as in `simulate_frames`, arrays of shape (n,)."""
    many = simulate_frames(
        [physics],
        room_rh,
        room_temp,
        start_rh=start_rh,
        step_s=step_s,
        leakage_factor=leakage_factor,
        resets=resets,
    )
    return FrameCourse(**{name: getattr(many, name)[:, 0] for name in FrameCourse.__slots__})


def simulate_frames(
    frames: Sequence[FramePhysics],
    room_rh: FloatArray,
    room_temp: FloatArray,
    *,
    start_rh: float | FloatArray,
    step_s: float | FloatArray = 3600.0,
    leakage_factor: FloatArray | None = None,
    resets: Sequence[Reset] = (),
) -> FrameCourse:
    """Simulate several frames at once.

    Parameters
    ----------
    frames : sequence of FramePhysics
        All with the same number of layers.
    room_rh, room_temp : (n,) or (n, frames) arrays [%RH], [°C]
        The room's air; a value holds for the step that ends at it. No NaN.
    start_rh : float or (frames,) array [%RH]
        Air, board and panel start in equilibrium with it, at the room's first temperature.
    step_s : float or (n,) array [s]
        Length of the step that ends at each value; the first is not used.
    leakage_factor : (n,) or (n, frames) array, optional
        Multiplies the leakage (not the permeation): a seal that opens.
    resets : sequence of Reset

    Returns
    -------
    FrameCourse
        Arrays of shape (n, frames).

    Raises
    ------
    ValueError
        Frames differ in their number of layers.
    """
    n, n_frames = len(room_rh), len(frames)
    batch, factor = _batch(frames), np.ones((n, 1)) if leakage_factor is None else leakage_factor
    humidity, warmth, factor = (
        np.broadcast_to(a if a.ndim == 2 else a[:, None], (n, n_frames)) for a in (room_rh, room_temp, factor)
    )
    hours = np.broadcast_to(np.asarray(step_s, dtype=np.float64) / 3600.0, (n,))
    by_index: dict[int, list[Reset]] = {}
    if resets:
        factor = factor.copy()
    for reset in resets:
        by_index.setdefault(reset.index, []).append(reset)
        if reset.kind == "opened":
            factor[reset.index, reset.frame] *= OPEN_LEAKAGE_FACTOR

    inside = lagged(warmth, hours, np.array([frame.thermal_lag_hours for frame in frames]))
    course = FrameCourse(temperature_celsius=inside, **{name: np.empty((n, n_frames)) for name in _MARCHED})
    march: March | None = None
    for block in range(0, n, BLOCK_STEPS):
        rows = slice(block, block + BLOCK_STEPS)
        for k, now in enumerate(warmths(batch, inside[rows], humidity[rows], warmth[rows], factor[rows]), block):
            if march is None:
                activity = np.broadcast_to(np.asarray(start_rh, dtype=np.float64) / 100.0, (n_frames,))
                march = March(batch, activity, now)
            else:
                march.step(hours[k], now)
            for reset in by_index.get(k, ()):
                if reset.rh_percent is not None:
                    only = reset.kind == "new board"
                    march.recondition(reset.frame, reset.rh_percent / 100.0, now, board_only=only)
            course.rh_percent[k] = 100.0 * march.pressure_pa / now.saturated_pa
            course.board_moisture_percent[k], course.surface_moisture_percent[k] = march.moisture
            course.panel_moisture_percent[k] = march.panel_moisture
            course.water_g[k] = march.water_g
            course.inflow_g[k] = march.inflow_g
    return course


def true_half_time(physics: FramePhysics, temperature_celsius: float = REFERENCE_CELSIUS) -> float:
    """Return the hygrometric half-time of one frame [days], by simulation.

    The time in which the inside air completes half of a step of the room from 50 to 40 %RH, everything in equilibrium
    at 50 % before.
    """
    return float(true_half_times([physics], temperature_celsius)[0])


def true_half_times(
    frames: Sequence[FramePhysics],
    temperature_celsius: float = REFERENCE_CELSIUS,
    *,
    longest_days: float = LONGEST_HALF_TIME_DAYS,
) -> FloatArray:
    """Return the hygrometric half-times of several frames [days], (frames,); inf above `longest_days`."""
    times = [0.0]
    while times[-1] < longest_days * SECONDS_PER_DAY:
        times.append(times[-1] + max(SHORTEST_STEP_S, STEP_GROWTH * times[-1]))
    time_s = np.array(times)
    steps_s = np.diff(time_s, prepend=0.0)
    room = np.full(len(time_s), STEP_TO_PERCENT)
    warmth = np.full(len(time_s), temperature_celsius)
    inside = simulate_frames(frames, room, warmth, start_rh=STEP_FROM_PERCENT, step_s=steps_s).rh_percent
    halfway = (STEP_FROM_PERCENT + STEP_TO_PERCENT) / 2
    after = np.argmax(inside <= halfway, axis=0)
    column = np.arange(len(frames))
    high, low = inside[after - 1, column], inside[after, column]
    crossing_s = time_s[after - 1] + (time_s[after] - time_s[after - 1]) * (high - halfway) / (high - low)
    return np.where(after > 0, crossing_s / SECONDS_PER_DAY, np.inf)


def _batch(frames: Sequence[FramePhysics]) -> Batch:
    layers = {frame.n_layers for frame in frames}
    if len(layers) != 1:
        raise ValueError(f"Frames with {sorted(layers)} layers in one batch: give all the same number of layers.")
    n_layers = layers.pop()
    eigenvalues, face = panel_modes(n_layers)

    def column(name: str) -> FloatArray:
        return np.array([getattr(frame, name) for frame in frames], dtype=np.float64)

    board_kg, panel_kg, area = column("board_kg"), column("panel_kg"), column("panel_area_m2")
    layer_m = column("panel_thickness_mm") / 1000 / n_layers
    coating = column("coating_sd_m") / (AIR_PERMEABILITY * GRAMS_PER_KG * SECONDS_PER_HOUR)
    return Batch(
        air_m3=column("air_litres") / 1000,
        leak_m3_per_h=column("air_litres") / 1000 * column("leakage_per_day") / 24,
        permeance=column("permeance_g_per_day_pa") / 24,
        # A missing store keeps a dummy mass and gets no flow: nothing divides by zero.
        board_g=GRAMS_PER_KG_PERCENT * np.where(board_kg > 0, board_kg, 1.0),
        board_conductance=np.where(board_kg > 0, column("board_conductance_g_per_h_pa"), 0.0),
        layer_g=GRAMS_PER_KG_PERCENT * np.where(panel_kg > 0, panel_kg, 1.0) / n_layers,
        has_panel=np.where(panel_kg > 0, 1.0, 0.0),
        surface_resistance=(1 / SURFACE_TRANSFER + coating) / area,
        diffusion_per_h=column("diffusivity_m2_per_s") * SECONDS_PER_HOUR / layer_m**2,
        eigenvalues=eigenvalues,
        surface_mode=face,
    )
