"""Where the readings of an import belong: in which frame or room their logger was at the time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from isohume.ingest.archive.timelines import Stay
from isohume.ingest.placing_answers import PLACED_FROM, PLACED_TO


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """The readings of one channel that belong to one place.

    Attributes
    ----------
    channel : str
        Channel of the file.
    place : str
        "frame …", "room …", or "" for readings outside every placement.
    n_readings : int
        How many.
    first, last : datetime (UTC)
        Of these readings.
    """

    channel: str
    place: str
    n_readings: int
    first: dt.datetime
    last: dt.datetime


def stays_of_channel(stays: Sequence[Stay], channel: str, channels: Sequence[str]) -> list[Stay]:
    """Return the stays that are about one channel of a logger; a placement without channel means the only one."""
    return [stay for stay in stays if stay.who[1] == channel or (stay.who[1] == "" and len(channels) == 1)]


def place(table: pl.DataFrame, stays: Sequence[Stay]) -> tuple[Placed, ...]:
    """Say where the readings of one logger belong.

    Parameters
    ----------
    table : DataFrame
        Normalised table of one logger.
    stays : sequence of Stay
        All of that logger.
    """
    channels = table["channel"].unique().sort().to_list()
    placed: list[Placed] = []
    for channel in channels:
        times = table.filter(pl.col("channel") == channel)["time_utc"]
        left = times
        for stay in stays_of_channel(stays, channel, channels):
            inside = (left >= stay.start) & (left < stay.end)
            placed += _placed(channel, stay.where, left.filter(inside))
            left = left.filter(~inside)
        placed += _placed(channel, "", left)
    return tuple(placed)


def still_asked(notes: Sequence[str], table: pl.DataFrame, stays: Sequence[Stay]) -> tuple[str, ...]:
    """Return a reader's notes without the question when the logger went in or came out, where the register says so."""
    first, last = table["time_utc"].min(), table["time_utc"].max()
    told = [
        f"{PLACED_FROM}=" if edge == "start" else f"{PLACED_TO}="
        for stay in stays
        for edge in ("start", "end")
        if isinstance(first, dt.datetime) and isinstance(last, dt.datetime) and first < getattr(stay, edge) <= last
    ]
    return tuple(note for note in notes if not any(answer in note for answer in told))


def _placed(channel: str, where: str, times: pl.Series) -> list[Placed]:
    if times.is_empty():
        return []
    first, last = times.min(), times.max()
    if not isinstance(first, dt.datetime) or not isinstance(last, dt.datetime):
        raise TypeError("Times of readings are datetimes.")
    return [Placed(channel=channel, place=where, n_readings=len(times), first=first, last=last)]
