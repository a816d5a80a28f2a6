"""What the inside climate asks for: one table of rules, read from the top; the first match names the standing.

Every match is listed with the value found, the limit it was held to and the unit. Limits come from
`isohume.analysis.frame.Limits` and can be set per frame. Decision support: never an order to treat anything.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass

import pandas as pd

from isohume.analysis import standing_rules as find
from isohume.analysis import standing_words as words
from isohume.analysis.frame import Limits
from isohume.analysis.results import (
    Reason,
    Standing,
    StandingName,
)
from isohume.analysis.standing_rules import Found, StandingFacts


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row of the table."""

    order: int
    standing: StandingName
    name: str
    fires_when: str  # in words, with the names of the limits to fill in
    test: Callable[[StandingFacts], Found | None]
    text: Callable[[StandingFacts, Found], str]
    while_settling: bool = False  # judged also while the frame is open, newly sealed or retired


RULES: tuple[Rule, ...] = (
    Rule(
        order=0,
        standing="cannot tell",
        name="sides swapped",
        fires_when="whole interval of the weekly buffering ratio under {swapped_weekly_ratio:g}",
        test=find.sides_swapped,
        text=words.sides_swapped,
        while_settling=True,
    ),
    Rule(
        order=0,
        standing="cannot tell",
        name="mostly flagged",
        fires_when="more than half of the inside readings of the last 30 days flagged as unfit",
        test=find.mostly_flagged,
        text=words.mostly_flagged,
        while_settling=True,
    ),
    Rule(
        order=1,
        standing="damp risk",
        name="damp air",
        fires_when="inside at or above {damp_rh_percent:g} %RH for {damp_hours:g} h of the last 30 days",
        test=find.damp_air,
        text=words.damp_air,
        while_settling=True,
    ),
    Rule(
        order=1,
        standing="damp risk",
        name="near dew point",
        fires_when="measured surface less than {dew_point_margin_kelvin:g} K above the dew point "
        "for {dew_point_hours:g} h of the last 30 days",
        test=find.near_dew_point,
        text=words.near_dew_point,
        while_settling=True,
    ),
    Rule(
        order=2,
        standing="needs reconditioning",
        name="mean beyond doubt",
        fires_when="7-day mean outside the band by more than the logger's uncertainty",
        test=find.mean_beyond_doubt,
        text=words.mean_beyond_doubt,
    ),
    Rule(
        order=2,
        standing="needs reconditioning",
        name="hours beyond doubt",
        fires_when="more than {hours_outside_beyond_doubt_30d:g} h outside the band by more than the logger's "
        "uncertainty in 30 days",
        test=find.hours_beyond_doubt,
        text=words.hours_beyond_doubt,
    ),
    Rule(
        order=2,
        standing="needs reconditioning",
        name="departure",
        fires_when="7-day mean more than {departure_percent:g} %RH from the conditioned humidity",
        test=find.departed,
        text=words.departed,
    ),
    Rule(
        order=3,
        standing="check seal",
        name="seal changed",
        fires_when="seal check positive, the leak grew, and no later opening can have mended it",
        test=find.seal_changed,
        text=words.seal_changed,
    ),
    Rule(
        order=3,
        standing="check seal",
        name="frame open?",
        fires_when="whole interval of the weekly buffering ratio under {open_weekly_ratio:g}",
        test=find.frame_open,
        text=words.frame_open,
    ),
    Rule(
        order=4,
        standing="needs reconditioning",
        name="mean as read",
        fires_when="7-day mean outside the band only as read, unless expected back within "
        "{returns_within_days:g} days",
        test=find.mean_as_read,
        text=words.mean_as_read,
    ),
    Rule(
        order=4,
        standing="needs reconditioning",
        name="hours as read",
        fires_when="more than {hours_outside_beyond_doubt_30d:g} h outside the band only as read in 30 days, unless "
        "back for 7 days or expected back within {returns_within_days:g} days",
        test=find.hours_as_read,
        text=words.hours_as_read,
    ),
    Rule(
        order=5,
        standing="leaving band",
        name="leaving soon",
        fires_when="earliest plausible date of leaving the band within {horizon_days:g} days",
        test=find.leaving_soon,
        text=words.leaving_soon,
    ),
    Rule(
        order=5,
        standing="leaving band",
        name="quick change",
        fires_when="inside changed by more than {change_in_24h_percent:g} %RH within 24 h in the last 30 days",
        test=find.changed_within_a_day,
        text=words.changed_within_a_day,
    ),
)
# Considered only when no rule above fires.
STEADY = Rule(
    order=6,
    standing="steady",
    name="steady",
    fires_when="a band is agreed, and the forecast is determined or even the room's 7-day means of a year stay inside",
    test=find.stays_in_band,
    text=words.stays_in_band,
)
CANNOT_TELL = Rule(
    order=7,
    standing="cannot tell",
    name="missing",
    fires_when="otherwise; the text says what is missing",
    test=lambda _facts: Found(),
    text=words.what_is_missing,
    while_settling=True,
)


def rules_in_words(limits: Limits) -> tuple[tuple[int, StandingName, str, str], ...]:
    """Return the table as it applies under these limits: order, standing, rule, when it fires."""
    values = asdict(limits)
    return tuple(
        (rule.order, rule.standing, rule.name, rule.fires_when.format(**values))
        for rule in (*RULES, STEADY, CANNOT_TELL)
    )


def standing(facts: StandingFacts) -> Standing:
    """Name what a frame asks for, with every reason that speaks for it.

    Returns
    -------
    Standing
        `by` is the earliest plausible date of leaving the band minus the lead time; where that has passed, or the
        frame asks for hands now, it is `as_of`, and `next_step` says so.
    """
    judged = find.is_judged(facts)
    table = [rule for rule in RULES if judged or rule.while_settling]
    matches = matching(table, facts) or (matching([STEADY], facts) if judged else []) or matching([CANNOT_TELL], facts)
    first, leading = matches[0]
    by, overdue_since = due(first, facts)
    direction = leading.direction if first.standing in {"needs reconditioning", "leaving band"} else None
    return Standing(
        name=first.standing,
        direction=direction,
        reasons=tuple(
            Reason(rule=rule.name, text=rule.text(facts, found), value=found.value, limit=found.limit, unit=found.unit)
            for rule, found in matches
        ),
        next_step=words.next_step(
            facts, first.standing, rule=first.name, direction=direction, by=by, overdue_since=overdue_since
        ),
        by=by,
    )


def matching(rules: Sequence[Rule], facts: StandingFacts) -> list[tuple[Rule, Found]]:
    """Return the rules that fire, in their order, with what each found."""
    answers = [(rule, rule.test(facts)) for rule in rules]
    return [(rule, found) for rule, found in answers if found is not None]


def due(rule: Rule, facts: StandingFacts) -> tuple[pd.Timestamp | None, pd.Timestamp | None]:
    """Return the date to act by, and the date it should have been where that has passed already."""
    if rule.standing in {"damp risk", "needs reconditioning"}:
        return facts.as_of, None
    earliest = facts.forecast.earliest_plausible
    if rule.standing == "cannot tell" or earliest is None:
        return None, None
    planned = earliest - pd.Timedelta(days=facts.frame.limits.lead_time_days)
    return (facts.as_of, planned) if planned < facts.as_of else (planned, None)
