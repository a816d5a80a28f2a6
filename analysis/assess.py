"""The main job: two records in, every finding about one frame out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from isohume.analysis.buffering import buffering
from isohume.analysis.curves import Curves
from isohume.analysis.data_quality import DataFacts, data_quality, period_of
from isohume.analysis.dew_point import dew_point, dew_point_margin
from isohume.analysis.drift import seasonal_drift
from isohume.analysis.estimate import estimate_finding
from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.exchange.finding import finding_from
from isohume.analysis.exchange.fit import CannotTell, FittedExchange, fit_exchange
from isohume.analysis.excursions import hours_outside
from isohume.analysis.forecast.finding import forecast_finding
from isohume.analysis.frame import FrameFacts
from isohume.analysis.integrals import hours_below
from isohume.analysis.intervention import judged_interventions
from isohume.analysis.panel import panel
from isohume.analysis.readings import AirRecord
from isohume.analysis.recent import MONTH, recent_air
from isohume.analysis.results import (
    Assessment,
    BandFinding,
    BufferingFinding,
    DriftFinding,
    ExchangeFinding,
    ForecastFinding,
    Ratio,
    SealFinding,
)
from isohume.analysis.seal import seal_scan
from isohume.analysis.seal.finding import finding_of
from isohume.analysis.standing import standing
from isohume.analysis.standing_rules import StandingFacts
from isohume.analysis.trace_curves import trace_curves

NO_INSIDE = "There is no usable record from inside the frame."
NO_ROOM = "There is no usable record of the room."


class NoOverlapError(ValueError):
    """Inside and room were never logged at the same time."""

    def __init__(self, inside: AirRecord, outside: AirRecord) -> None:
        spans = [
            f"{name} {record.readings.index[0]:%Y-%m-%d} to {record.readings.index[-1]:%Y-%m-%d}"
            for name, record in (("inside", inside), ("room", outside))
        ]
        super().__init__(
            f"The two records do not overlap: {', '.join(spans)}. Give files of the same months, and check that both "
            "time zones are right."
        )


class NoReadingsError(ValueError):
    """Neither side has a single reading up to the moment asked for."""


def assess(
    inside: AirRecord | None,
    outside: AirRecord | None,
    *,
    frame: FrameFacts,
    as_of: pd.Timestamp | None = None,
    seed: int = 0,
    files_missing: Sequence[str] = (),
    sister: AirRecord | None = None,
    surface_celsius: pd.Series[float] | None = None,
    room_now: AirRecord | None = None,
    known_half_time: KnownHalfTime | str | None = None,
) -> Assessment:
    """Make every finding about one frame.

    Parameters
    ----------
    inside, outside : AirRecord or None
        Records of the frame and of the rooms it hung in. None where there is none (a frame with a strip only): what
        needs it is then undetermined and says why.
    frame : FrameFacts
        Band, conditioned RH, panel, events and limits.
    as_of : Timestamp, optional
        The moment for which the findings hold; later readings are not seen. Default: the newest reading.
    seed : int
        Of the bootstrap and the ensembles: the same input gives the same figures.
    files_missing : sequence of str
        Sentences about files that were expected by `as_of` and did not come.
    sister : AirRecord, optional
        Record of another logger in the same frame.
    surface_celsius : Series [°C], optional
        Temperature of the coldest measured surface (glazing, back of the panel, wall) on a UTC index.
    room_now : AirRecord, optional
        Record of the room the frame hangs in now over all time, where the frame came to it within its own record:
        the forecast rests on it.
    known_half_time : KnownHalfTime or str, optional
        Of a frame whose inside was never logged: that of a frame built alike, or why it has none; by default from its
        construction, where that is known.

    Returns
    -------
    Assessment

    Raises
    ------
    NoOverlapError
        Both sides have readings, never at the same time.
    NoReadingsError
        No side has a reading up to `as_of`, and no `as_of` was given.
    """
    inside, outside, sister, room_now = (_until(record, as_of) for record in (inside, outside, sister, room_now))
    if as_of is None:
        newest = [record.readings.index[-1] for record in (inside, outside) if record is not None]
        if not newest:
            raise NoReadingsError("Neither the inside nor the room has a reading. Give files that hold some.")
        as_of = pd.Timestamp(max(newest))
    if inside is not None and outside is not None and not _overlap(inside, outside):
        raise NoOverlapError(inside, outside)
    period = period_of(inside, outside, as_of=as_of)
    damped = (
        buffering(inside, outside, seed=seed) if inside is not None and outside is not None else no_buffering(inside)
    )
    fitted = None if inside is None or outside is None else fit_exchange(inside, outside, frame=frame)
    exchange, forecast, seal, curves = modelled(fitted, inside, outside, frame, room_now=room_now, seed=seed)
    estimate, no_estimate = estimate_finding(
        inside, outside, frame=frame, as_of=as_of, fitted=fitted, half_time=known_half_time, seed=seed
    )
    facts = StandingFacts(
        recent=recent_air(inside, outside, frame=frame, as_of=as_of),
        frame=frame,
        as_of=as_of,
        uncertainty_percent=0.0 if inside is None else inside.uncertainty_percent,
        buffering=damped,
        forecast=forecast,
        seal=seal,
        hours_near_dew_point=hours_near_dew_point(inside, surface_celsius, frame),
        estimate=estimate,
    )
    return Assessment(
        as_of=as_of,
        period=period,
        band=band_finding(inside, frame),
        buffering=damped,
        drift=drift_finding(inside, outside, frame, fitted=fitted, seed=seed),
        exchange=exchange,
        forecast=forecast,
        seal=seal,
        curves=curves,
        panel=panel(inside, outside, frame=frame),
        dew_point=dew_point(inside, outside, surface_celsius=surface_celsius),
        standing=standing(facts),
        data=data_quality(
            DataFacts(
                inside=inside,
                outside=outside,
                frame=frame,
                as_of=as_of,
                period=period,
                files_missing=tuple(files_missing),
                sister=sister,
            )
        ),
        interventions=()
        if inside is None or outside is None
        else judged_interventions(inside, outside, frame=frame, as_of=as_of),
        estimate=estimate,
        no_estimate=no_estimate,
    )


def band_finding(inside: AirRecord | None, frame: FrameFacts) -> BandFinding | None:
    """Count the hours outside the band; None without a band or an inside record."""
    if inside is None or frame.band is None:
        return None
    low, high = frame.band
    return hours_outside(inside.rh_percent, low=low, high=high, uncertainty_percent=inside.uncertainty_percent)


def modelled(
    fitted: FittedExchange | CannotTell | None,
    inside: AirRecord | None,
    outside: AirRecord | None,
    frame: FrameFacts,
    *,
    room_now: AirRecord | None,
    seed: int,
) -> tuple[ExchangeFinding, ForecastFinding, SealFinding, Curves]:
    """Make every finding that rests on the fitted exchange."""
    if fitted is None or inside is None or outside is None:
        why = NO_INSIDE if inside is None else NO_ROOM
        seal = SealFinding(changed=None, why=why)
        return ExchangeFinding(determined=False, why=why), ForecastFinding(why=why), seal, Curves()
    scan = seal_scan(fitted, frame=frame)
    return (
        finding_from(fitted),
        forecast_finding(fitted, inside, outside, frame=frame, seed=seed, room_now=room_now),
        finding_of(scan, fitted, time_zone=frame.time_zone),
        trace_curves(fitted, scan, inside, outside, frame=frame),
    )


def hours_near_dew_point(
    inside: AirRecord | None, surface_celsius: pd.Series[float] | None, frame: FrameFacts
) -> float | None:
    """Count the hours of the newest 30 days in which a measured surface came close to the dew point [h]."""
    if inside is None or surface_celsius is None:
        return None
    margin = dew_point_margin(inside, surface_celsius)
    if margin.isna().all():
        return None
    return hours_below(margin.loc[margin.index[-1] - MONTH :], frame.limits.dew_point_margin_kelvin)


def no_buffering(inside: AirRecord | None) -> BufferingFinding:
    """Return buffering as undetermined, with the side that is missing."""
    why = NO_INSIDE if inside is None else NO_ROOM
    unknown = Ratio(ratio=None, why=why)
    return BufferingFinding(
        daily=unknown,
        daily_temperature_removed=unknown,
        weekly=unknown,
        seasonal=unknown,
        lag_hours=None,
        why=why,
    )


def drift_finding(
    inside: AirRecord | None,
    outside: AirRecord | None,
    frame: FrameFacts,
    *,
    fitted: FittedExchange | CannotTell | None,
    seed: int,
) -> DriftFinding:
    """Describe the seasons of the inside; without a room record all but the annual cycle."""
    if inside is None:
        return DriftFinding(
            mean30d_percent=None,
            departure_percent=None,
            slope_percent_per_30d=None,
            slope_low=None,
            slope_high=None,
            lowest30d=None,
            highest30d=None,
            annual=None,
            why=NO_INSIDE,
        )
    room = outside or AirRecord(readings=inside.readings.iloc[:0])
    return seasonal_drift(
        inside,
        room,
        conditioned_percent=frame.conditioned_percent,
        fitted=fitted if isinstance(fitted, FittedExchange) else None,
        seed=seed,
    )


def _until(record: AirRecord | None, as_of: pd.Timestamp | None) -> AirRecord | None:
    """Cut a record at the moment asked for; None when nothing is left."""
    if record is None:
        return None
    readings = record.readings if as_of is None else record.readings.loc[:as_of]
    if readings.empty:
        return None
    return record if len(readings) == len(record.readings) else replace(record, readings=readings)


def _overlap(inside: AirRecord, outside: AirRecord) -> bool:
    one, other = inside.readings.index, outside.readings.index
    return bool(max(one[0], other[0]) <= min(one[-1], other[-1]))
