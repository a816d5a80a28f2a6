"""The sentences of standing: why a rule fired, and what a conservator can do next."""

from __future__ import annotations

import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.estimated_inside import EstimatedInside
from isohume.analysis.results import StandingName
from isohume.analysis.standing_rules import (
    Direction,
    Found,
    StandingFacts,
    forecast_determined,
    is_judged,
    settled_on,
    settling_after,
)


def sides_swapped(_facts: StandingFacts, found: Found) -> str:
    """Say that inside and room seem to stand for each other."""
    return (
        f"The record called inside swings more than the room: the weekly buffering ratio lies below {found.value:.2f} "
        f"with 95 % confidence, under the limit of {found.limit:g}. The two files or loggers are probably swapped."
    )


def mostly_flagged(facts: StandingFacts, found: Found) -> str:
    """Say that the newest record cannot be used."""
    return f"{found.value:.0f} % of the inside readings of the newest 30 days are flagged as unfit{_until(facts)}."


def damp_air(facts: StandingFacts, found: Found) -> str:
    """Say how long the air was damp."""
    limit = facts.frame.limits.damp_rh_percent
    return (
        f"Inside at or above {limit:g} %RH for {phrases.hours(found.value or 0)} of {_window(facts)}; "
        f"limit {found.limit:g} h."
    )


def near_dew_point(facts: StandingFacts, found: Found) -> str:
    """Say how long a surface came close to condensation."""
    margin = facts.frame.limits.dew_point_margin_kelvin
    return (
        f"The coldest measured surface was less than {margin:g} K above the dew point for "
        f"{phrases.hours(found.value or 0)} of the last 30 days; limit {found.limit:g} h."
    )


def mean_beyond_doubt(facts: StandingFacts, found: Found) -> str:
    """Say that the mean is outside, whatever the logger's error."""
    return f"{_mean_outside(facts, found)}, farther than the logger's uncertainty of {_uncertainty(facts)}."


def mean_as_read(facts: StandingFacts, found: Found) -> str:
    """Say that the mean is outside as read, and what that leaves open."""
    return f"{_mean_outside(facts, found)}, though within the logger's uncertainty of {_uncertainty(facts)}."


def hours_beyond_doubt(facts: StandingFacts, found: Found) -> str:
    """Say how long the inside was outside the band beyond doubt."""
    return (
        f"{phrases.hours(found.value or 0)} outside {_band(facts)} by more than the logger's uncertainty of "
        f"{_uncertainty(facts)} in {_window(facts)}; limit {found.limit:g} h."
    )


def hours_as_read(facts: StandingFacts, found: Found) -> str:
    """Say how long the inside was outside the band as read."""
    hours = phrases.hours(found.value or 0)
    return f"{hours} outside {_band(facts)} as read in {_window(facts)}; limit {found.limit:g} h."


def departed(facts: StandingFacts, found: Found) -> str:
    """Say how far the inside has drifted from where it was conditioned."""
    return (
        f"7-day mean{_until(facts)} {phrases.points(found.value or 0)} from the "
        f"{facts.frame.conditioned_percent:g} %RH at which the panel was conditioned; limit {found.limit:g} %RH."
    )


def seal_changed(facts: StandingFacts, _found: Found) -> str:
    """Say when the leak grew and by how much."""
    seal = facts.seal
    when = "" if seal.date is None else f" around {phrases.day(seal.date, time_zone=facts.frame.time_zone)}"
    if seal.factor is None:
        return f"The frame began to leak more{when}."
    interval = ""
    if seal.factor_low is not None and seal.factor_high is not None:
        interval = f" (95 % interval {seal.factor_low:.1f} to {seal.factor_high:.1f})"
    return f"The frame began to leak {seal.factor:.1f} times as much{when}{interval}."


def frame_open(facts: StandingFacts, found: Found) -> str:
    """Say that the inside follows the room."""
    weekly = facts.buffering.weekly
    return (
        f"Week by week the inside follows the room: buffering ratio {found.value:.2f} (95 % interval {weekly.low:.2f} "
        f"to {weekly.high:.2f}), where 1 is no buffering and {found.limit:g} the limit. The frame may stand open, or "
        "the logger may not be inside."
    )


def leaving_soon(facts: StandingFacts, found: Found) -> str:
    """Say when the band may be left."""
    zone = facts.frame.time_zone
    side = {"too dry": " on the dry side", "too damp": " on the damp side", None: ""}[found.direction]
    text = f"May leave {_band(facts)}{side} from {_day(found.date, zone)} (one course in ten by then)"
    if facts.forecast.leave_by is not None:
        text += f", as likely as not by {_day(facts.forecast.leave_by, zone)}"
    return f"{text}; that is in {found.value:.0f} days, horizon {found.limit:g} days."


