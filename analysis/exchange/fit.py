"""Fit the exchange model to a pair of records: a frame's inside and its room."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from isohume.analysis.exchange.doubt import AT_ONCE_DAYS, LIVELY_RATIO, LONGEST_TOLD_DAYS, doubt, liveliness
from isohume.analysis.exchange.drive import ExchangeData, exchange_data
from isohume.analysis.exchange.estimation import (
    Estimate,
    estimate,
    log_slopes,
    parameters_from,
    profile,
    within_search,
)
from isohume.analysis.exchange.filter import FilteredStates, filter_states, standardised
from isohume.analysis.exchange.interval import CALIBRATION, half_time_interval, likelihood_limit, widened_covariance
from isohume.analysis.exchange.model import ExchangeParameters, FloatArray, half_time_days
from isohume.analysis.exchange.moisture_scale import MoistureScale
from isohume.analysis.exchange.openings import unrecorded_openings, with_openings
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord

# The grid: as coarse as moisture moves slowly, and fine enough for a short record. Half-times found on 3-, 6-, 12- and
# 24-hourly means of the same simulated years differ by less than their error.
STEPS_HOURS = (1, 2, 3, 4, 6, 8, 12)
MOST_STEPS = 800
SHORTEST_DAYS = 7.0  # of readings on both sides
# Frames have a board and a panel, and one reservoir finds half-times that are too short: a record must speak for it.
# Kass & Raftery (1995, J. Am. Stat. Assoc. 90, 773-795) call a difference above 10 very strong.
DECISIVE_BIC = 10.0
PROFILE_STEP = 0.35  # of ln(half-time)
PROFILE_REACH = (0.2, LONGEST_TOLD_DAYS)  # [days] where the search for a bound gives up


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedExchange:
    """One frame's exchange with its room, as its record tells it.

    Attributes
    ----------
    parameters : ExchangeParameters
    logs, covariance : (3,) or (5,) array and its covariance
        Logarithms of the board's half-time [days], τ₁₂/τ_leak, τ₂₁/τ₁₂ (two reservoirs only), disturbance, noise;
        the covariance carries the calibration. `estimation.parameters_from` turns logarithms into parameters.
    half_time_days, half_time_low, half_time_high : float [days]
        At the reference temperature, with the calibrated 95 % interval.
    log_standard_error : float
        Of ln(half-time) by the information matrix alone.
    reference_celsius : float [°C]
    offset_percent : float [%RH]
        b of the pair of loggers in place at the end.
    temperature_response : float [%RH/K]
        β on the moisture scale: what temperature does beyond the handbook's isotherm.
    end_utc : Timestamp
        Time of the last state.
    end_state, end_covariance : (s + 2,) and (s + 2, s + 2) arrays
        Air, layers of the panel [%RH, moisture scale], b and β at `end_utc`, from all readings until then.
    errors : Series [%RH]
        One-step errors: reading minus what the record before it predicted.
    standardised : (n,) array
        The same over what the model expects of them; white if the model leaves nothing unexplained. NaN also where
        the prediction is vague, after a start.
    data : ExchangeData
    bic_by_reservoirs : dict
    notes : tuple of str
    """

    parameters: ExchangeParameters
    logs: FloatArray
    covariance: FloatArray
    half_time_days: float
    half_time_low: float
    half_time_high: float
    log_standard_error: float
    reference_celsius: float
    offset_percent: float
    temperature_response: float
    end_utc: pd.Timestamp
    end_state: FloatArray
    end_covariance: FloatArray
    errors: pd.Series[float]
    standardised: FloatArray
    data: ExchangeData
    bic_by_reservoirs: dict[int, float] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def scale(self) -> MoistureScale:
        """The moisture scale of the states."""
        return MoistureScale(self.reference_celsius)

    @property
    def rmse_percent(self) -> float:
        """Root mean square of the one-step errors [%RH], without the vague first predictions after each start."""
        errors = self.errors.to_numpy()[np.isfinite(self.standardised)]
        return float(np.sqrt(np.mean(errors**2)))

    def sample_parameters(self, rng: np.random.Generator, n: int) -> tuple[ExchangeParameters, ...]:
        """Draw parameters from their calibrated uncertainty, none beyond what a fit looks for.

        Disturbance and noise stay as fitted.
        """
        draws = within_search(rng.multivariate_normal(self.logs, self.covariance, size=n, method="eigh"))
        draws[:, -2:] = self.logs[-2:]
        return tuple(parameters_from(draw) for draw in draws)


@dataclass(frozen=True, slots=True, kw_only=True)
class CannotTell:
    """Why a record does not determine the exchange, and what it still supports."""

    why: str
    half_time_at_least: float | None = None
    half_time_at_most: float | None = None
    reference_celsius: float | None = None
    fitted: FittedExchange | None = None  # the best guess, not to be shown as a finding
    notes: tuple[str, ...] = ()


def fit_exchange(
    inside: AirRecord,
    outside: AirRecord,
    *,
    frame: FrameFacts | None = None,
    as_of: pd.Timestamp | None = None,
    every_hours: int | None = None,
) -> FittedExchange | CannotTell:
    """Fit one and two reservoirs and keep the better by BIC, two unless one is decisively better.

    Parameters
    ----------
    inside, outside : AirRecord
    frame : FrameFacts, optional
        Its events reset the state (openings) or begin another offset (moves, other loggers).
    as_of : Timestamp, optional
        Readings after it are not seen.
    every_hours : int, optional [h]
        Grid; by default chosen from the length of the record.
    """
    events = () if frame is None else frame.events
    if as_of is not None:
        inside, outside = between(inside, None, as_of), between(outside, None, as_of)
    if every_hours is None:
        every_hours = _step_for(inside, outside)
    data = exchange_data(inside, outside, events=events, every_hours=every_hours)
    if data is None:
        return CannotTell(why="The records of inside and room do not overlap.")
    days = np.unique(np.floor(np.flatnonzero(np.isfinite(data.observed)) * data.step_days)).size
    if days < SHORTEST_DAYS:
        return CannotTell(
            why=f"Too short: {days} days with readings from both inside and room; {SHORTEST_DAYS:.0f} are needed.",
            reference_celsius=data.reference_celsius,
        )
    if liveliness(inside, outside) < LIVELY_RATIO:
        return CannotTell(
            why="The inside changes more than the room from day to day: are the two loggers or files exchanged?",
            reference_celsius=data.reference_celsius,
        )
    return fit_data(data)


def fit_data(data: ExchangeData) -> FittedExchange | CannotTell:
    """Fit a record that is already on its grid."""
    best, filtered, bics = _better_of_two(data)
    openings = unrecorded_openings(data, filtered)
    if openings.size:
        data = with_openings(data, openings)
        best, filtered, bics = _better_of_two(data)
    fitted = _fitted(data, best, filtered, bics)
    why = doubt(
        data,
        half_time_days=fitted.half_time_days,
        interval=(fitted.half_time_low, fitted.half_time_high) if best.positive_definite else None,
        offset_percent=fitted.offset_percent,
    )
    if not why:
        return fitted
    if fitted.half_time_days < AT_ONCE_DAYS:
        return CannotTell(
            why=why, half_time_at_most=AT_ONCE_DAYS, reference_celsius=data.reference_celsius, notes=data.notes
        )
    at_least, at_most = supported_range(data, best)
    return CannotTell(
        why=why,
        half_time_at_least=at_least,
        half_time_at_most=at_most,
        reference_celsius=data.reference_celsius,
        fitted=fitted,
        notes=data.notes,
    )


def _better_of_two(data: ExchangeData) -> tuple[Estimate, FilteredStates, dict[int, float]]:
    """Estimate both orders; keep one reservoir where BIC prefers it decisively."""
    one = estimate(data, reservoirs=1)
    two = estimate(data, reservoirs=2, one=one)
    best = one if two.bic - one.bic > DECISIVE_BIC else two
    return best, filter_states(best.parameters, data), {1: one.bic, 2: two.bic}


def supported_range(data: ExchangeData, best: Estimate) -> tuple[float | None, float | None]:
    """Return the shortest and longest half-time that the record still supports [days], None where it sets no limit.

    The half-time is held at ever farther values and everything else fitted anew, until the log likelihood falls by
    more than its 95 % limit, widened by the same calibration as the intervals.
    """
    at_least, at_most = _edge(data, best, -1), _edge(data, best, +1)
    return None if at_least is None else min(at_least, LONGEST_TOLD_DAYS), at_most


def _edge(data: ExchangeData, best: Estimate, direction: int) -> float | None:
    """Return the half-time at which the record speaks against going farther, None where it never does [days]."""
    limit, (lowest, highest) = likelihood_limit(), np.log(PROFILE_REACH)
    log_half_time, before, others = float(best.logs[0]), 0.0, best.logs[1:]
    while log_half_time > lowest if direction < 0 else log_half_time < highest:
        farther = log_half_time + direction * PROFILE_STEP
        fall, others = profile(data, best, farther, others)
        if fall > limit:
            crossing = (limit - before) / (fall - before)
            edge = log_half_time + direction * (PROFILE_STEP * crossing + CALIBRATION.floor)
            return half_time_days(parameters_from(np.append(edge, others)))
        log_half_time, before = farther, max(fall, 0.0)
    return None


def between(record: AirRecord, first: pd.Timestamp | None, last: pd.Timestamp | None) -> AirRecord:
    """Return a record with its readings from one moment to another, both included, only."""
    return replace(record, readings=record.readings.loc[first:last])


def _step_for(inside: AirRecord, outside: AirRecord) -> int:
    """Return the grid's step [h] for the stretch that both records cover."""
    if inside.readings.empty or outside.readings.empty:
        return STEPS_HOURS[0]
    first = max(inside.readings.index[0], outside.readings.index[0])
    last = min(inside.readings.index[-1], outside.readings.index[-1])
    hours = (last - first) / pd.Timedelta(hours=1)
    return next((step for step in STEPS_HOURS if hours / step <= MOST_STEPS), STEPS_HOURS[-1])


