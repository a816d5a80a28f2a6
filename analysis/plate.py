"""How long moisture takes through the thickness of a panel: diffusion in a plate, one face sealed or both open."""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.constants import DAY_HOURS, DAY_SECONDS, WOOD_DIFFUSIVITY_M2_PER_S

FloatArray = NDArray[np.float64]

# The series of exponentials converges fast; for the first moments its short-time form is exact to 1e-6.
_N_TERMS = 50
_SHORT_TIME = 0.02  # D·t/l²


def plate_time_constant(
    thickness_mm: float, *, faces_open: Literal[1, 2] = 1, diffusivity_m2_per_s: float = WOOD_DIFFUSIVITY_M2_PER_S
) -> pd.Timedelta:
    """Compute the time constant of the slowest mode of a panel after a step of humidity at its open faces.

    Parameters
    ----------
    thickness_mm : float [mm]
    faces_open : 1 or 2
        1: the painted face counts as sealed, τ = 4L²/(π²D); 2: both open, τ = L²/(π²D).
    diffusivity_m2_per_s : float [m²/s]
        Across the grain; 1e-10 by default (see constants). Measured values lie about 0.9 to 1.0e-10 for spruce and
        rise several-fold with moisture content.

    Returns
    -------
    Timedelta
        A lower bound in practice: paint, ground and the air film slow the panel further.

    Raises
    ------
    ValueError
        Thickness or diffusivity not above 0.

    References
    ----------
    Crank, The Mathematics of Diffusion, plane sheet.
    """
    if thickness_mm <= 0 or diffusivity_m2_per_s <= 0:
        raise ValueError(f"Thickness {thickness_mm:g} mm, diffusivity {diffusivity_m2_per_s:g} m²/s: both above 0.")
    half = _path_m(thickness_mm, faces_open)
    return pd.Timedelta(seconds=4 * half**2 / (np.pi**2 * diffusivity_m2_per_s)).round("s")


def plate_step_response(
    elapsed_days: FloatArray,
    *,
    thickness_mm: float,
    faces_open: Literal[1, 2] = 1,
    diffusivity_m2_per_s: float = WOOD_DIFFUSIVITY_M2_PER_S,
) -> FloatArray:
    """Compute the share of the final change of the mean moisture content reached after a step.

    Parameters
    ----------
    elapsed_days : (n,) array [d]
        Time since the step, not negative.
    thickness_mm, faces_open, diffusivity_m2_per_s
        As for `plate_time_constant`.

    Returns
    -------
    (n,) array, 0 to 1

    References
    ----------
    Crank, The Mathematics of Diffusion, plane sheet: 1 - Σ 8/((2n+1)²π²)·exp(-(2n+1)²π²Dt/4l²), l the path from the
    open face to the sealed one or the middle; early on 2·√(Dt/(πl²)).
    """
    path = _path_m(thickness_mm, faces_open)
    reduced = diffusivity_m2_per_s * np.asarray(elapsed_days, dtype=np.float64) * DAY_SECONDS / path**2
    odd = 2 * np.arange(_N_TERMS) + 1.0
    modes = np.exp(-np.multiply.outer(reduced, odd**2) * np.pi**2 / 4) * 8 / (odd**2 * np.pi**2)
    share: FloatArray = np.where(reduced < _SHORT_TIME, 2 * np.sqrt(reduced / np.pi), 1 - modes.sum(axis=-1))
    return share


def first_order_response(
    hourly: pd.Series[float], time_constant: pd.Timedelta, *, start: float | None = None
) -> pd.Series[float]:
    """Compute how something that follows with one time constant follows an hourly record.

    Parameters
    ----------
    hourly : (n,) Series
        Complete hourly index; NaN where there is no reading: there the response holds still and waits.
    time_constant : Timedelta
    start : float or None
        State before the first hour; None: the mean of the first time constant, in whole days.

    Returns
    -------
    (n,) Series
        Unit of the input; NaN where the input is NaN.
    """
    if hourly.empty:
        return hourly
    hours = time_constant / pd.Timedelta(hours=1)
    if start is None:
        start = float(hourly.iloc[: DAY_HOURS * int(np.ceil(hours / DAY_HOURS))].mean())
    before = pd.Series([start], index=[hourly.index[0] - pd.Timedelta(hours=1)])
    # ewm with its state carried over missing hours is the exact answer to a record that steps hour by hour.
    led = pd.concat([before, hourly]).ewm(alpha=-np.expm1(-1 / hours), adjust=False, ignore_na=True).mean()
    return led.iloc[1:].where(hourly.notna())


def _path_m(thickness_mm: float, faces_open: Literal[1, 2]) -> float:
    """Return how far moisture has to go [m]."""
    return thickness_mm / 1000 / faces_open
