"""How sure a figure from so many frames is, and rows that are written while they come."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import beta, binom


def binomial_interval(hits: int, n: int) -> tuple[float, float]:
    """Return the 95 % interval of a share by Clopper and Pearson (1934)."""
    low = 0.0 if hits == 0 else float(beta.ppf(0.025, hits, n - hits + 1))
    return low, 1.0 if hits == n else float(beta.ppf(0.975, hits + 1, n - hits))


def median_interval(values: pd.Series[float]) -> tuple[float, float]:
    """Return the 95 % interval of a median by order statistics; NaN where there are too few values for one."""
    ordered = np.sort(values.dropna().to_numpy())
    n = ordered.size
    below = int(binom.ppf(0.025, n, 0.5)) if n else 0
    return (float(ordered[below - 1]), float(ordered[n - below])) if below >= 1 else (np.nan, np.nan)


def frames_of_seeds(seeds: Sequence[int], frames: Sequence[int]) -> dict[int, int]:
    """Return how many frames to simulate with each seed: one number for all, or one per seed."""
    if len(frames) not in {1, len(seeds)}:
        raise SystemExit(f"{len(frames)} numbers of frames for {len(seeds)} seeds: give one, or one per seed.")
    return dict(zip(seeds, frames if len(frames) > 1 else list(frames) * len(seeds), strict=True))


def kept_rows(rows: Iterable[dict[str, object]], raw: Path | None) -> pd.DataFrame:
    """Return the rows as a table; where `raw` is given each is written as it comes, under one header."""
    if raw is None:
        return pd.DataFrame(rows)
    collected: list[dict[str, object]] = []
    for row in rows:
        collected.append(row)
        pd.DataFrame(collected).to_csv(raw, index=False)
    return pd.DataFrame(collected)
