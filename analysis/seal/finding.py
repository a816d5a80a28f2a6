"""From the scan to the finding: whether the seal changed, when, by how much, and what else it might have been."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from isohume.analysis import phrases
from isohume.analysis.exchange.fit import CannotTell, FittedExchange
from isohume.analysis.exchange.interval import NORMAL_95
from isohume.analysis.frame import FrameFacts
from isohume.analysis.results import SealFinding
from isohume.analysis.seal.scan import Rival, SealScan, log_standard_error, scan_seal
from isohume.analysis.seal.thresholds import (
    LARGEST_USEFUL_FACTOR,
    LEAST_BEYOND_RIVALS,
    LEAST_LOG_LIKELIHOOD_RATIO,
    LEAST_STANDARD_ERRORS,
    RECENT_DAYS,
    SMALLEST_FACTOR,
)

LEAST_FACTOR = 0.01  # a fit near a tight frame may even pass below 0
LARGEST_LOG = 7.0  # of an interval's half-width: it says nothing
NOTHING = "No change of the leakage stands out from what sound frames show."
TOO_SHORT = "The record is too short to look for a change in it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """The likeliest date of a change in one direction, beside its rivals at theirs."""

    date: pd.Timestamp
    factor: float
    factor_sd: float
    factor_low: float
    factor_high: float
    log_likelihood_ratio: float
    beyond_rivals: float
    rival: Rival  # the one that leaves least

    @property
    def why_not(self) -> str:
        """Why this is no finding; empty if it is one."""
        if self.log_likelihood_ratio < LEAST_LOG_LIKELIHOOD_RATIO:
            return NOTHING
        if SMALLEST_FACTOR > self.factor > 1 / SMALLEST_FACTOR:
            return f"The leakage changed by less than a factor of {SMALLEST_FACTOR:g}, as it does in sound frames."
        if abs(np.log(self.factor)) < LEAST_STANDARD_ERRORS * log_standard_error(self.factor, self.factor_sd):
            return "What change there is lies within what the structure of the model may get wrong."
        if self.beyond_rivals < LEAST_BEYOND_RIVALS:
            return f"What may look like a changed leak, {self.rival.name} explains nearly as well."
        return ""


def seal_finding(fitted: FittedExchange | CannotTell, *, frame: FrameFacts) -> SealFinding:
    """Say whether the leakage of a frame changed within its record.

    Parameters
    ----------
    fitted : FittedExchange or CannotTell
        What `fit_exchange` made of the record. A record that does not determine the half-time may still show a change.
    frame : FrameFacts
        Its events: after a sealing, a repair or a new buffer the leakage begins anew.
    """
    return finding_of(seal_scan(fitted, frame=frame), fitted, time_zone=frame.time_zone)


def finding_of(scan: SealScan | None, fitted: FittedExchange | CannotTell, *, time_zone: str) -> SealFinding:
    """Judge a scan that was made already: the figure and the finding share it."""
    if scan is None:
        return SealFinding(changed=None, why=fitted.why if isinstance(fitted, CannotTell) else TOO_SHORT)
    smallest = smallest_detectable(scan)
    grown, fallen = candidate(scan, grown=True), candidate(scan, grown=False)
    if grown is not None and not grown.why_not:
        return _changed(grown, smallest, changed=True, why=_reasons(grown))
    if fallen is not None and not fallen.why_not:
        since = phrases.day(fallen.date, time_zone=time_zone)
        why = f"The frame leaks less since about {since}: the opposite of a failing seal. {_reasons(fallen)}"
        return _changed(fallen, smallest, changed=False, why=why)
    if isinstance(fitted, CannotTell):
        return SealFinding(changed=None, smallest_detectable=smallest, why=fitted.why)
    if smallest is None or smallest > LARGEST_USEFUL_FACTOR:
        least = "no leak" if smallest is None else f"only a leak {phrases.significant(smallest)} times as large"
        why = (
            f"Inside and room were too alike, or the record too short: {least} would have shown within "
            f"{RECENT_DAYS:.0f} days."
        )
        return SealFinding(changed=None, smallest_detectable=smallest, why=why)
    return SealFinding(changed=False, smallest_detectable=smallest, why=NOTHING if grown is None else grown.why_not)


def seal_scan(fitted: FittedExchange | CannotTell, *, frame: FrameFacts) -> SealScan | None:
    """Scan for a change, date by date, for the figure; None where no model could be fitted or the record is short."""
    model = fitted.fitted if isinstance(fitted, CannotTell) else fitted
    return None if model is None else scan_seal(model, events=frame.events)


def candidate(scan: SealScan, *, grown: bool) -> Candidate | None:
    """Return the likeliest change in one direction, None if no date points that way."""
    towards = scan.factor > 1 if grown else scan.factor < 1
    if not towards.any():
        return None
    best = int(np.argmax(np.where(towards, scan.log_likelihood_ratio, -np.inf)))
    factor = max(float(scan.factor[best]), LEAST_FACTOR)
    factor_sd = float(scan.factor_sd[best])
    low, high = factor_interval(factor, factor_sd)
    return Candidate(
        date=pd.Timestamp(scan.dates[best]),
        factor=factor,
        factor_sd=factor_sd,
        factor_low=low,
        factor_high=high,
        log_likelihood_ratio=float(scan.log_likelihood_ratio[best]),
        beyond_rivals=float(scan.beyond_rivals[best]),
        rival=scan.nearest_rival[best],
    )


def factor_interval(factor: float, standard_deviation: float) -> tuple[float, float]:
    """Return the 95 % interval of a positive factor."""
    wide = min(NORMAL_95 * float(log_standard_error(factor, standard_deviation)), LARGEST_LOG)
    return factor * float(np.exp(-wide)), factor * float(np.exp(wide))


def smallest_detectable(scan: SealScan) -> float | None:
    """Return the smallest change that would have been found had it happened two months before the record's end."""
    away = scan.dates - (scan.dates[-1] - pd.Timedelta(days=RECENT_DAYS))
    smallest = float(scan.smallest_factor[int(np.argmin(np.abs(away.total_seconds())))])
    return smallest if np.isfinite(smallest) else None


def _changed(found: Candidate, smallest: float | None, *, changed: bool, why: str) -> SealFinding:
    return SealFinding(
        changed=changed,
        date=found.date,
        factor=found.factor,
        factor_low=found.factor_low,
        factor_high=found.factor_high,
        smallest_detectable=smallest,
        why=why,
    )


def _reasons(found: Candidate) -> str:
    return (
        f"Log likelihood ratio {found.log_likelihood_ratio:.0f} against a sound frame (needed: "
        f"{LEAST_LOG_LIKELIHOOD_RATIO:.0f}), {found.beyond_rivals:.0f} with {found.rival.name} granted (needed: "
        f"{LEAST_BEYOND_RIVALS:.0f})."
    )
