"""`isohume read`: how logger files are understood, without keeping them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refuse, remark, result

if TYPE_CHECKING:
    from isohume.ingest.errors import LoggerFileError
    from isohume.ingest.many import Outcome, ReadingOptions
    from isohume.ingest.reading import FileReading

app = typer.Typer()
STDIN = Path("-")
# With more files than this a line of progress is worth its place.
QUIET_FILES = 3
MOST_SHOWN = 5


@app.command()
def read(
    files: Annotated[
        list[Path],
        typer.Argument(help="Logger files: text, CSV, .xlsx, .gz or .zip; - for standard input.", metavar="FILE..."),
    ],
    tz: Annotated[
        str | None,
        typer.Option(
            help="What the logger's clock showed: Europe/Berlin, UTC, or +01:00 (never summer time).", metavar="ZONE"
        ),
    ] = None,
    recipe: Annotated[
        Path | None, typer.Option(help="Read by this recipe (.toml) instead of finding one.", metavar="FILE")
    ] = None,
    save_recipe: Annotated[
        Path | None, typer.Option(help="Save how the first file was read (.toml).", metavar="FILE")
    ] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(help="Answer a question the file leaves open, as in date_order=day-first.", metavar="KEY=VALUE"),
    ] = None,
    date_order: Annotated[
        str | None,
        typer.Option(help="day-first, month-first or year-first, for dates that fit several.", metavar="ORDER"),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document and nothing else on stdout.")] = False,
    out: Annotated[
        Path | None,
        typer.Option(
            help="Write the readings as .csv or .parquet: time (UTC), channel, RH (%), temperature (°C), flags.",
            metavar="FILE",
        ),
    ] = None,
) -> None:
    """Read logger files and say how each was understood, row by row, without keeping anything.

    Example: isohume read north_gallery.csv --tz Europe/Berlin --out readings.csv
    """
    if out is not None and out.suffix.lower() not in (".csv", ".parquet"):
        refuse(f'--out: expected a name that ends in .csv or .parquet, found "{out.name}".', code=ExitCode.USAGE)
    options = _options(tz, recipe, answer or [], date_order)
    readings, refused = _read_all(files, options)
    settled = [reading for reading in readings if reading.is_settled]
    _report(readings, refused, as_document=json)
    if settled:
        _save(settled, save_recipe, out)
    if len(settled) < len(readings) or not settled:
        raise typer.Exit(ExitCode.NOTHING)
    if refused:
        raise typer.Exit(ExitCode.SOME_REFUSED)


def _report(readings: list[FileReading], refused: list[LoggerFileError], *, as_document: bool) -> None:
    """Print what came of the files: readings on stdout, refusals and open questions on stderr."""
    from isohume.ingest.output import as_json

    if as_document:
        errors = [{"file": error.file, "error": str(error)} for error in refused]
        json_result({"files": [as_json(reading) for reading in readings], "refused": errors})
    else:
        for reading in readings:
            result(_in_words(reading))
    for error in refused:
        remark(f"Not read: {error}")
    for reading in readings:
        for question in reading.questions:
            remark(f"{reading.file}: {question.sentence()}")


def _save(settled: list[FileReading], save_recipe: Path | None, out: Path | None) -> None:
    from isohume.ingest.output import out_table, write_table

    try:
        if save_recipe is not None:
            save_recipe.write_text(settled[0].recipe.to_toml(), encoding="utf-8")
        if out is not None:
            write_table(out_table(settled), out)
    except OSError as error:
        refuse(f"Cannot write {error.filename}: {error.strerror}.", code=ExitCode.USAGE)


def _options(tz: str | None, recipe: Path | None, answer: list[str], date_order: str | None) -> ReadingOptions:
    from isohume.ingest.clock_zone import ClockZone
    from isohume.ingest.errors import LoggerFileError
    from isohume.ingest.many import ReadingOptions
    from isohume.ingest.questions import Answers
    from isohume.ingest.recipe import Recipe

    def wrong(option: str, error: Exception) -> NoReturn:
        refuse(f"{option}: {error}", code=ExitCode.USAGE)

    try:
        answers = Answers.parse([*answer, *([f"date_order={date_order}"] if date_order else [])])
        answers.refuse_unknown()
        for zone in (tz, answers.get("time_zone")):
            if zone is not None:
                ClockZone.parse(zone)
    except ValueError as error:
        wrong("--answer" if "answer" in str(error) else "--tz", error)
    try:
        read_by = Recipe.load(recipe) if recipe is not None else None
    except LoggerFileError as error:
        wrong("--recipe", error)
    return ReadingOptions(time_zone=tz, recipe=read_by, answers=answers)


def _read_all(files: list[Path], options: ReadingOptions) -> tuple[list[FileReading], list[LoggerFileError]]:
    from isohume.ingest.errors import LoggerFileError
    from isohume.ingest.many import read_many

    outcomes: list[Outcome] = []
    if STDIN in files:
        outcomes += _from_stdin(options)
    paths = [path for path in files if path != STDIN]

    def progress(done: int, total: int) -> None:
        if total > QUIET_FILES and (done == total or done % max(1, total // 20) == 0):
            remark(f"{done} of {total} files read")

    for _, outcome in read_many(paths, options, progress=progress):
        outcomes += outcome
    readings = [outcome for outcome in outcomes if not isinstance(outcome, LoggerFileError)]
    return readings, [outcome for outcome in outcomes if isinstance(outcome, LoggerFileError)]


def _from_stdin(options: ReadingOptions) -> list[Outcome]:
    import sys

    from isohume.ingest.errors import LoggerFileError
    from isohume.ingest.reading import read_each
    from isohume.ingest.source import MOST_BYTES

    content = sys.stdin.buffer.read(MOST_BYTES + 1)
    try:
        return list(
            read_each(
                content,
                name="standard input",
                time_zone=options.time_zone,
                recipe=options.recipe,
                answers=options.answers,
            )
        )
    except LoggerFileError as error:
        return [error]


def _in_words(reading: FileReading) -> str:
    """Return what a person reads about one file."""
    from isohume.ingest.output import iso_utc

    lines = [reading.file, f"  {reading.recipe.in_words()}", f"  {reading.ledger.summary()}."]
    for channel in reading.channels:
        name = f'channel "{channel.name}": ' if channel.name else ""
        step = f", every {channel.step_s:g} s" if channel.step_s else ""
        period = f"from {iso_utc(channel.first_utc)} to {iso_utc(channel.last_utc)}"
        lines.append(f"  {name}{channel.rows_kept} readings {period}{step}")
        for label, extent, unit in (
            ("RH", channel.rh_percent, "%"),
            ("temperature", channel.temperature_celsius, "°C"),
        ):
            if extent.mean is not None:
                lines.append(f"    {label} {extent.min:.1f} to {extent.max:.1f} {unit}, mean {extent.mean:.1f} {unit}")
    if reading.is_settled:
        for reason, number in list(reading.ledger.reasons().items())[:MOST_SHOWN]:
            first = next(row for row in reading.ledger.rejected_rows() if row.reason == reason)
            where = f'first in line {first.line}, {first.column}: "{first.found}"'
            lines.append(f"  rejected, {number} ×: {reason} ({where})")
    lines += [f"  {note}" for note in reading.notes if note]
    return "\n".join(lines)
