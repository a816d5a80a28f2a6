"""What is due: files that should have come, calibrations that have run out, batteries."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Literal
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from sqlalchemy.orm import Session

from isohume.ingest.archive.models import Calibration, Collection, Logger
from isohume.ingest.archive.models_imports import Part
from isohume.ingest.archive.timelines import FAR_FUTURE, Stay, logger_stays

DAYS_PER_MONTH = 30.4375
# Common practice: capacitive humidity sensors are compared with a reference every one to two years.
CALIBRATION_MONTHS = 24
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

DueKind = Literal["file", "calibration", "battery"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """Something that a logger needs.

    Attributes
    ----------
    kind : {"file", "calibration", "battery"}
        A file to read out, a calibration, a new battery.
    logger, place : str
        Which logger, and where it is: "frame …" or "room …".
    due : datetime (UTC)
        By when.
    is_overdue : bool
        Whether that is past.
    text : str
        One sentence.
    """

    kind: DueKind
    logger: str
    place: str
    due: dt.datetime
    is_overdue: bool
    text: str

    def document(self) -> dict[str, str | bool]:
        """Return it as values that JSON can hold."""
        return {
            "kind": self.kind, "logger": self.logger, "place": self.place, "due_utc": f"{self.due:%Y-%m-%dT%H:%M:%SZ}",
            "overdue": self.is_overdue, "text": self.text,
        }  # fmt: skip

    @property
    def frame(self) -> str:
        """Return the id of the frame it is in, "" for a room."""
        return self.place.removeprefix("frame ") if self.place.startswith("frame ") else ""


def due(session: Session, as_of: dt.datetime) -> list[Due]:
    """List what is due for the loggers that are placed somewhere, the earliest first."""
    zone = ZoneInfo(session.scalars(sa.select(Collection.time_zone)).first() or "UTC")
    newest = dict(session.execute(sa.select(Part.logger, sa.func.max(Part.last)).group_by(Part.logger)).all())
    stays: dict[str, list[Stay]] = {}
    for stay in logger_stays(session):
        stays.setdefault(stay.who[0], []).append(stay)
    calibrations: dict[str, list[Calibration]] = {}
    for row in session.scalars(sa.select(Calibration).order_by(Calibration.date)):
        calibrations.setdefault(row.logger, []).append(row)
    found: list[Due] = []
    for logger in session.scalars(sa.select(Logger).where(~Logger.retired).order_by(Logger.id)):
        mine = stays.get(logger.id, [])
        present = [stay for stay in mine if stay.start <= as_of < stay.end]
        file = _file(logger, mine, newest.get(logger.id), as_of, zone)
        found += [file] if file else []
        if present:
            found += [_calibration(logger, present[0], calibrations.get(logger.id, []), as_of, zone)]
            battery = _battery(logger, present[0], as_of, zone)
            found += [battery] if battery else []
    return sorted(found, key=lambda one: (one.due, one.logger))


def _file(
    logger: Logger, stays: list[Stay], newest: dt.datetime | None, as_of: dt.datetime, zone: ZoneInfo
) -> Due | None:
    """Return when the next file is expected; readings are wanted until now, or until the logger was taken out."""
    started = [stay for stay in stays if stay.start <= as_of]
    if logger.expect_every_days is None or not started:
        return None
    last = max(started, key=lambda stay: stay.end)
    if last.end != FAR_FUTURE and newest is not None and newest >= last.end - dt.timedelta(days=1):
        return None  # taken out, and read out since
    since = max(filter(None, (newest, logger.expect_from, started[0].start if newest is None else None)))
    when = since + dt.timedelta(days=logger.expect_every_days)
    told = f"its newest reading is of {_day(newest, zone)}" if newest else f"no file came since {_day(since, zone)}"
    text = f"A file of logger {logger.id} ({last.where}) is expected by {_day(when, zone)}: {told}."
    return Due(kind="file", logger=logger.id, place=last.where, due=when, is_overdue=when < as_of, text=text)


def _calibration(
    logger: Logger, stay: Stay, calibrations: list[Calibration], as_of: dt.datetime, zone: ZoneInfo
) -> Due:
    earlier = [row for row in calibrations if row.date <= as_of]
    if not earlier:
        text = f"Logger {logger.id} ({stay.where}) was never calibrated."
        return Due(kind="calibration", logger=logger.id, place=stay.where, due=stay.start, is_overdue=True, text=text)
    last = max(earlier, key=lambda row: row.date)
    when = last.valid_until or last.date + dt.timedelta(days=CALIBRATION_MONTHS * DAYS_PER_MONTH)
    done, again = _day(last.date, zone), _day(when, zone)
    text = f"Logger {logger.id} ({stay.where}) was calibrated on {done}; again by {again}."
    return Due(kind="calibration", logger=logger.id, place=stay.where, due=when, is_overdue=when < as_of, text=text)


def _battery(logger: Logger, stay: Stay, as_of: dt.datetime, zone: ZoneInfo) -> Due | None:
    if logger.battery_changed is None or logger.battery_months is None:
        return None
    when = logger.battery_changed + dt.timedelta(days=logger.battery_months * DAYS_PER_MONTH)
    text = f"The battery of logger {logger.id} ({stay.where}) is due by {_day(when, zone)}."
    return Due(kind="battery", logger=logger.id, place=stay.where, due=when, is_overdue=when < as_of, text=text)


def _day(moment: dt.datetime, zone: ZoneInfo) -> str:
    """Write a date as it is on the wall of the site, as the pages write it: 3 Nov 2026."""
    local = moment.astimezone(zone)
    return f"{local.day} {MONTHS[local.month - 1]} {local.year}"