def _fitted(data: ExchangeData, best: Estimate, filtered: FilteredStates, bics: dict[int, float]) -> FittedExchange:
    half_time = half_time_days(best.parameters)
    slope = log_slopes(best.logs, lambda parameters: float(np.log(max(half_time_days(parameters), AT_ONCE_DAYS))))
    standard_error = float(np.sqrt(slope @ best.covariance @ slope))
    disturbance = best.parameters.drive_disturbance
    low, high = half_time_interval(half_time, standard_error, disturbance=disturbance)
    if best.rival is not None and best.rival_fall < likelihood_limit():
        rival = half_time_days(parameters_from(best.rival))
        low, high = min(low, rival), max(high, rival)
    end = filtered.states[-1]
    return FittedExchange(
        parameters=best.parameters,
        logs=best.logs,
        covariance=widened_covariance(best.covariance, disturbance=disturbance),
        half_time_days=half_time,
        half_time_low=low,
        half_time_high=high,
        log_standard_error=standard_error,
        reference_celsius=data.reference_celsius,
        offset_percent=float(end[-2]),
        temperature_response=float(end[-1]),
        end_utc=data.times[-1],
        end_state=end,
        end_covariance=filtered.covariances[-1],
        errors=pd.Series(filtered.errors, index=data.times, name="error_percent"),
        standardised=standardised(filtered),
        data=data,
        bic_by_reservoirs=bics,
        notes=data.notes,
    )
