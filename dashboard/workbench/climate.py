"""The climate that a frame on paper is sent through: a room's record of the archive, or a year that is typed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import sqlalchemy as sa

from isohume.analysis.readings import AirRecord
from isohume.dashboard.workbench.fields import Typed
from isohume.dashboard.workbench.part import Context
from isohume.ingest.archive import collect
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models import Placement
from isohume.ingest.archive.timelines import stays_of_loggers

TYPED = "typed"
# Common practice: in temperate climates rooms are coldest and, heated, driest in the middle of January.
DRIEST_DAY = 15
YEAR_DAYS = 365
# As long a record as a planned year needs; what is too short is still offered, and says so.
LONG_ENOUGH = pd.Timedelta(days=300)


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """A year of room air with its name; `typed` where nobody measured it."""

    name: str
    air: AirRecord
    typed: bool


class NoClimateError(ValueError):
    """The room has no record."""


def rooms(context: Context) -> list[tuple[str, str]]:
    """Return the rooms that were ever measured, with names; those measured long enough for a year first."""
    if context.archive is None:
        return []
    names = {row["id"]: row["name"] or row["id"] for row in context.archive.records("rooms")}
    measured = _measured(context, context.archive)
    order = sorted(measured, key=lambda room: (measured[room] < LONG_ENOUGH, room))
    return [(room, names.get(room, room)) for room in order]


def first_choice(context: Context) -> str:
    """Return the first room that was measured long enough for a year, or a typed climate where there is none."""
    measured = {} if context.archive is None else _measured(context, context.archive)
    return next((room for room, _ in rooms(context) if measured[room] >= LONG_ENOUGH), TYPED)


def _measured(context: Context, archive: Archive) -> dict[str, pd.Timedelta]:
    """Return how long loggers lay in each room."""
    measured: dict[str, pd.Timedelta] = {}
    for row in archive.records("placements"):
        if row["room"]:
            end = context.site.now if row["to"] is None else pd.Timestamp(row["to"])
            length = end - pd.Timestamp(row["from"])
            measured[row["room"]] = measured.get(row["room"], pd.Timedelta(0)) + length
    return measured


def choices(context: Context) -> tuple[tuple[str, str], ...]:
    """Return what can be chosen as the room's climate."""
    return (*rooms(context), (TYPED, "a climate that I type"))


def of_typed(context: Context, typed: Typed) -> Climate:
    """Return the climate chosen in the fields `room`, `rh_mean`, `rh_swing`, `t_mean`, `t_swing`.

    Raises
    ------
    NoClimateError
        The room was not measured, or the figures typed are missing or make no climate.
    """
    room = typed.text("room")
    if room != TYPED and context.archive is not None:
        air = room_air(context.archive, room, until=context.site.now)
        if air is None:
            raise NoClimateError("No reading of this room is kept. Choose another room, or type a climate.")
        return Climate(name=dict(rooms(context)).get(room, room), air=air, typed=False)
    figures = [typed.number(name) for name in ("rh_mean", "rh_swing", "t_mean", "t_swing")]
    if any(figure is None for figure in figures):
        raise NoClimateError("A typed climate needs its four figures: mean and swing of humidity and temperature.")
    rh_mean, rh_swing, t_mean, t_swing = (float(figure or 0) for figure in figures)
    if not 0 <= rh_mean - rh_swing <= rh_mean + rh_swing <= 100:
        raise NoClimateError(
            f"{rh_mean:g} ± {rh_swing:g} %RH leaves 0 to 100 %RH: give a smaller swing or another mean."
        )
    air = typed_year(context.site.now.year, rh_mean, rh_swing, t_mean, t_swing)
    return Climate(name="the climate typed", air=air, typed=True)


def typed_year(year: int, rh_mean: float, rh_swing: float, t_mean: float, t_swing: float) -> AirRecord:
    """Make a smooth year, driest and coldest in the middle of January, without any weather.

    Parameters
    ----------
    rh_mean, rh_swing, t_mean, t_swing : float [%RH], [°C]
        Mean of the year, and how far the season leads away from it on either side.
    """
    index = pd.date_range(f"{year}-01-01", periods=24 * YEAR_DAYS, freq="h", tz="UTC", name="time_utc")
    days = np.arange(24 * YEAR_DAYS) / 24 - (DRIEST_DAY - 1)
    wave = -np.cos(2 * math.pi * days / YEAR_DAYS)
    readings = pd.DataFrame(
        {"rh_percent": rh_mean + rh_swing * wave, "temperature_celsius": t_mean + t_swing * wave}, index=index
    )
    return AirRecord(readings=readings, n_readings=len(readings))


def room_air(archive: Archive, room: str, *, until: pd.Timestamp) -> AirRecord | None:
    """Return all that was measured of a room up to a moment; None where there is no usable reading."""
    with archive.register.reading() as session:
        stays = stays_of_loggers(list(session.scalars(sa.select(Placement).where(Placement.room == room))))
    found = collect.record(archive, stays, start=None, end=(until + pd.Timedelta(seconds=1)).to_pydatetime())
    return None if found is None or found.rh_percent.dropna().empty else found
