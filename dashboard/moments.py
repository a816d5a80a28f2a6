"""Moments as people type them."""

from __future__ import annotations

from datetime import datetime

import pandas as pd

from isohume.ingest.archive.conversion import FIRST_YEAR, LAST_YEAR


def moment_of(text: str, time_zone: str) -> pd.Timestamp:
    """Read a date or an ISO time; without an offset it is meant in the zone given, a date at its start.

    Raises
    ------
    ValueError
        The text is neither, or the moment does not exist in that zone (the missing spring hour).
    """
    try:
        typed = pd.Timestamp(datetime.fromisoformat(text))
        local = typed.tz_localize(time_zone, ambiguous=False) if typed.tz is None else typed
        if not FIRST_YEAR <= local.year <= LAST_YEAR:
            raise ValueError(local.year)  # noqa: TRY301 - said below
    except ValueError as error:
        raise ValueError(
            f'Moment "{text}": expected a date or time that exists, such as 2026-11-20 or 2026-11-20T08:00+01:00, '
            f"in the years {FIRST_YEAR} to {LAST_YEAR}."
        ) from error
    return local.tz_convert("UTC")


def zone_of(text: str) -> str:
    """Return the name of a time zone, or refuse a name that is none.

    Raises
    ------
    ValueError
        Neither a zone of the time zone database nor an offset such as +01:00.
    """
    try:
        pd.Timestamp("2026-01-01T00:00Z").tz_convert(text)
    except (KeyError, ValueError, OSError) as error:
        raise ValueError(
            f'Time zone "{text}": expected a name such as Europe/Berlin, or an offset such as +01:00.'
        ) from error
    return text
