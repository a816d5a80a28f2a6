"""The exchange model: air with fast board, coupled to a diffusing panel, leaking to the room.

On the moisture scale of `moisture_scale.py`, with x₁ the air and fast board, x₂ the panel [%RH], u the RH the room's
vapour would have at the inside temperature, b the offset between the two loggers, k(T) = c_s(T_in)/c_s(T_ref):

    dx₁/dt = k(T)·[(u + b − x₁)/τ_leak + (x₂ − x₁)/τ₁₂]        dx₂/dt = k(T)·(x₁ − x₂)/τ₂₁

Leakage, surface transfer and diffusion in wood are all driven by vapour pressure, so all of them quicken with k(T):
time runs faster in a warm frame. One reservoir is the case without x₂. `panel_layers` resolves the panel into equal
layers in series, between which moisture diffuses; one layer is the equation above.

The logger reads the air, which lies between the board and the room: of the resistance between them a share φ =
τ_board/τ_leak lies between air and board, and the air shows that share of the room at once,

    air = x₁ + φ·(u + b − x₁),

little in a tight frame, a tenth and more in a leaky one. Times are in days throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from isohume.analysis.psychrometrics import saturation_concentration_g_per_m3

FloatArray = npt.NDArray[np.float64]

# Two layers halve the error that one leaves on simulated panels of eight layers; three or four gain little more.
PANEL_LAYERS = 2
# Time in which a sheet of board follows the air around it. Boards of 0.8 to 4 kg/m² hold 1.3 to 6.4 g/m² per %RH
# (1.6 g per kg and %RH, slope of the Wood Handbook equation 4-5 at 50 %RH) and take up 0.6 to 2.1 g/(m² h) per %RH
# through still air: 1 to 10 hours, often 2 to 3.
TAU_BOARD_DAYS = 0.1
MOST_DIRECT = 0.5
HALF = 0.5
MOST_NEWTON_STEPS, HALF_TIME_TOLERANCE = 60, 1e-12
GAIN_PERIODS_DAYS = {"1d": 1.0, "7d": 7.0, "30d": 30.0, "1y": 365.25}
COMPARISON_CELSIUS = 20.0  # the temperature at which half-times of different frames are compared


@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangeParameters:
    """What the exchange model needs to run; all times at the reference temperature.

    Attributes
    ----------
    tau_leak : float [days]
        Capacity of the air and fast board over the leakage to the room.
    tau_12, tau_21 : float [days] or None
        Times of the coupling between the fast board and the panel, seen from the board and from the panel; None for
        one reservoir.
    panel_layers : int
        Layers the panel is resolved into.
    tau_board : float [days]
        Time in which the fast board follows the air around it.
    process_percent_per_sqrt_day : float [%RH/√day]
        Random disturbance of the air that no equation accounts for.
    noise_percent : float [%RH]
        Standard deviation of the scatter of one hourly reading.
    """

    tau_leak: float
    tau_12: float | None = None
    tau_21: float | None = None
    panel_layers: int = PANEL_LAYERS
    tau_board: float = TAU_BOARD_DAYS
    process_percent_per_sqrt_day: float = 0.1
    noise_percent: float = 0.25

    @property
    def reservoirs(self) -> Literal[1, 2]:
        """Number of reservoirs."""
        return 1 if self.tau_12 is None or self.tau_21 is None else 2

    @property
    def direct_share(self) -> float:
        """φ: the share of the room that the inside air shows at once, 0-1."""
        return min(self.tau_board / self.tau_leak, MOST_DIRECT)

    @property
    def drive_disturbance(self) -> float:
        """The disturbance told as an unseen wandering of the room's air [%RH·√day]: √(variance × twice its memory)."""
        return self.process_percent_per_sqrt_day * self.tau_leak

    @property
    def n_states(self) -> int:
        """Number of states: the air and the layers of the panel."""
        return 1 if self.reservoirs == 1 else 1 + self.panel_layers


