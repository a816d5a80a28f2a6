"""Any logger file, read: detect, recipe, parse, clock, flags, ledger, in this order and nothing beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from isohume.ingest.channels import TABLE_SCHEMA, ChannelSummary, summaries
from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.detect import Detection, detect
from isohume.ingest.encoding import DecodedText, decode
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.ledger import RowLedger
from isohume.ingest.lines import TextLines
from isohume.ingest.other_lines import locate
from isohume.ingest.parse import ParsedFile, parse
from isohume.ingest.questions import Answers, Question
from isohume.ingest.recipe import WRITTEN_ZONE, Recipe
from isohume.ingest.settle import settle_rows, unsettled_ledger
from isohume.ingest.source import SourceFile, open_source
from isohume.ingest.spreadsheet import sheets_of
from isohume.ingest.told import Told

NO_ANSWERS = Answers()
# Name for messages, text, and the sheet of a workbook.
NamedText = tuple[str, DecodedText, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReading:
    """One logger file, read.

    Attributes
    ----------
    file : str
        Its name; a member of a .zip and a sheet of a workbook carry theirs, too.
    sha256 : str
        Hash of the bytes as received.
    recipe : Recipe
        How it was read.
    table : DataFrame
        The normalised table, sorted by channel and time: `time_utc`, `channel`, `rh_percent` [%RH],
        `temperature_celsius` [°C], `flags`, `line`. Empty while a question is open.
    ledger : RowLedger
        What became of every line.
    channels : tuple of ChannelSummary
        What each channel holds.
    questions : tuple of Question
        What the file leaves open; not empty: it is not settled, and nothing of it is kept.
    notes : tuple of str
        What a person should know about the reading.
    """

    file: str
    sha256: str
    recipe: Recipe
    table: pl.DataFrame
    ledger: RowLedger
    channels: tuple[ChannelSummary, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def is_settled(self) -> bool:
        """Whether the file left nothing open."""
        return not self.questions


def read_source(
    source: Path | bytes,
    *,
    name: str,
    time_zone: str | None,
    recipe: Recipe | None = None,
    answers: Answers = NO_ANSWERS,
    now: datetime | None = None,
) -> tuple[FileReading, ...]:
    """Read one logger file, or the several that a .zip or a workbook holds.

    Parameters
    ----------
    source : Path or bytes
        The file, or what it holds.
    name : str
        What it is called in messages.
    time_zone : str or None
        What the logger's clock showed, where the file does not say: `Europe/Berlin`, `UTC`, `+01:00`.
    recipe : Recipe, optional
        How to read it; found from the file where absent.
    answers : Answers
        Answers to questions, by their ids.
    now : datetime, optional
        The moment of reading, aware: readings dated after it are doubted. Default: the present.

    Raises
    ------
    LoggerFileError
        Nothing of it can be read. Of several members, those that can be are returned, and the others named in notes.
    """
    readings: list[FileReading] = []
    errors: list[LoggerFileError] = []
    for outcome in read_each(source, name=name, time_zone=time_zone, recipe=recipe, answers=answers, now=now):
        if isinstance(outcome, LoggerFileError):
            errors.append(outcome)
        else:
            readings.append(outcome)
    if not readings:
        if errors:
            raise errors[0]
        raise LoggerFileError(
            file=name, found="an archive without files", expected="logger files", remedy="Look what is in it."
        )
    if errors:
        refused = tuple(f"Not read: {error}" for error in errors)
        readings[0] = replace(readings[0], notes=(*readings[0].notes, *refused))
    return tuple(readings)


def read_each(
    source: Path | bytes,
    *,
    name: str,
    time_zone: str | None,
    recipe: Recipe | None = None,
    answers: Answers = NO_ANSWERS,
    now: datetime | None = None,
) -> Iterator[FileReading | LoggerFileError]:
    """Yield the reading of each file that a source holds, or why it cannot be read; see `read_source`."""
    moment = now or datetime.now(UTC)
    for member in open_source(source, name=name):
        if isinstance(member, LoggerFileError):
            yield member
            continue
        digest = member.digest
        try:
            texts = list(_texts_of(member, recipe))
        except LoggerFileError as error:
            yield error
            continue
        finally:
            del member  # the bytes as received are not needed beside their text
        outcomes: list[FileReading | LoggerFileError] = []
        while texts:
            try:
                # Handed over, not kept: while flags are found, a large text need not lie in memory as well.
                outcomes.append(
                    _read_text(
                        texts.pop(0), digest=digest, time_zone=time_zone, recipe=recipe, answers=answers, now=moment
                    )
                )
            except LoggerFileError as error:
                outcomes.append(error)
        # A workbook's cover sheet is no failure where another sheet holds the readings.
        read = [outcome for outcome in outcomes if isinstance(outcome, FileReading)]
        yield from read or outcomes


def _texts_of(member: SourceFile, recipe: Recipe | None) -> Iterator[NamedText]:
    if not member.is_spreadsheet:
        encoding = recipe.encoding if recipe else None
        yield member.name, decode(member.content, file=member.name, encoding=encoding), ""
        return
    sheets = sheets_of(member.content, file=member.name, only=recipe.sheet if recipe else None)
    if not sheets:
        raise LoggerFileError(
            file=member.name, found="a workbook without any cell", expected="readings", remedy="Export them again."
        )
    for sheet in sheets:
        label = f"{member.name} [{sheet.name}]" if len(sheets) > 1 else member.name
        yield label, DecodedText(utf8=sheet.utf8, encoding="utf-8"), sheet.name


def _read_text(
    member: NamedText,
    *,
    digest: Callable[[], str],
    time_zone: str | None,
    recipe: Recipe | None,
    answers: Answers,
    now: datetime,
) -> FileReading:
    file, text, sheet = member
    del member
    lines = TextLines.of(text.utf8)
    _check_answers(file, time_zone, answers)
    if recipe is None:
        found = detect(lines, file=file, encoding=text.encoding, time_zone=time_zone, answers=answers, sheet=sheet)
    else:
        found = _by_recipe(recipe, time_zone, answers)
    notes = list(found.notes)
    if text.n_damaged:
        notes.append(f"{text.n_damaged} characters could not be read as {text.encoding}.")
    region = locate(lines, found.recipe, file=file)
    if found.questions:
        ledger = unsettled_ledger(lines, region, found.questions, file=file)
        return FileReading(
            file=file, sha256=digest(), recipe=found.recipe, table=pl.DataFrame(schema=TABLE_SCHEMA), ledger=ledger,
            questions=found.questions, notes=tuple(filter(None, (*notes, ledger.other_lines_in_words()))),
        )  # fmt: skip
    parsed = parse(lines, found.recipe, region)
    n_lines = lines.n_lines
    del lines, text
    return _reading(
        parsed, found, file=file, n_lines=n_lines, sha256=digest(), notes=notes, now=now,
        told=_told(file, answers, found),
        zone_is_certain=recipe is not None or answers.get("time_zone") is not None,
    )  # fmt: skip


def _reading(
    parsed: ParsedFile,
    found: Detection,
    *,
    file: str,
    n_lines: int,
    sha256: str,
    notes: list[str],
    now: datetime,
    zone_is_certain: bool,
    told: Told,
) -> FileReading:
    if not parsed.rows.height:
        example = parsed.rejected.row(0, named=True) if parsed.rejected.height else None
        raise LoggerFileError(
            file=file,
            line=example["line"] if example else None,
            column=example["column"] if example else None,
            found=f'"{example["found"]}" ({example["reason"]})' if example else "no row",
            expected="at least one row with a time and a value",
            remedy="Check that this is the right file, or correct the recipe.",
        )
    settled = settle_rows(
        parsed,
        found.recipe,
        file=file,
        lines_in_file=n_lines,
        now=now,
        zone_is_certain=zone_is_certain,
        told=told,
    )
    other = settled.ledger.other_lines_in_words()
    return FileReading(
        file=file,
        sha256=sha256,
        recipe=settled.recipe,
        table=settled.table,
        ledger=settled.ledger,
        channels=summaries(settled.table, settled.cells, names=settled.channels),
        questions=(),
        notes=(*notes, *settled.notes, *([other] if other else [])),
    )


def _by_recipe(recipe: Recipe, time_zone: str | None, answers: Answers) -> Detection:
    zone = answers.get("time_zone") or recipe.time.zone or time_zone
    if not zone:
        raise LoggerFileError(
            file="recipe",
            found="no time zone",
            expected="the zone of the logger's clock",
            remedy="Give it with --tz, or write it into the recipe as zone.",
        )
    return Detection(recipe=recipe.in_zone(zone))


def _check_answers(file: str, time_zone: str | None, answers: Answers) -> None:
    try:
        answers.refuse_unknown()
    except ValueError as error:
        raise LoggerFileError(
            file=file, found="an answer to no question", expected="answers to questions of files",
            remedy=f"Correct it: {error}.",
        ) from None  # fmt: skip
    for zone in (time_zone, answers.get("time_zone")):
        if zone:
            try:
                ClockZone.parse(zone)
            except ValueError as error:
                raise LoggerFileError(file=file, found=zone, expected="a time zone", remedy=str(error)) from None


def _told(file: str, answers: Answers, found: Detection) -> Told:
    zone = found.recipe.time.zone
    try:
        return Told.of(answers, ClockZone.parse("UTC" if zone in {"", WRITTEN_ZONE} else zone))
    except ValueError as error:
        raise LoggerFileError(
            file=file,
            found="an answer that is none",
            expected="times with their offset",
            remedy=f"{error}. Give it as in --answer placed_from=2025-09-22T17:00+02:00.",
        ) from None
