"""The time step of the frame model in `isohume.sample_logs.physics`: implicit, linearised, many frames at once."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from isohume.sample_logs.sorption import (
    FloatArray,
    SorptionTerms,
    moisture_and_slope,
    saturation_pressure_pa,
    sorption_terms,
    vapour_g_per_m3_pa,
)

REFERENCE_CELSIUS = 20.0  # at which diffusivities and half-times are given
DRIEST, WETTEST = 1e-3, 0.999  # activity; the sorption equation is not meant to be followed beyond


class Batch(NamedTuple):
    """The constants of several frames, (frames,) each, and the modes of their panels, (layers,) each."""

    air_m3: FloatArray
    leak_m3_per_h: FloatArray
    permeance: FloatArray  # g/(h Pa)
    board_g: FloatArray  # water per % moisture content [g/%]
    board_conductance: FloatArray  # g/(h Pa)
    layer_g: FloatArray  # water per % moisture content of one layer [g/%]
    has_panel: FloatArray  # 1 or 0
    surface_resistance: FloatArray  # film and coating [h Pa/g]
    diffusion_per_h: FloatArray  # D/z² at 20 °C [1/h]
    eigenvalues: FloatArray
    surface_mode: FloatArray  # value of each mode in the layer at the open face


class Warmth(NamedTuple):
    """What one step needs of temperature and room, (frames,) each."""

    saturated_pa: FloatArray
    vapour: FloatArray  # g/(m³ Pa) inside
    diffusion_factor: FloatArray  # diffusivity over its value at 20 °C
    outside_pa: FloatArray
    room_conductance: FloatArray  # g/(h Pa)
    terms: SorptionTerms


class March:
    """Air, board and panel of several frames, carried from step to step."""

    def __init__(self, batch: Batch, activity: FloatArray, now: Warmth) -> None:
        self.batch = batch
        n_frames, n_layers = len(batch.air_m3), len(batch.eigenvalues)
        self.n_layers = n_layers
        self.mean_mode = 1.0 / np.sqrt(n_layers)  # value of the uniform mode in every layer
        # Row 0 the board, row 1 the layer at the open face: both follow the sorption equation.
        self.activity = np.tile(activity, (2, 1))
        self.moisture, _ = moisture_and_slope(self.activity, now.terms)
        self.modes = np.zeros((n_frames, n_layers))
        self.modes[:, 0] = self.moisture[1] / self.mean_mode
        self.pressure_pa = activity * now.saturated_pa
        self.air_g = batch.air_m3 * now.vapour * self.pressure_pa
        self.inflow_g = np.zeros(n_frames)

    def recondition(self, frame: int, activity: float, now: Warmth, *, board_only: bool = False) -> None:
        """Bring the board of one frame, and unless `board_only` its panel and air, to an activity."""
        rows = slice(0, 1) if board_only else slice(0, 2)
        moisture, _ = moisture_and_slope(np.asarray(activity), SorptionTerms(*(term[frame] for term in now.terms)))
        self.activity[rows, frame] = activity
        self.moisture[rows, frame] = moisture
        if not board_only:
            self.modes[frame] = 0.0
            self.modes[frame, 0] = moisture / self.mean_mode
            self.pressure_pa[frame] = activity * now.saturated_pa[frame]
            self.air_g[frame] = self.batch.air_m3[frame] * now.vapour[frame] * self.pressure_pa[frame]

    def step(self, hours: float, now: Warmth) -> None:
        """Advance by one step; `now` holds the temperatures and the room at its end."""
        batch, saturated = self.batch, now.saturated_pa
        # The humidity that the present moisture has at the new temperature: a Newton step, corrected next time.
        moisture, slope = moisture_and_slope(self.activity, now.terms)
        activity = self.activity + (self.moisture - moisture) / slope
        np.clip(activity, DRIEST, WETTEST, out=activity)
        pressure, stiffness = saturated * activity, saturated / slope  # [Pa], [Pa per %]

        board_flow = batch.board_conductance / (
            1.0 + batch.board_conductance * stiffness[0] * hours / batch.board_g
        )  # g/h per Pa between the air now and the board before

        diffusion = now.diffusion_factor * batch.diffusion_per_h
        decay = 1.0 / (1.0 + (hours * diffusion)[:, None] * batch.eigenvalues)
        settled = self.modes * decay  # the panel after the step, had nothing crossed its face
        surface_before = pressure[1] + stiffness[1] * (settled @ batch.surface_mode - self.moisture[1])
        half_layer = stiffness[1] / (2.0 * batch.layer_g * diffusion)
        conductance = batch.has_panel / (batch.surface_resistance + half_layer)
        gain = decay @ (batch.surface_mode * batch.surface_mode)  # of the face layer for water that crosses the face
        panel_flow = conductance / (1.0 + conductance * stiffness[1] * hours * gain / batch.layer_g)

        heard = now.room_conductance * now.outside_pa + board_flow * pressure[0] + panel_flow * surface_before
        holds = batch.air_m3 * now.vapour
        conducts = now.room_conductance + board_flow + panel_flow
        self.pressure_pa = (self.air_g + hours * heard) / (holds + hours * conducts)
        self.air_g = holds * self.pressure_pa
        self.inflow_g = hours * now.room_conductance * (now.outside_pa - self.pressure_pa)

        crossed = hours * panel_flow * (self.pressure_pa - surface_before) / batch.layer_g
        self.modes = settled + (crossed[:, None] * batch.surface_mode) * decay
        change = np.empty_like(self.moisture)
        change[0] = hours * board_flow * (self.pressure_pa - pressure[0]) / batch.board_g
        change[1] = self.modes @ batch.surface_mode - self.moisture[1]
        self.moisture += change
        self.activity = np.clip(activity + change / slope, DRIEST, WETTEST)

    @property
    def panel_moisture(self) -> FloatArray:
        """Mean moisture content of the panels [%], (frames,)."""
        return np.asarray(self.modes[:, 0] * self.mean_mode)

    @property
    def water_g(self) -> FloatArray:
        """Water in air, board and panel [g], (frames,)."""
        batch = self.batch
        board = np.where(batch.board_conductance > 0, batch.board_g * self.moisture[0], 0.0)
        panel = batch.has_panel * batch.layer_g * self.n_layers * self.panel_moisture
        return np.asarray(self.air_g + board + panel)


def lagged(warmth: FloatArray, hours: FloatArray, lag_h: FloatArray) -> FloatArray:
    """Return the inside temperature, which follows the room's with a time constant; starts equal to it."""
    keep = np.exp(-hours[:, None] / lag_h)
    inside = np.empty(warmth.shape)
    inside[0] = warmth[0]
    for k in range(1, len(warmth)):
        inside[k] = warmth[k] + (inside[k - 1] - warmth[k]) * keep[k]
    return inside


