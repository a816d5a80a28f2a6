"""Work out the curves that figures show, from the same fit, scan and records as the findings beside them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd

from isohume.analysis.curves import Curves
from isohume.analysis.exchange.estimation import SLOPE_STEP, parameters_from
from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.exchange.interval import NORMAL_95
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, gain, step_response
from isohume.analysis.frame import FrameFacts
from isohume.analysis.panel_movement import movement_course_mm
from isohume.analysis.readings import AirRecord
from isohume.analysis.seal.finding import factor_interval
from isohume.analysis.seal.scan import SealScan

N_STEP_POINTS = 81
GAIN_PERIODS = np.geomspace(0.25, 730.5, 33)  # [days]
HALF_TIMES_SHOWN = 4.0


def trace_curves(
    fitted: FittedExchange | CannotTell,
    scan: SealScan | None,
    inside: AirRecord,
    outside: AirRecord,
    *,
    frame: FrameFacts,
) -> Curves:
    """Return the curves of one frame; the scan is that of its seal check."""
    return Curves(
        step_response=None if isinstance(fitted, CannotTell) else step_curve(fitted),
        gain=None if isinstance(fitted, CannotTell) else gain_curve(fitted),
        seal_scan=None if scan is None else scan_curve(scan),
        movement=movement_course_mm(inside, outside, frame),
    )


def step_curve(fitted: FittedExchange) -> pd.DataFrame:
    """Return how a lasting step of the room comes in, over four half-times, with its 95 % interval."""
    # Closer points at the start, where the curve bends.
    days = HALF_TIMES_SHOWN * max(fitted.half_time_days, 1 / 24) * np.linspace(0, 1, N_STEP_POINTS) ** 2
    share, low, high = _with_interval(fitted, lambda parameters: step_response(parameters, days))
    return pd.DataFrame({"share": share, "low": low, "high": high}, index=pd.Index(days, name="days"))


def gain_curve(fitted: FittedExchange) -> pd.DataFrame:
    """Return which share of a room fluctuation of each period reaches the inside, with its 95 % interval.

    Fast weather is filtered out, the year comes through; where the curve bends says how slow the frame is.
    """
    share, low, high = _with_interval(
        fitted, lambda parameters: np.array([gain(parameters, days) for days in GAIN_PERIODS])
    )
    return pd.DataFrame({"gain": share, "low": low, "high": high}, index=pd.Index(GAIN_PERIODS, name="days"))


def _with_interval(
    fitted: FittedExchange, quantity: Callable[[ExchangeParameters], FloatArray]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return a curve of shares and its 95 % interval, point by point, by the delta method on the logit."""
    share = quantity(fitted.parameters)
    steps = np.eye(fitted.logs.size) * SLOPE_STEP
    slopes = np.array(
        [
            _logit(quantity(parameters_from(fitted.logs + step)))
            - _logit(quantity(parameters_from(fitted.logs - step)))
            for step in steps
        ]
    ) / (2 * SLOPE_STEP)
    wide = NORMAL_95 * np.sqrt(np.einsum("it,ij,jt->t", slopes, fitted.covariance, slopes))
    low, high = (1 / (1 + np.exp(-(_logit(share) + sign * wide))) for sign in (-1, 1))
    return share, low, high


def scan_curve(scan: SealScan) -> pd.DataFrame:
    """Return what each date of a seal check says."""
    # A factor near or below 0 is the mark of a tight frame whose change nothing would show.
    known = scan.factor > 0
    interval = np.full((scan.factor.size, 2), np.nan)
    for place in np.flatnonzero(known):
        interval[place] = factor_interval(float(scan.factor[place]), float(scan.factor_sd[place]))
    return pd.DataFrame(
        {
            "log_likelihood_ratio": scan.log_likelihood_ratio,
            "beyond_rivals": scan.beyond_rivals,
            "factor": np.where(known, scan.factor, np.nan),
            "factor_low": interval[:, 0],
            "factor_high": interval[:, 1],
            "smallest": np.where(np.isfinite(scan.smallest_factor), scan.smallest_factor, np.nan),
        },
        index=scan.dates.rename("date"),
    )


def _logit(share: FloatArray) -> FloatArray:
    inner = np.clip(share, 1e-9, 1 - 1e-9)
    return np.asarray(np.log(inner / (1 - inner)))