@dataclass(frozen=True, slots=True)
class Modes:
    """The model taken apart into independent exponentials.

    The states are x(t) = `vectors`·e^(`rates`·t)·`inverse`·x(0), without a drive.
    """

    rates: FloatArray  # (s,) [1/day], negative, slowest first
    vectors: FloatArray  # (s, s)
    inverse: FloatArray  # (s, s)
    leak: float  # [1/day]

    @property
    def weights(self) -> FloatArray:
        """Share of each mode in the answer of x₁ to a step, (s,), adding up to 1."""
        return np.asarray(self.vectors[0] * self.inverse.sum(axis=1))


def modes(parameters: ExchangeParameters) -> Modes:
    """Return eigenvalues and eigenvectors of the model's rate matrix at the reference temperature."""
    rate = rate_matrix(parameters)
    if len(rate) == 1:
        return Modes(rate[0], np.ones((1, 1)), np.ones((1, 1)), 1 / parameters.tau_leak)
    # Scaled by the root of the capacities the matrix is symmetric, and its modes exact and orthogonal.
    root = np.sqrt(_chain(parameters)[1])
    values, orthogonal = np.linalg.eigh(rate * (root[:, None] / root))
    values, orthogonal = values[::-1], orthogonal[:, ::-1]  # slowest first
    return Modes(values, orthogonal / root[:, None], orthogonal.T * root, 1 / parameters.tau_leak)


def _chain(parameters: ExchangeParameters) -> tuple[list[float], list[float]]:
    """Return the conductances from store to store [1/day] and the capacities, the board's as unit."""
    if parameters.tau_12 is None or parameters.tau_21 is None:
        return [], [1.0]
    layers = parameters.panel_layers
    # τ₁₂ belongs to half the thickness: what lies between the air and the middle of an undivided panel. Half a layer
    # lies before the middle of the first, a whole one between the others.
    between = layers / (2 * parameters.tau_12)
    of_layer = parameters.tau_21 / parameters.tau_12 / layers
    return [2 * between] + [between] * (layers - 1), [1.0] + [of_layer] * layers


def rate_matrix(parameters: ExchangeParameters) -> FloatArray:
    """Return A of dx/dt = k·(A·x + (u + b)/τ_leak·[1, 0, …]), (s, s) [1/day]."""
    s = parameters.n_states
    rate = np.zeros((s, s))
    rate[0, 0] = -1 / parameters.tau_leak
    conductance, capacity = _chain(parameters)
    for k, flow in enumerate(conductance):
        rate[k, k] -= flow / capacity[k]
        rate[k, k + 1] += flow / capacity[k]
        rate[k + 1, k + 1] -= flow / capacity[k + 1]
        rate[k + 1, k] += flow / capacity[k + 1]
    return rate