def warmths(
    batch: Batch, inside: FloatArray, humidity: FloatArray, warmth: FloatArray, factor: FloatArray
) -> Iterator[Warmth]:
    """Yield step by step what temperature and room decide, computed for a block of steps at once."""
    saturated, vapour = saturation_pressure_pa(inside), vapour_g_per_m3_pa(inside)
    diffusion = saturated / saturation_pressure_pa(np.asarray(REFERENCE_CELSIUS))
    outside = humidity / 100.0 * saturation_pressure_pa(warmth)
    conductance = batch.leak_m3_per_h * factor * vapour + batch.permeance
    terms = zip(*sorption_terms(inside), strict=True)
    rows = zip(saturated, vapour, diffusion, outside, conductance, terms, strict=True)
    for pressure, content, factor_d, outer, conducts, term in rows:
        yield Warmth(pressure, content, factor_d, outer, conducts, SorptionTerms(*term))


def panel_modes(n_layers: int) -> tuple[FloatArray, FloatArray]:
    """Return eigenvalues and face values of the diffusion modes of a panel whose faces pass no water, (layers,) each.

    The modes of M_{i+1} - 2·M_i + M_{i-1} with closed ends are the cosines of the discrete cosine transform (type 2).
    """
    order: npt.NDArray[np.float64] = np.arange(n_layers, dtype=np.float64)
    eigenvalues = 4.0 * np.sin(np.pi * order / (2 * n_layers)) ** 2
    face = np.sqrt(2.0 / n_layers) * np.cos(np.pi * order / (2 * n_layers))
    face[0] = 1.0 / np.sqrt(n_layers)
    return eigenvalues, face
