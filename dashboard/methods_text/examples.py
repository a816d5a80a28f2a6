"""The invented frame behind the pictures of the Methods page, and what the analysis makes of it.

Nothing is drawn from memory: the frame is simulated, two loggers read it, and the same functions as everywhere find
its half-time, scan its seal and run its fan. It takes about a second, once, when somebody looks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from isohume.analysis.exchange.fit import FittedExchange, between, fit_exchange
from isohume.analysis.exchange.model import ExchangeParameters, gain, half_time_days, step_response
from isohume.analysis.forecast.fan import Fan, inside_fan
from isohume.analysis.forecast.finding import N_MEMBERS, reading_scatter
from isohume.analysis.forecast.room import daily_room, own_room
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import RH, TEMPERATURE, AirRecord
from isohume.analysis.results import SealFinding
from isohume.analysis.seal.finding import finding_of, seal_scan
from isohume.analysis.seal.scan import SealScan
from isohume.sample_logs.physics import FramePhysics, simulate
from isohume.sample_logs.rooms import RoomCourse, logger, room_course

FloatArray = NDArray[np.float64]

SEED = 12
START = np.datetime64("2025-10-01T00", "h")
DAY = 24
RECORDED_DAYS, AHEAD_DAYS = 240, 120
LEAK_ON_DAY, LEAK_FACTOR = 150, 3.0
START_PERCENT = 50.0
# A frame of some weeks: half of what reaches it leaks through gaps, the rest permeates.
FRAME = FramePhysics(air_litres=6.0, leakage_per_day=25.0, permeance_g_per_day_pa=0.001)
SHOWN_HALF_TIMES = 5.0
UNCERTAINTY_PERCENT = 2.0
PERIODS_DAYS = np.geomspace(0.5, 800.0, 120)


@dataclass(frozen=True, slots=True, kw_only=True)
class SealExample:
    """A leak that grew, and what the scan says of each date."""

    grown_on: pd.Timestamp
    true_factor: float  # all moisture that leaks and permeates, after over before
    scan: SealScan
    finding: SealFinding


@dataclass(frozen=True, slots=True, kw_only=True)
class FanExample:
    """A fan, and what came."""

    fan: Fan
    recorded: pd.Series[float]
    came: pd.Series[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepExample:
    """How a fitted frame answers a lasting step of its room, and one store of the same half-time."""

    days: FloatArray
    share: FloatArray
    share_of_one_store: FloatArray
    half_time_days: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GainExample:
    """How much of a swing comes in, by its period."""

    periods_days: FloatArray
    share: FloatArray
    share_of_one_store: FloatArray


@cache
def step_example() -> StepExample:
    """Return the step response of the fitted frame."""
    parameters = _fitted().parameters
    half_time = half_time_days(parameters)
    days = np.linspace(0.0, SHOWN_HALF_TIMES * half_time, 160)
    return StepExample(
        days=days,
        share=step_response(parameters, days),
        share_of_one_store=1 - np.exp(-np.log(2) * days / half_time),
        half_time_days=half_time,
    )


@cache
def gain_example() -> GainExample:
    """Return the gains of the fitted frame."""
    parameters = _fitted().parameters
    one = ExchangeParameters(tau_leak=half_time_days(parameters) / np.log(2), tau_board=0.0)
    return GainExample(
        periods_days=PERIODS_DAYS,
        share=np.array([gain(parameters, period) for period in PERIODS_DAYS]),
        share_of_one_store=np.array([gain(one, period) for period in PERIODS_DAYS]),
    )


@cache
def seal_example() -> SealExample:
    """Scan the seal of the frame whose leak grew."""
    inside, outside = _logged(leaking=True)
    end = inside.readings.index[RECORDED_DAYS * DAY]
    answer = fit_exchange(inside, outside, as_of=end)
    scan = seal_scan(answer, frame=FrameFacts())
    if scan is None:
        raise RuntimeError("The example's record is too short to be scanned.")
    grown = pd.Timestamp(inside.readings.index[LEAK_ON_DAY * DAY])
    permeating = replace(FRAME, leakage_per_day=0.0).exchange_g_per_day_percent() / FRAME.exchange_g_per_day_percent()
    factor = permeating + LEAK_FACTOR * (1 - permeating)
    return SealExample(
        grown_on=grown, true_factor=factor, scan=scan, finding=finding_of(scan, answer, time_zone="UTC")
    )


@cache
def fan_example() -> FanExample:
    """Run the fan from a record whose continuation is known."""
    fitted = _fitted()
    inside, outside = _logged(leaking=False)
    rng = np.random.default_rng(SEED)
    past = between(inside, None, fitted.end_utc), between(outside, None, fitted.end_utc)
    room = own_room(daily_room(*past, end=fitted.end_utc), n_days=AHEAD_DAYS, n_members=N_MEMBERS, rng=rng)
    fan = inside_fan(fitted, room, reading_sd_percent=reading_scatter(past[0], fitted), rng=rng)
    daily = inside.rh_percent.rolling(DAY).mean().iloc[::DAY].dropna()
    return FanExample(fan=fan, recorded=daily.loc[: fitted.end_utc], came=daily.loc[fitted.end_utc :])


@cache
def _fitted() -> FittedExchange:
    inside, outside = _logged(leaking=False)
    answer = fit_exchange(inside, outside, as_of=inside.readings.index[RECORDED_DAYS * DAY])
    if not isinstance(answer, FittedExchange):
        raise RuntimeError(f"The example's record does not determine the exchange: {answer.why}")  # noqa: TRY004
    return answer


@cache
def _logged(*, leaking: bool) -> tuple[AirRecord, AirRecord]:
    """Simulate the frame and let two loggers read it and its room."""
    rng = np.random.default_rng(SEED)
    n = (RECORDED_DAYS + AHEAD_DAYS) * DAY + 1
    room = room_course(rng, n, kind="heated", start=START)
    factor = np.ones(n)
    if leaking:
        factor[LEAK_ON_DAY * DAY :] = LEAK_FACTOR
    course = simulate(FRAME, room.rh_percent, room.temperature_celsius, start_rh=START_PERCENT, leakage_factor=factor)
    index = pd.date_range(str(START), periods=n, freq="h", tz="UTC")
    records = []
    air_inside = RoomCourse(rh_percent=course.rh_percent, temperature_celsius=course.temperature_celsius)
    for air in (air_inside, room):
        seen = logger(rng, air)
        table = pd.DataFrame({RH: seen.rh_percent, TEMPERATURE: seen.temperature_celsius}, index=index)
        records.append(AirRecord(readings=table, n_readings=n, uncertainty_percent=UNCERTAINTY_PERCENT))
    return records[0], records[1]
