"""Findings as sentences: the one place where the command line, the pages and the papers take their words from.

Each figure stands with its unit, and each section with the period and coverage it rests on. Plain English; every
function returns whole sentences, so that a translation can stand beside this module.
"""

from __future__ import annotations

from dataclasses import dataclass

from isohume.analysis import phrases
from isohume.analysis.frame import FrameFacts
from isohume.analysis.results import (
    Assessment,
    BandFinding,
    BufferingFinding,
    DataQuality,
    DriftFinding,
    ExchangeFinding,
    ForecastFinding,
    Period,
    Ratio,
    SealFinding,
    Standing,
)
from isohume.analysis.wording_events import estimate_in_words, intervention_in_words
from isohume.analysis.wording_panel import dew_point_in_words, panel_in_words

CAUTION = (
    "Decision support only: opening a frame, reconditioning it, and handling mould, old pesticide residue or a warped "
    "panel are for a qualified conservator; local rules and the loan contract prevail."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A heading and the sentences under it."""

    heading: str
    sentences: tuple[str, ...]


def in_words(assessment: Assessment, *, frame: FrameFacts) -> tuple[Section, ...]:
    """Return an assessment as sections of plain sentences, the most needed first."""
    zone = frame.time_zone
    estimated = estimate_in_words(assessment, time_zone=zone)
    done = [say for one in assessment.interventions for say in intervention_in_words(one, time_zone=zone)]
    return (
        Section(heading="What it needs", sentences=standing_in_words(assessment.standing, time_zone=zone)),
        Section(heading="How good the record is", sentences=data_in_words(assessment.data)),
        Section(heading="Period", sentences=period_in_words(assessment.period, time_zone=zone)),
        *([Section(heading="Inside, estimated", sentences=estimated)] if estimated else []),
        Section(heading="Hours outside the band", sentences=band_in_words(assessment.band, time_zone=zone)),
        Section(heading="Buffering", sentences=buffering_in_words(assessment.buffering)),
        Section(
            heading="Season and drift",
            sentences=drift_in_words(assessment.drift, conditioned=frame.conditioned_percent, time_zone=zone),
        ),
        Section(heading="Exchange with the room", sentences=exchange_in_words(assessment.exchange)),
        Section(heading="Forecast", sentences=forecast_in_words(assessment.forecast, time_zone=zone)),
        Section(heading="Seal check", sentences=seal_in_words(assessment.seal, time_zone=zone)),
        *([Section(heading="Did it help", sentences=tuple(done))] if done else []),
        Section(heading="Panel", sentences=panel_in_words(assessment.panel)),
        Section(heading="Dew point and damp", sentences=dew_point_in_words(assessment.dew_point, time_zone=zone)),
    )


def standing_in_words(standing: Standing, *, time_zone: str) -> tuple[str, ...]:
    """Name the standing, its reasons, the next step and the date to act by."""
    by = "" if standing.by is None else f", by {phrases.day(standing.by, time_zone=time_zone)}"
    direction = "" if standing.direction is None else f" ({standing.direction})"
    head = f"{standing.name.capitalize()}{direction}{by}."
    return (head, *(reason.text for reason in standing.reasons), standing.next_step)


def data_in_words(data: DataQuality) -> tuple[str, ...]:
    """Name how far the record can be trusted, and why."""
    return (f"{data.name.capitalize()}.", *(reason.text for reason in data.reasons))


def period_in_words(period: Period, *, time_zone: str) -> tuple[str, ...]:
    """Say from when to when, and how much of it is covered."""
    start, end = (phrases.moment(edge, time_zone=time_zone) for edge in (period.start_utc, period.end_utc))
    return (
        (
            f"{start} to {end}; inside covered {phrases.hours(period.hours_inside_covered)} "
            f"({phrases.share(period.coverage)}), inside and room both {phrases.hours(period.hours_both_covered)}."
        ),
    )


def band_in_words(band: BandFinding | None, *, time_zone: str) -> tuple[str, ...]:
    """Say how long the inside was outside its band, as read and allowing for the logger's uncertainty."""
    if band is None:
        return ("No band is agreed, or there is no inside record, so hours outside cannot be counted.",)
    limits = phrases.band((band.low, band.high))
    within = (
        "" if band.share_within is None else f"; within for {phrases.share(band.share_within)} of the covered time"
    )
    sentences = [
        (
            f"Outside {limits} for {phrases.hours(band.hours_below + band.hours_above)} of "
            f"{phrases.hours(band.hours_covered)} covered, as read: {phrases.hours(band.hours_below)} below, "
            f"{phrases.hours(band.hours_above)} above{within}."
        ),
        (
            f"With the logger's uncertainty of ±{band.uncertainty_percent:.1f} %RH: outside beyond doubt "
            f"{phrases.hours(band.hours_outside_beyond_doubt)}, possibly outside "
            f"{phrases.hours(band.hours_outside_possible)}."
        ),
    ]
    if band.excursions:
        longest = max(band.excursions, key=lambda excursion: excursion.hours)
        n_excursions = len(band.excursions)
        ongoing = ", not over yet" if longest.ongoing else ""
        sentences.append(
            f"{n_excursions} excursion{'s' if n_excursions > 1 else ''}; the longest {phrases.hours(longest.hours)} "
            f"{longest.side} the band from {phrases.day(longest.start_utc, time_zone=time_zone)}, extreme "
            f"{phrases.rh(longest.extreme_percent)}{ongoing}."
        )
    return tuple(sentences)


def ratio_in_words(ratio: Ratio) -> str:
    """Write one buffering ratio: "5.2 (95 % interval 4.1 to 6.6)"."""
    if ratio.ratio is None:
        return f"cannot say, {_lower(ratio.why)}"
    at_least = "at least " if ratio.at_floor else ""
    interval = (
        ""
        if ratio.low is None or ratio.high is None
        else f" (95 % interval {phrases.significant(ratio.low)} to {phrases.significant(ratio.high)})"
    )
    return f"{at_least}{phrases.significant(ratio.ratio)}{interval}"


def buffering_in_words(buffering: BufferingFinding) -> tuple[str, ...]:
    """Say how strongly the frame damps the room on each scale."""
    sentences = [
        "Room fluctuation ÷ inside fluctuation: 1 is no buffering, larger is better.",
        f"Day by day: {ratio_in_words(buffering.daily)}.",
        f"Day by day with the effect of temperature removed: {ratio_in_words(buffering.daily_temperature_removed)}.",
        f"Week by week: {ratio_in_words(buffering.weekly)}.",
        f"Season by season: {ratio_in_words(buffering.seasonal)}.",
    ]
    if buffering.temperature_share_of_daily is not None:
        sentences.append(
            f"{phrases.share(buffering.temperature_share_of_daily)} of the daily swing inside goes with temperature."
        )
    if buffering.lag_hours is not None:
        sentences.append(f"The inside follows the room by {buffering.lag_hours:.1f} h within the day.")
    return tuple(sentences)


def drift_in_words(drift: DriftFinding, *, conditioned: float | None, time_zone: str) -> tuple[str, ...]:
    """Say where the season has taken the inside."""
    sentences = []
    if drift.mean30d_percent is not None:
        away = (
            ""
            if drift.departure_percent is None or conditioned is None
            else f", {phrases.points(drift.departure_percent)} from the {conditioned:g} %RH of conditioning"
        )
        sentences.append(f"30-day mean {phrases.rh(drift.mean30d_percent)}{away}.")
    if drift.slope_percent_per_30d is not None:
        interval = (
            ""
            if drift.slope_low is None or drift.slope_high is None
            else f" (95 % interval {phrases.points(drift.slope_low)} to {phrases.points(drift.slope_high)})"
        )
        sentences.append(
            f"Over the last 60 days it moved by {phrases.points(drift.slope_percent_per_30d)} per 30 days{interval}."
        )
    for word, extreme in (("Lowest", drift.lowest30d), ("Highest", drift.highest30d)):
        if extreme is not None:
            sentences.append(
                f"{word} 30-day mean of the year {phrases.rh(extreme.percent)}, around "
                f"{phrases.day(extreme.date, time_zone=time_zone)}."
            )
    if drift.annual is not None:
        annual = drift.annual
        sentences.append(
            f"The year swings by ±{annual.inside_amplitude_percent:.1f} %RH inside and "
            f"±{annual.outside_amplitude_percent:.1f} %RH in the room: softened "
            f"{phrases.significant(annual.attenuation)} times, {annual.lag_days:.0f} days later."
        )
    if drift.why:
        sentences.append(_sentence(drift.why))
    return tuple(sentences) or ("Cannot say.",)


def exchange_in_words(exchange: ExchangeFinding) -> tuple[str, ...]:
    """Say how fast the frame exchanges moisture."""
    notes = tuple(_sentence(note) for note in exchange.notes)
    if not exchange.determined or exchange.half_time_days is None:
        bounds = [
            f"{word} {phrases.days(bound)}"
            for word, bound in (("at least", exchange.half_time_at_least), ("at most", exchange.half_time_at_most))
            if bound is not None
        ]
        known = f" The half-time is {' and '.join(bounds)}." if bounds else ""
        return (f"The half-time cannot be told: {_lower(exchange.why)}.{known}", *notes)
    interval = (
        ""
        if exchange.half_time_low is None or exchange.half_time_high is None
        else f" (95 % interval {phrases.days(exchange.half_time_low)} to {phrases.days(exchange.half_time_high)})"
    )
    reference = "" if exchange.reference_celsius is None else f" at {exchange.reference_celsius:.1f} °C"
    sentences = [
        (
            f"After a step in the room, half of the change has come in after {phrases.days(exchange.half_time_days)}"
            f"{interval}{reference}."
        )
    ]
    if exchange.share_after_24h is not None:
        sentences.append(f"After one day {phrases.share(exchange.share_after_24h)} of the change has come in.")
    if exchange.slow_mode_half_time_days is not None:
        sentences.append(
            f"The panel's own, slower part follows with a half-time of "
            f"{phrases.days(exchange.slow_mode_half_time_days)}."
        )
    year = exchange.gain.get("1y")
    if year is not None:
        sentences.append(f"Of the room's swing over a year {phrases.share(year.gain)} reaches the inside.")
    return (*sentences, *notes)


def forecast_in_words(forecast: ForecastFinding, *, time_zone: str) -> tuple[str, ...]:
    """Say when the inside may leave its band."""
    if forecast.horizon_days is None or forecast.chance_outside_at_horizon is None:
        return (f"No forecast: {_lower(forecast.why)}.",)
    room = f" (room: {forecast.room})" if forecast.room else ""
    sentences = []
    if forecast.is_outside_now:
        sentences.append(f"Outside its band now{room}.")
    elif forecast.earliest_plausible is None:
        sentences.append(f"Not expected to leave its band within {forecast.horizon_days:.0f} days{room}.")
    else:
        earliest = phrases.day(forecast.earliest_plausible, time_zone=time_zone)
        sentences.append(f"May leave its band from {earliest} at the earliest plausible (one course in ten){room}.")
    if forecast.leave_by is not None and not forecast.is_outside_now:
        sentences.append(f"As likely as not outside by {phrases.day(forecast.leave_by, time_zone=time_zone)}.")
    if not forecast.is_outside_now:
        sentences.append(
            f"Chance of having left it within {forecast.horizon_days:.0f} days: "
            f"{phrases.share(forecast.chance_outside_at_horizon)}."
        )
    if forecast.expected_back_by is not None:
        sentences.append(f"Expected back by {phrases.day(forecast.expected_back_by, time_zone=time_zone)}.")
    if forecast.back_test_share_in_80 is not None:
        sentences.append(
            f"Tried on its own past, the 80 % fan held {phrases.share(forecast.back_test_share_in_80)} of what came."
        )
    return tuple(sentences)


def seal_in_words(seal: SealFinding, *, time_zone: str) -> tuple[str, ...]:
    """Say whether the leakage changed, and how small a change the record could have shown."""
    smallest = (
        ""
        if seal.smallest_detectable is None
        else f" A leak {phrases.significant(seal.smallest_detectable)} times as large would have shown."
    )
    if seal.changed is None:
        return (f"Cannot say: {_lower(seal.why)}.",)
    if not seal.changed:
        fallen = seal.why if seal.date is not None else "No change of leakage found."
        return (f"{fallen}{smallest}",)
    when = "" if seal.date is None else f" around {phrases.day(seal.date, time_zone=time_zone)}"
    factor = "" if seal.factor is None else f" by a factor of {phrases.significant(seal.factor)}"
    interval = (
        ""
        if seal.factor_low is None or seal.factor_high is None
        else f" (95 % interval {phrases.significant(seal.factor_low)} to {phrases.significant(seal.factor_high)})"
    )
    return (f"Leakage changed{when}{factor}{interval}.",)


def _lower(text: str) -> str:
    """Fit a sentence into another one."""
    text = text.rstrip(". ")
    return text[:1].lower() + text[1:] if text else "no reason recorded"


def _sentence(text: str) -> str:
    return f"{text.rstrip('. ')}."