def changed_within_a_day(facts: StandingFacts, found: Found) -> str:
    """Say how far the inside moved within a day."""
    return (
        f"The inside moved by {phrases.rh(found.value or 0)} within 24 h, until "
        f"{_day(found.date, facts.frame.time_zone)}; limit {found.limit:g} %RH."
    )


def stays_in_band(facts: StandingFacts, found: Found) -> str:
    """Say that nothing speaks against the frame, and for how long."""
    zone, forecast = facts.frame.time_zone, facts.forecast
    low, high = facts.frame.band or (0.0, 100.0)
    mean = found.value or 0.0
    place = "within" if low <= mean <= high else "outside"
    text = f"7-day mean{_until(facts)} {phrases.rh(mean)}, {place} {_band(facts)}"
    if found.date is not None and place == "outside":
        return f"{text}; expected back by {_day(found.date, zone)}."
    if forecast.earliest_plausible is not None:
        return f"{text}; may leave it from {_day(forecast.earliest_plausible, zone)} at the earliest."
    if forecast_determined(forecast):
        return f"{text}; not expected to leave it within {forecast.horizon_days:.0f} days."
    return f"{text}; over the last year even the room's 7-day means stayed within it."


def what_is_missing(facts: StandingFacts, _found: Found) -> str:
    """Say what a judgement would need."""
    if not is_judged(facts):
        return _not_judged(facts)
    mean = facts.recent.mean_7d_percent
    if mean is None:
        if facts.recent.newest_utc is None and facts.estimate is not None:
            return _estimated(facts, facts.estimate)
        if facts.recent.newest_utc is None:
            return "No usable humidity reading from inside the frame."
        return f"Less than a day of usable inside readings{_until(facts)} since the frame was last opened."
    if facts.frame.band is None:
        return f"No band is agreed for this frame; 7-day mean{_until(facts)} {phrases.rh(mean)}."
    low, high = facts.frame.band
    place = "Within" if low <= mean <= high else "Outside"
    why = facts.forecast.why or "no forecast was made"
    return (
        f"{place} its band of {phrases.band((low, high))} now (7-day mean{_until(facts)} {phrases.rh(mean)}), "
        f"forecast unknown: {why[0].lower()}{why[1:].rstrip('.')}."
    )


def _estimated(facts: StandingFacts, estimate: EstimatedInside) -> str:
    """Say what the inside is estimated to be; the band is named beside it, and no judgement made."""
    newest = estimate.series.iloc[-1]
    low, high = f"{newest['low']:.1f}", phrases.rh(float(newest["high"]))
    when = phrases.day(pd.Timestamp(estimate.series.index[-1]), time_zone=facts.frame.time_zone)
    agreed = f"; {_band(facts)}" if facts.frame.band else ""
    return (
        f"Estimated, not logged: about {phrases.rh(float(newest['median']))} inside on {when} (95 % interval {low} to "
        f"{high}){agreed}."
    )


def next_step(
    facts: StandingFacts,
    name: StandingName,
    *,
    rule: str,
    direction: Direction | None,
    by: pd.Timestamp | None,
    overdue_since: pd.Timestamp | None,
) -> str:
    """Return information on what comes next, for a conservator to weigh.

    Names the owner and who may open the frame. Never orders treatment: flattening, opening, handling mould or old
    pesticide residue is for a qualified conservator, and the loan contract and local rules prevail.
    """
    frame = facts.frame
    sentences = [NEXT_STEP_OF_RULE.get(rule, NEXT_STEP[name])]
    if name == "cannot tell" and facts.estimate is not None:
        sentences = [WITHOUT_LOGGER]
    if name == "needs reconditioning" and direction is not None:
        sentences.append(MOISTURE_WAY[direction])
    if name == "leaving band":
        sentences.append(_plan_by(facts, by=by, overdue_since=overdue_since))
    if name in HANDS_NEEDED:
        sentences += [_who(frame.owner, frame.opened_by), HANDS_NEEDED[name]]
    if frame.lifecycle in {"on loan", "in transit"}:
        sentences.append("The frame is away: what the loan contract says comes first.")
    return " ".join(sentence for sentence in sentences if sentence)


