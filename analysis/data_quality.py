"""How far the record of a frame can be trusted: one table, read from the top. It never hides a standing."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.frame import FrameFacts, Limits
from isohume.analysis.integrals import covered_hours, hours_both_covered
from isohume.analysis.readings import AirRecord, bridge
from isohume.analysis.recent import flagged_share
from isohume.analysis.results import DataName, DataQuality, Period, Reason

ONE_DAY = pd.Timedelta(days=1)
DAYS_PER_MONTH = 365.25 / 12
# Common practice, design section 4.10: a paper strip has a bias of its own (SD 2 %RH) and is read to SD 1.5 %RH;
# expanded with k = 2.
STRIP_UNCERTAINTY_PERCENT = 2 * math.hypot(2.0, 1.5)
CLOCK_DOUBT = "clock doubt"
OUTSIDE_PLACEMENT = "outside placement"


@dataclass(frozen=True, slots=True, kw_only=True)
class DataFacts:
    """What the rules look at: the two records cut at `as_of`, and what the register expects of them."""

    inside: AirRecord | None
    outside: AirRecord | None
    frame: FrameFacts
    as_of: pd.Timestamp
    period: Period
    files_missing: tuple[str, ...] = ()  # "logger 7 (inside): no file since 3 Oct 2026, expected every 31 days"
    sister: AirRecord | None = None  # another logger in the same frame

    @property
    def sides(self) -> Iterator[tuple[str, AirRecord]]:
        """Name and record of each side that has one."""
        for name, record in (("inside", self.inside), ("room", self.outside)):
            if record is not None and len(record.readings):
                yield name, record


@dataclass(frozen=True, slots=True, kw_only=True)
class DataRule:
    """One row of the table."""

    name: DataName
    rule: str
    fires_when: str  # with the names of the limits to fill in
    test: Callable[[DataFacts], Iterator[Reason]]


def old_readings(facts: DataFacts) -> Iterator[Reason]:
    """Yield the sides whose newest reading is old."""
    limit, zone = facts.frame.limits.stale_days, facts.frame.time_zone
    for side, record in facts.sides:
        newest = pd.Timestamp(record.readings.index[-1])
        age = (facts.as_of - newest) / ONE_DAY
        if age > limit:
            text = (
                f"The newest {side} reading is of {phrases.day(newest, time_zone=zone)}, {age:.0f} days before "
                f"{phrases.day(facts.as_of, time_zone=zone)}; limit {limit:g} days."
            )
            yield Reason(rule="old readings", text=text, value=age, limit=limit, unit="days")


def files_not_come(facts: DataFacts) -> Iterator[Reason]:
    """Yield the files that were expected and did not come."""
    for text in facts.files_missing:
        yield Reason(rule="file not come", text=text)


def short_record(facts: DataFacts) -> Iterator[Reason]:
    """Yield a record that holds too few days of both sides."""
    limit = facts.frame.limits.shortest_record_days
    days = facts.period.hours_both_covered / 24
    if days < limit:
        missing = [name for name, record in (("inside", facts.inside), ("room", facts.outside)) if record is None]
        text = f"Inside and room are both covered for {phrases.days(days)}; at least {limit:g} days are needed."
        if missing:
            text = f"There is no {' and no '.join(missing)} record. {text}"
        yield Reason(rule="short record", text=text, value=days, limit=limit, unit="days")


def gaps(facts: DataFacts) -> Iterator[Reason]:
    """Yield an inside record with too many gaps."""
    limit, coverage = facts.frame.limits.least_coverage, facts.period.coverage
    if coverage < limit:
        zone = facts.frame.time_zone
        text = (
            f"Usable inside readings cover {phrases.share(coverage)} of the time from "
            f"{phrases.day(facts.period.start_utc, time_zone=zone)} to "
            f"{phrases.day(facts.period.end_utc, time_zone=zone)}; at least {phrases.share(limit)} are needed."
        )
        yield Reason(rule="gaps", text=text, value=100 * coverage, limit=100 * limit, unit="%")


def flagged(facts: DataFacts) -> Iterator[Reason]:
    """Yield the sides of whose readings too many are flagged as unfit, in all or in the newest 30 days."""
    limit = facts.frame.limits.most_flagged_share
    for side, record in facts.sides:
        # Readings before a logger went in or after it came out are no fault of the record.
        elsewhere = record.flag_counts.get(OUTSIDE_PLACEMENT, 0)
        in_place = record.n_readings - elsewhere
        overall = max(record.n_excluded - elsewhere, 0) / in_place if in_place > 0 else 0.0
        newest = flagged_share(record.rh_percent) or 0.0
        share, when = max((overall, ""), (newest, " of the newest 30 days"))
        if share > limit:
            text = (
                f"{phrases.share(share)} of the {side} readings{when} are flagged as unfit for analysis; limit "
                f"{phrases.share(limit)}."
            )
            yield Reason(rule="flags", text=text, value=100 * share, limit=100 * limit, unit="%")


def strip_disagrees(facts: DataFacts) -> Iterator[Reason]:
    """Yield a disagreement between the newest strip reading and the inside logger."""
    readings = [
        event
        for event in facts.frame.events
        if event.kind == "strip read" and event.rh_percent is not None and event.time_utc <= facts.as_of
    ]
    if facts.inside is None or not readings:
        return
    strip = max(readings, key=lambda event: event.time_utc)
    logged = value_at(facts.inside.rh_percent, strip.time_utc)
    if logged is None or strip.rh_percent is None:
        return
    limit = math.hypot(facts.inside.uncertainty_percent, STRIP_UNCERTAINTY_PERCENT)
    difference = strip.rh_percent - logged
    if abs(difference) > limit:
        text = (
            f"The strip read on {phrases.day(strip.time_utc, time_zone=facts.frame.time_zone)} shows "
            f"{phrases.rh(strip.rh_percent)}, {phrases.points(difference)} from the logger; the two together are "
            f"uncertain by ±{limit:.1f} %RH."
        )
        yield Reason(rule="strip disagrees", text=text, value=difference, limit=limit, unit="%RH")


def sister_disagrees(facts: DataFacts) -> Iterator[Reason]:
    """Yield a disagreement between two loggers in the same frame."""
    if facts.inside is None or facts.sister is None:
        return
    both = pd.concat([facts.inside.rh_percent, facts.sister.rh_percent], axis=1, join="inner").dropna()
    if both.empty:
        return
    difference = float((both.iloc[:, 1] - both.iloc[:, 0]).median())
    limit = math.hypot(facts.inside.uncertainty_percent, facts.sister.uncertainty_percent)
    if abs(difference) > limit:
        text = (
            f"The other logger in the frame reads {phrases.points(difference)} (median of {len(both)} common "
            f"readings); the two together are uncertain by ±{limit:.1f} %RH."
        )
        yield Reason(rule="sister logger disagrees", text=text, value=difference, limit=limit, unit="%RH")


def clock_in_doubt(facts: DataFacts) -> Iterator[Reason]:
    """Yield the sides whose clock is in doubt."""
    for side, record in facts.sides:
        n_doubtful = record.flag_counts.get(CLOCK_DOUBT, 0)
        if n_doubtful:
            text = f"The times of {n_doubtful} {side} readings are in doubt; see the row account of their files."
            yield Reason(rule="clock doubt", text=text, value=float(n_doubtful), limit=0.0, unit="readings")


def calibration_old(facts: DataFacts) -> Iterator[Reason]:
    """Yield the sides whose logger was not calibrated for long.

    A logger without any known calibration is counted from its first reading.
    """
    limit, zone = facts.frame.limits.calibration_months, facts.frame.time_zone
    for side, record in facts.sides:
        since = record.calibrated_on or pd.Timestamp(record.readings.index[0])
        months = (facts.as_of - since) / ONE_DAY / DAYS_PER_MONTH
        if months > limit:
            known = "last calibrated on" if record.calibrated_on is not None else "in use without calibration since"
            text = (
                f"The {side} logger was {known} {phrases.day(since, time_zone=zone)}, {months:.0f} months before "
                f"{phrases.day(facts.as_of, time_zone=zone)}; limit {limit:g} months."
            )
            yield Reason(rule="calibration", text=text, value=months, limit=limit, unit="months")


RULES: tuple[DataRule, ...] = (
    DataRule(
        name="stale",
        rule="old readings",
        fires_when="newest reading of inside or room older than {stale_days:g} days",
        test=old_readings,
    ),
    DataRule(name="stale", rule="file not come", fires_when="an expected file did not come", test=files_not_come),
    DataRule(
        name="too little",
        rule="short record",
        fires_when="less than {shortest_record_days:g} days covered inside and in the room",
        test=short_record,
    ),
    DataRule(
        name="too little",
        rule="gaps",
        fires_when="inside readings cover less than {least_coverage:.0%} of the period",
        test=gaps,
    ),
    DataRule(
        name="doubtful",
        rule="flags",
        fires_when="more than {most_flagged_share:.0%} of a side's readings flagged as unfit, in all or in 30 days",
        test=flagged,
    ),
    DataRule(
        name="doubtful",
        rule="strip disagrees",
        fires_when="newest strip reading differs from the logger by more than both uncertainties (root of squares)",
        test=strip_disagrees,
    ),
    DataRule(
        name="doubtful",
        rule="sister logger disagrees",
        fires_when="two loggers in one frame differ by more than both uncertainties (root of squares)",
        test=sister_disagrees,
    ),
    DataRule(name="doubtful", rule="clock doubt", fires_when="any reading's time is in doubt", test=clock_in_doubt),
    DataRule(
        name="doubtful",
        rule="calibration",
        fires_when="logger not calibrated for more than {calibration_months:g} months",
        test=calibration_old,
    ),
)


def rules_in_words(limits: Limits) -> tuple[tuple[DataName, str, str], ...]:
    """Return the table as it applies under these limits: name, rule, when it fires."""
    values = asdict(limits)
    return tuple((rule.name, rule.rule, rule.fires_when.format(**values)) for rule in RULES)


def data_quality(facts: DataFacts) -> DataQuality:
    """Say how far the record can be trusted, with every reason against it."""
    matches = [(rule.name, reason) for rule in RULES for reason in rule.test(facts)]
    if not matches:
        zone, period = facts.frame.time_zone, facts.period
        text = (
            f"Covered {phrases.share(period.coverage)} from {phrases.day(period.start_utc, time_zone=zone)} to "
            f"{phrases.day(period.end_utc, time_zone=zone)}; nothing speaks against the record."
        )
        return DataQuality(name="sound", reasons=(Reason(rule="sound", text=text),))
    return DataQuality(name=matches[0][0], reasons=tuple(reason for _, reason in matches))


def period_of(inside: AirRecord | None, outside: AirRecord | None, *, as_of: pd.Timestamp) -> Period:
    """Return the period of a frame: that of its inside readings, or of the room where there are none."""
    leading = next((one for one in (inside, outside) if one is not None and len(one.readings)), None)
    if leading is None:
        return Period(start_utc=as_of, end_utc=as_of, hours_inside_covered=0.0, hours_both_covered=0.0, coverage=0.0)
    start, end = pd.Timestamp(leading.readings.index[0]), pd.Timestamp(leading.readings.index[-1])
    covered = 0.0 if inside is None else covered_hours(inside.rh_percent)
    both = 0.0 if inside is None or outside is None else hours_both_covered(inside.rh_percent, outside.rh_percent)
    length = (end - start) / pd.Timedelta(hours=1)
    return Period(
        start_utc=start,
        end_utc=end,
        hours_inside_covered=covered,
        hours_both_covered=both,
        coverage=covered / length if length > 0 else 0.0,
    )


def value_at(series: pd.Series[float], moment: pd.Timestamp) -> float | None:
    """Interpolate a record at a moment; None where the record does not cover it."""
    usable = series.dropna()
    after = int(usable.index.searchsorted(moment))
    if after == 0 or after == len(usable):
        return None
    before_at, after_at = usable.index[after - 1], usable.index[after]
    if after_at - before_at > bridge(pd.DatetimeIndex(series.index)):
        return None
    weight = (moment - before_at) / (after_at - before_at)
    return float(usable.iloc[after - 1] * (1 - weight) + usable.iloc[after] * weight)
