"""A record whose days disagree with those of its room by an hour in summer: said, and its times doubted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import polars as pl

from isohume.analysis.readings import TEMPERATURE, TIME, AirRecord
from isohume.ingest.clock_evidence import ClockFinding, beside_companion
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.flags import FLAG_TABLE, FLAGS, Flag

# The last year holds both of its clock changes; what a clock did before is no longer of use.
LOOKED_AT = pd.Timedelta(days=400)
CLOCK_DOUBT = FLAG_TABLE[Flag.CLOCK_DOUBT].name


def with_clock_doubted(inside: AirRecord, outside: AirRecord | None, *, site_zone: str) -> AirRecord:
    """Return the inside record, with a note and all its times doubted where its clock does not go with the room's.

    Parameters
    ----------
    inside, outside : AirRecord
        A frame and the room it hangs in; their temperatures follow each other within hours.
    site_zone : str
        Zone of the building, `Europe/Berlin`; what both clocks are taken to be stated in.
    """
    finding = clock_beside(inside, outside, site_zone=site_zone) if outside is not None else None
    if finding is None:
        return inside
    note = f"The clocks inside and in the room do not go together. {finding.text} {finding.suggestion}"
    counts = {**inside.flag_counts, CLOCK_DOUBT: len(inside.readings)}
    return replace(inside, flag_counts=counts, notes=(*inside.notes, note))


def clock_beside(inside: AirRecord, outside: AirRecord, *, site_zone: str) -> ClockFinding | None:
    """Return what the temperatures of the last year say about two clocks; None where they agree or say nothing."""
    zone = ClockZone.parse(site_zone)
    if zone.fixed_us is not None:  # a site without summer time
        return None
    tables = [_temperatures(record) for record in (inside, outside)]
    return beside_companion(*tables, stated=zone, site_zone=zone.name)


def _temperatures(record: AirRecord) -> pl.DataFrame:
    usable = record.temperature_celsius.dropna()
    if len(usable):
        usable = usable[usable.index >= usable.index[-1] - LOOKED_AT]
    times_us = pd.DatetimeIndex(usable.index).as_unit("us").asi8
    return pl.DataFrame(
        {
            TIME: pl.Series(times_us, dtype=pl.Int64).cast(pl.Datetime("us")).dt.replace_time_zone("UTC"),
            TEMPERATURE: pl.Series(usable.to_numpy(), dtype=pl.Float64),
            FLAGS: np.zeros(len(usable), dtype=np.uint32),
        }
    )
