"""Logger files on disk, without an archive: one side of one frame, read and joined into one record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from isohume.analysis.readings import UNCALIBRATED_UNCERTAINTY_PERCENT, AirRecord
from isohume.dashboard.assessment_json import InputFile
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.handover import air_record
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_source


class UnsettledError(Exception):
    """A file leaves something open that only its user can answer."""


class NothingReadError(Exception):
    """No file of a side could be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseSide:
    """One side of a frame as read from loose files."""

    record: AirRecord
    files: tuple[InputFile, ...]
    refused: tuple[str, ...]  # why files were refused
    remarks: tuple[str, ...]


def read_side(
    paths: Sequence[Path],
    *,
    side: str,
    time_zone: str | None,
    channel: str | None = None,
    answers: Answers,
    uncertainty_percent: float = UNCALIBRATED_UNCERTAINTY_PERCENT,
) -> LooseSide:
    """Read the files of one side and join them.

    Parameters
    ----------
    paths : sequence of Path
        One logger's files, in any order; overlaps are stored once, the earlier file's reading stays.
    side : str
        "inside" or "outside", for messages.
    time_zone : str or None
        Zone of the logger's clock where the file does not say.
    channel : str or None
        Which channel of the files measured this side; needed where they hold several.
    answers : Answers
        To questions the files leave open.
    uncertainty_percent : float [%RH]
        Expanded uncertainty (k = 2).

    Raises
    ------
    UnsettledError
        A file leaves a question open; the message says how to answer.
    NothingReadError
        No file could be read, or none holds the channel.
    """
    readings: list[FileReading] = []
    refused: list[str] = []
    for path in paths:
        try:
            for reading in read_source(path, name=str(path), time_zone=time_zone, answers=answers):
                refuse_without_humidity(reading)
                readings.append(reading)
        except LoggerFileError as error:
            refused.append(str(error))
    if not readings:
        raise NothingReadError("\n".join(refused))
    questions = [f"{reading.file}: {question.sentence()}" for reading in readings for question in reading.questions]
    if questions:
        raise UnsettledError("\n".join(questions))
    chosen = [(reading, _channel_of(reading, channel, side)) for reading in readings]
    table = (
        pl.concat([reading.table.filter(pl.col("channel") == name) for reading, name in chosen])
        .unique("time_utc", keep="first", maintain_order=True)
        .sort("time_utc")
    )
    notes = tuple(f"{reading.file}: {note}" for reading in readings for note in reading.notes)
    return LooseSide(
        record=air_record(table, notes=notes, uncertainty_percent=uncertainty_percent),
        files=tuple(
            InputFile(side=side, file=reading.file, sha256=reading.sha256, channel=name) for reading, name in chosen
        ),
        refused=tuple(refused),
        remarks=notes,
    )


def refuse_without_humidity(reading: FileReading) -> None:
    """Refuse a settled file that holds not a single humidity.

    Raises
    ------
    LoggerFileError
        It holds temperatures only.
    """
    if reading.is_settled and reading.table["rh_percent"].is_null().all():
        raise LoggerFileError(
            file=reading.file,
            found="temperatures only",
            expected="relative humidity, or a dew point beside the temperature",
            remedy="Export the humidity of this logger, too.",
        )


def _channel_of(reading: FileReading, wanted: str | None, side: str) -> str:
    names = [channel.name for channel in reading.channels]
    if wanted is None:
        if len(names) == 1:
            return names[0]
        listed = ", ".join(f'"{name}"' for name in names)
        raise UnsettledError(
            f"{reading.file}: the file holds {len(names)} channels: {listed}. Which one is the {side}? "
            f'Answer with --{side}-channel "{names[0]}".'
        )
    if wanted not in names:
        listed = ", ".join(f'"{name}"' for name in names)
        raise UnsettledError(f'{reading.file}: no channel "{wanted}"; the file holds {listed}.')
    return wanted
