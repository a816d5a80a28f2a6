"""The curves behind some findings, for figures: shapes only, so that findings can carry them."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True, slots=True, kw_only=True)
class Curves:
    """What pages and papers draw beside the figures; None where there is nothing to draw.

    Attributes
    ----------
    step_response : DataFrame [-]
        Index `days` since a lasting step of the room; columns share, low, high: how much of it has reached the inside
        at the reference temperature, 0-1, with its 95 % interval.
    gain : DataFrame [-]
        Index `days`, period of a fluctuation of the room from 6 hours to 2 years; columns gain, low, high: the share
        of its amplitude that reaches the inside, 0-1, with its 95 % interval.
    seal_scan : DataFrame
        Index `date` (UTC); columns log_likelihood_ratio, beyond_rivals [-] of a leakage that changed then, and factor,
        factor_low, factor_high, smallest [leakage after over before]; NaN where no change would have shown.
    movement : DataFrame [mm]
        Index `time_utc`, every 12 h; columns framed, unframed: width across the grain less the width at conditioning,
        or where that is not known less the first width in the frame.
    """

    step_response: pd.DataFrame | None = None
    gain: pd.DataFrame | None = None
    seal_scan: pd.DataFrame | None = None
    movement: pd.DataFrame | None = None
