"""Two loggers of the archive side by side."""

from __future__ import annotations

import datetime as dt

import sqlalchemy as sa

from isohume.ingest.archive.calibration import Proposal, from_comparison
from isohume.ingest.archive.collect import LoggerReadings, logger_readings
from isohume.ingest.archive.corrections import uncertainty_at
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.models import Logger
from isohume.ingest.archive.timelines import Stay


def compare(
    holdings: Holdings, tested: tuple[str, str], reference: tuple[str, str], start: dt.datetime, end: dt.datetime
) -> Proposal:
    """Compare a logger, as it logged, with a corrected better one; each named by id and channel."""
    told: list[LoggerReadings] = []
    stays: list[Stay] = []
    for who in (tested, reference):
        with holdings.register.reading() as session:
            if session.scalar(sa.select(Logger.id).where(Logger.id == who[0])) is None:
                raise RegisterError(
                    "calibration", found=f'logger "{who[0]}"', expected="a logger of the register",
                    remedy="Correct its name.",
                )  # fmt: skip
        stays.append(Stay(who, start, end, ""))
        told.append(logger_readings(holdings, who[0], [stays[-1]]))
    as_logged, better = told[0].during(stays[0], calibrated=False), told[1].during(stays[1])
    uncertainty = uncertainty_at(told[1].logger, told[1].calibrations_of(reference[1]), end)
    return from_comparison(as_logged, better, reference_uncertainty_percent=uncertainty)
