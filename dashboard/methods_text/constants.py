"""Every number that the Methods page mentions, read from the code that uses it: none is typed a second time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

from isohume.analysis import (
    acclimatised,
    buffering,
    build_up,
    construction,
    dew_point,
    drift,
    estimate,
    excursions,
    intervention,
    movement,
    moving_average,
    plant_failure,
    readings,
    terms_judge,
)
from isohume.analysis import constants as physics
from isohume.analysis.exchange import doubt, drive, fit, interval, likelihood, model, openings, step
from isohume.analysis.exchange.tracer import air_exchange_from_two_readings
from isohume.analysis.forecast import back_test, fan, finding, room, room_courses
from isohume.analysis.frame import Limits
from isohume.analysis.psychrometrics import saturation_concentration_g_per_m3
from isohume.analysis.seal import thresholds
from isohume.dashboard.papers.words import words

HOURS = 24
_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


@cache
def constants() -> Mapping[str, str]:
    """Return the numbers by the name that the texts use, as they are printed."""
    numbers = _record() | _exchange() | _seal() | _ahead() | _object() | _limits()
    return {name: value if isinstance(value, str) else _printed(value) for name, value in numbers.items()}


def _printed(value: float) -> str:
    return f"{value:g}"


def _record() -> dict[str, float | str]:
    return {
        "uncalibrated": readings.UNCALIBRATED_UNCERTAINTY_PERCENT,
        "bridge_hours": readings.SHORTEST_BRIDGE.total_seconds() / physics.HOUR_SECONDS,
        "bridge_steps": readings.BRIDGE_STEPS,
        "bridge_tolerance": 100 * (readings.BRIDGE_TOLERANCE - 1),
        "merge_hours": excursions.MERGE_WITHIN_HOURS,
        "window_coverage": 100 * moving_average.LEAST_COVERAGE,
        "daily_block": buffering.DAILY_BLOCK_DAYS,
        "weekly_block": buffering.WEEKLY_BLOCK_DAYS,
        "longest_lag": buffering.LONGEST_LAG_HOURS,
        "least_correlation": buffering.LEAST_CORRELATION,
        "slope_days": drift.SLOPE_DAYS,
        "annual_days": drift.SHORTEST_ANNUAL_DAYS,
        "season_days": physics.SEASON_HOURS / HOURS,
        "winter_from": physics.WINTER_COURSE_START_PERCENT,
        "winter_to": physics.WINTER_COURSE_END_PERCENT,
        "strip_bias": estimate.STRIP_BIAS_SD_PERCENT,
        "strip_reading": estimate.STRIP_READING_SD_PERCENT,
        "terms_coverage": 100 * terms_judge.COVERAGE_TO_CALL_MET,
        "terms_kelvin": terms_judge.TEMPERATURE_UNCERTAINTY_KELVIN,
        "acclimatised_low": acclimatised.LOW_PERCENTILE,
        "acclimatised_high": acclimatised.HIGH_PERCENTILE,
        "acclimatised_width": acclimatised.LEAST_WIDTH_PERCENT,
        "settling_help": intervention.SETTLING.days,
        "longest_side": intervention.LONGEST_SIDE.days,
    }


def _exchange() -> dict[str, float | str]:
    return {
        "panel_layers": model.PANEL_LAYERS,
        "board_hours": model.TAU_BOARD_DAYS * HOURS,
        "comparison_celsius": model.COMPARISON_CELSIUS,
        "panel_start_sd": drive.PANEL_START_SD_PERCENT,
        "masked_hours": drive.SETTLING_HOURS,
        "temperature_response_sd": likelihood.TEMPERATURE_RESPONSE_SD,
        "inflation": interval.CALIBRATION.inflation,
        "floor": interval.CALIBRATION.floor,
        "disturbed": interval.CALIBRATION.disturbed,
        "disturbance_from": interval.CALIBRATION.disturbance_from,
        "disturbance_to": interval.CALIBRATION.disturbance_to,
        "normal_95": f"{interval.NORMAL_95:.2f}",
        "calibration_source": interval.CALIBRATION.source,
        "shortest_fit_days": fit.SHORTEST_DAYS,
        "decisive_bic": fit.DECISIVE_BIC,
        "widest_factor": doubt.WIDEST_FACTOR,
        "even_room": doubt.EVEN_ROOM_PERCENT,
        "offset_bound": doubt.OFFSET_BOUND_SDS,
        "opening_sds": openings.LEAST_ROBUST_SDS,
        "opening_percent": openings.LEAST_PERCENT,
        "step_before": step.BEFORE.total_seconds() / physics.HOUR_SECONDS,
        "step_balance": step.IN_BALANCE_SD_PERCENT,
        "tracer_example": f"{_tracer_example():.4f}",
        "step_least": step.SHORTEST_AFTER.total_seconds() / physics.HOUR_SECONDS,
    }


def _seal() -> dict[str, float | str]:
    return {
        "seal_ratio": thresholds.LEAST_LOG_LIKELIHOOD_RATIO,
        "seal_beyond": thresholds.LEAST_BEYOND_RIVALS,
        "seal_factor": thresholds.SMALLEST_FACTOR,
        "seal_ses": thresholds.LEAST_STANDARD_ERRORS,
        "seal_structure": thresholds.STRUCTURE_SD,
        "seal_recent": thresholds.RECENT_DAYS,
        "seal_before": thresholds.BEFORE_DAYS,
        "seal_after": thresholds.AFTER_DAYS,
        "seal_longest": thresholds.LONGEST_DAYS,
        "seal_drift": thresholds.DRIFT_SD_PERCENT_PER_ROOT_YEAR,
        "seal_useful": thresholds.LARGEST_USEFUL_FACTOR,
    }


def _ahead() -> dict[str, float | str]:
    low, _, high = fan.FAN_PERCENTILES
    return {
        "fan_low": low,
        "fan_high": high,
        "fan_holds": high - low,
        "mean_days": fan.MEAN_DAYS,
        "members": finding.N_MEMBERS,
        "horizon": finding.HORIZON_DAYS,
        "recorded_years": room.FEWEST_RECORDED_YEARS,
        "slow_days": room_courses.SLOW_DAYS,
        "longest_past": room_courses.LONGEST_DAYS,
        "back_test_lead": back_test.LEAD_DAYS,
        "back_test_origins": back_test.FEWEST_ORIGINS,
        "back_test_apart": back_test.INDEPENDENT_DAYS,
        "sd_fit": 100 * estimate.LOG_SD["earlier fit"],
        "sd_sister": 100 * estimate.LOG_SD["sister frame"],
        "sd_construction": 100 * estimate.LOG_SD["construction"],
        "estimate_model": estimate.MODEL_SD_PERCENT,
        "estimate_members": estimate.N_MEMBERS,
        "failure_days": plant_failure.HORIZON_DAYS,
        "failure_warming": plant_failure.WARMING_HOURS,
        "not_modelled": plant_failure.NOT_MODELLED,
    }


def _object() -> dict[str, float | str]:
    return {
        "linear_from": movement.LINEAR_FROM_PERCENT,
        "linear_to": movement.LINEAR_TO_PERCENT,
        "fibre_saturation": movement.FIBRE_SATURATION_PERCENT,
        "disagreement": 100 * movement.DISAGREEMENT,
        "yield_strain": 100 * physics.YIELD_STRAIN,
        "gesso_strain": 100 * physics.YIELD_STRAIN_BRITTLE_GESSO,
        "failure_strain": 100 * physics.FAILURE_STRAIN,
        "diffusivity": _power_of_ten(physics.WOOD_DIFFUSIVITY_M2_PER_S),
        "damp": dew_point.DAMP_PERCENT,
        "mould": dew_point.MOULD_PERCENT,
        "dew_margin": dew_point.MARGIN_KELVIN,
        "air_permeability": _power_of_ten(construction.AIR_PERMEABILITY),
        "thomson_15": f"{_thomson(15.0):.1f}",
        "thomson_25": f"{_thomson(25.0):.1f}",
        "slowest_panel": construction.SLOWEST_PANEL_SHARE,
        "screw_tip": build_up.SCREW_TIP_TO_FACE_MM,
        "glazing_gap": build_up.LEAST_GAP_TO_GLAZING_MM,
    }


def _limits() -> dict[str, float | str]:
    limits = Limits()
    return {
        "limit_horizon": limits.horizon_days,
        "limit_lead": limits.lead_time_days,
        "limit_back": limits.returns_within_days,
        "proves": words("verify")("does_not_prove"),
    }


def _tracer_example() -> float:
    """Return the air changes per day of the example that the text tells."""
    return air_exchange_from_two_readings(3000, 1700, background=400, days=2).air_exchange_per_day


def _thomson(celsius: float) -> float:
    """Return the factor of Thomson's relation at a temperature: ln 2 over the vapour that 1 %RH of air holds."""
    return math.log(2) / (saturation_concentration_g_per_m3(celsius) / 100)


def _power_of_ten(value: float) -> str:
    mantissa, exponent = f"{value:.1e}".split("e")
    return f"{mantissa} · 10{str(int(exponent)).translate(_RAISED)}"