def transition(
    parameters: ExchangeParameters,
    scaling: FloatArray,
    step_days: float,
    *,
    leak_factor: FloatArray | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Discretise the model exactly for a drive and a k(T) that are constant within each step.

    Parameters
    ----------
    parameters : ExchangeParameters
    scaling : (n,) array
        k(T) of each step, positive.
    step_days : float [days]
        Length of the steps.
    leak_factor : (n,) array, optional
        Factor on the leakage in each step, few different values; 1 where left out.

    Returns
    -------
    matrix : (s, s, n) array
        x(t + Δ) = matrix·x(t) + drive·(mean of k·(u + b) over the step).
    drive : (s, n) array
    """
    if leak_factor is not None:
        size = parameters.n_states
        matrix, drive = np.empty((size, size, scaling.size)), np.empty((size, scaling.size))
        for factor in np.unique(leak_factor):
            at = leak_factor == factor
            changed = replace(parameters, tau_leak=parameters.tau_leak / float(factor))
            matrix[:, :, at], drive[:, at] = transition(changed, scaling[at], step_days)
        return matrix, drive
    parts = modes(parameters)
    s = len(parts.rates)
    grown = np.expm1(parts.rates[:, None] * (scaling * step_days))
    # Each mode's share in the answer of one state to another, (s·s, s).
    shares = (parts.vectors[:, None, :] * parts.inverse.T).reshape(s * s, s)
    matrix = (shares @ grown).reshape(s, s, -1)
    matrix[np.arange(s), np.arange(s)] += 1
    to_drive = parts.leak * parts.vectors * parts.inverse[:, 0] / parts.rates
    return matrix, to_drive @ (grown / scaling)


def scaling_of_leakage(temperature_celsius: FloatArray | float, reference_celsius: float) -> FloatArray:
    """Return k(T) = c_s(T)/c_s(T_ref): warm air carries more vapour through the same leak."""
    concentration = saturation_concentration_g_per_m3(np.asarray(temperature_celsius, dtype=float))
    return np.asarray(concentration / saturation_concentration_g_per_m3(reference_celsius))


def step_response(parameters: ExchangeParameters, days: FloatArray) -> FloatArray:
    """Return the share of a lasting step in the room that has reached the inside after each time, 0-1, at T_ref."""
    parts = modes(parameters)
    left = np.exp(np.multiply.outer(days, parts.rates)) @ parts.weights
    return np.asarray(1 - (1 - parameters.direct_share) * left)


def half_time_days(parameters: ExchangeParameters) -> float:
    """Return the time after which the inside air has completed half of a lasting step in the room [days], at T_ref.

    0 where it shows half of the room at once.

    Examples
    --------
    >>> round(half_time_days(ExchangeParameters(tau_leak=10.0, tau_board=0.0)), 3)
    6.931
    """
    direct = parameters.direct_share
    return board_half_time_days(parameters, left=HALF / (1 - direct)) if direct < HALF else 0.0


def board_half_time_days(parameters: ExchangeParameters, *, left: float = HALF) -> float:
    """Return the time after which the fast board has all but the share `left` of a lasting step behind it [days]."""
    parts = modes(parameters)
    # No mode is gone to that share sooner than the fastest one.
    earliest = float(-np.log(left) / -parts.rates[-1])
    if parameters.reservoirs == 1:
        return earliest
    rates, weights = parts.rates.tolist(), parts.weights.tolist()

    def remaining(days: float) -> float:
        return math.fsum(weight * math.exp(rate * days) for rate, weight in zip(rates, weights, strict=True)) - left

    def falling(days: float) -> float:
        return math.fsum(weight * rate * math.exp(rate * days) for rate, weight in zip(rates, weights, strict=True))

    # What remains falls ever more slowly, so that Newton's steps from a time before the crossing never pass it.
    days = earliest
    for _ in range(MOST_NEWTON_STEPS):
        step = -remaining(days) / falling(days)
        days += step
        if abs(step) < HALF_TIME_TOLERANCE * days:
            break
    return days


def slow_mode_half_time_days(parameters: ExchangeParameters) -> float:
    """Return the half-time of the slowest mode, which governs the last part of every adjustment [days]."""
    return float(np.log(2) / -modes(parameters).rates[0])


def gain(parameters: ExchangeParameters, period_days: float) -> float:
    """Return the share of a sinusoidal room fluctuation of this period that reaches the inside air, 0-1.

    Examples
    --------
    >>> round(gain(ExchangeParameters(tau_leak=10.0, tau_board=0.0), 30.0), 6)  # 1/√(1 + (2π·10/30)²)
    0.430871
    """
    rate = rate_matrix(parameters)
    push = np.zeros(len(rate))
    push[0] = 1 / parameters.tau_leak
    answer = np.linalg.solve(2j * np.pi / period_days * np.eye(len(rate)) - rate, push)
    direct = parameters.direct_share
    return float(abs(direct + (1 - direct) * answer[0]))


def scaled(parameters: ExchangeParameters, factor: float) -> ExchangeParameters:
    """Return a frame with the times of leak and panel longer by `factor`: so is the half-time of its board."""
    return replace(
        parameters,
        tau_leak=parameters.tau_leak * factor,
        tau_12=None if parameters.tau_12 is None else parameters.tau_12 * factor,
        tau_21=None if parameters.tau_21 is None else parameters.tau_21 * factor,
    )