NEXT_STEP: dict[StandingName, str] = {
    "damp risk": "Have a conservator look at the frame and the wall behind it soon: at this humidity mould can begin "
    "to grow. Where the moisture comes from matters more than the frame.",
    "needs reconditioning": "For a conservator to decide: whether the frame is opened and its buffer brought back to "
    "the conditioned humidity, now or after the season has turned.",
    "check seal": "Look from outside first: screws and backing, tape and barrier edges, glazing, and whether the "
    "logger is still inside. A conservator decides whether the frame is opened.",
    "leaving band": "For a conservator to plan: a reconditioning before the band is left, or the reasons to wait.",
    "steady": "Nothing is asked for now; look again at the next monthly review.",
    "cannot tell": "Supply what is missing, then assess again; until then judge the frame by eye and by its strip.",
}
# Where the rule that fired says more precisely what is wrong.
NEXT_STEP_OF_RULE: dict[str, str] = {
    "sides swapped": "Find out which logger lies in the frame and which in the room: compare serial numbers, "
    "placements and file names. Put the register or the files right, then assess again; this record says nothing of "
    "the frame.",
    "mostly flagged": "Look at the flagged readings and at the logger: battery, sensor, clock, and whether it still "
    "lies inside. Until it reads well, judge the frame by eye and by its strip.",
}
WITHOUT_LOGGER = (
    "An estimate is not judged. Read the strip, which narrows it, or place a logger inside when the frame is next "
    "opened."
)
MOISTURE_WAY: dict[Direction, str] = {
    "too dry": "Water goes to the board or buffer outside the frame, never to the panel; see the amount under panel.",
    "too damp": "Water leaves through the board or buffer outside the frame, slowly and never by heat; see the amount "
    "under panel.",
}
HANDS_NEEDED: dict[StandingName, str] = {
    "damp risk": "Treat visible mould as harmful to people: gloves and a fitted mask, and no brushing in the open.",
    "needs reconditioning": "Opening needs two people, a table, and care with glass, old pesticide residue and "
    "silica-gel dust. Do not flatten a warped panel.",
    "check seal": "Opening needs two people, a table, and care with glass and ladders.",
    "leaving band": "",
}


def _who(owner: str, opened_by: str) -> str:
    return (
        f"Owner: {owner or 'not recorded'}. May be opened by: "
        f"{opened_by or 'not recorded, so ask the owner before anybody opens it'}."
    )


def _plan_by(facts: StandingFacts, *, by: pd.Timestamp | None, overdue_since: pd.Timestamp | None) -> str:
    zone, lead = facts.frame.time_zone, facts.frame.limits.lead_time_days
    if overdue_since is not None:
        return (
            f"With a lead time of {lead:g} days the date to act by was {phrases.day(overdue_since, time_zone=zone)}: "
            "it has passed, so plan now."
        )
    if by is not None:
        return f"With a lead time of {lead:g} days, act by {phrases.day(by, time_zone=zone)}."
    return ""


def _not_judged(facts: StandingFacts) -> str:
    opened = settling_after(facts)
    if opened is None:
        return f"The frame is {facts.frame.lifecycle}: nothing is judged but damp."
    zone = facts.frame.time_zone
    until = settled_on(opened, facts.frame)
    return (
        f"The frame was last open on {phrases.day(opened.time_utc, time_zone=zone)} ({opened.kind}): air and panel "
        f"settle, and nothing but damp is judged before {phrases.day(until, time_zone=zone)}."
    )


def _mean_outside(facts: StandingFacts, found: Found) -> str:
    side = "below" if found.direction == "too dry" else "above"
    return f"7-day mean{_until(facts)} {phrases.rh(found.value or 0)}, {side} {_band(facts)}"


def _band(facts: StandingFacts) -> str:
    return f"the band of {phrases.band(facts.frame.band)}" if facts.frame.band else "the band"


def _uncertainty(facts: StandingFacts) -> str:
    return f"±{facts.uncertainty_percent:.1f} %RH"


def _until(facts: StandingFacts) -> str:
    newest = facts.recent.newest_utc
    return "" if newest is None else f" up to {phrases.day(newest, time_zone=facts.frame.time_zone)}"


def _window(facts: StandingFacts) -> str:
    recent, zone = facts.recent, facts.frame.time_zone
    covered = f"{phrases.hours(recent.hours_covered)} covered"
    if recent.since_utc is None or recent.newest_utc is None:
        return f"the last 30 days ({covered})"
    first, last = phrases.day(recent.since_utc, time_zone=zone), phrases.day(recent.newest_utc, time_zone=zone)
    return f"{first} to {last} ({covered})"


def _day(date: pd.Timestamp | None, time_zone: str) -> str:
    return "an unknown date" if date is None else phrases.day(date, time_zone=time_zone)
