"""A record on a coarser grid: enough for the first search of the parameters, at a third of the work."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from isohume.analysis.exchange.drive import ExchangeData
from isohume.analysis.exchange.model import FloatArray

SHORTEST_COARSE = 60  # times of a coarsened record


def coarsened(data: ExchangeData) -> ExchangeData:
    """Return the same record on a grid three times as coarse, for a first search; a short record as it is."""
    n = data.observed.size // 3
    if n < SHORTEST_COARSE:
        return data

    def blocks(values: FloatArray) -> FloatArray:
        return values[: 3 * n].reshape(n, 3)

    def steps(values: FloatArray) -> FloatArray:
        return np.asarray(values[1 : 3 * n - 2].reshape(n - 1, 3).mean(axis=1))

    logger = data.inside_logger[1 : 3 * n : 3]
    of_logger = data.inside_logger[: 3 * n].reshape(n, 3) == logger[:, None]
    usable = ~np.isnan(blocks(data.observed)) & of_logger
    weight = np.where(usable, blocks(data.n_readings), 0.0)
    count = weight.sum(axis=1)
    total = (weight * np.where(usable, blocks(data.observed), 0.0)).sum(axis=1)
    return replace(
        data,
        start_utc=data.start_utc + pd.Timedelta(days=data.step_days),
        step_days=3 * data.step_days,
        observed=np.divide(total, count, out=np.full(n, np.nan), where=count > 0),
        n_readings=np.maximum(count, 1.0),
        warming=blocks(data.warming).mean(axis=1),
        scaled_drive=steps(data.scaled_drive),
        scaling=steps(data.scaling),
        drive_now=blocks(data.drive_now).mean(axis=1),
        drive_variance=steps(data.drive_variance),
        segment_start=np.asarray(data.segment_start[: 3 * n].reshape(n, 3).any(axis=1)),
        pair=data.pair[1 : 3 * n : 3],
        inside_logger=logger,
    )
