"""Commands for what is kept: ingest, undo, audit, rebuild, backup, restore, and making or looking at an archive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refuse, remark, result, table
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened, progress_on_stderr

if TYPE_CHECKING:
    from isohume.ingest.archive.archive import Archive
    from isohume.ingest.archive.import_results import ImportResult
    from isohume.ingest.questions import Answers
    from isohume.ingest.recipe import Recipe

app = typer.Typer()
archive_app = typer.Typer(help="Make an archive, list its imports, see where they contradict each other.")
app.add_typer(archive_app, name="archive")


@app.command()
def ingest(
    files: Annotated[
        list[Path], typer.Argument(help="Logger files: text, .csv, .xlsx, .gz or .zip.", metavar="FILE...")
    ],
    logger: Annotated[str, typer.Option(help="Id of the logger that wrote them, where they do not tell.")] = "",
    tz: Annotated[
        str, typer.Option(help="Time zone of the logger's clock, such as Europe/Berlin or +01:00.", metavar="ZONE")
    ] = "",
    recipe: Annotated[Path | None, typer.Option(help="Recipe (.toml) that says how the files are read.")] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(help="Answer to a question, such as date_order=day-first.", metavar="KEY=VALUE"),
    ] = None,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Import logger files into the archive: each is kept whole, or not at all.

    The logger is told from the file's name or first lines, the place from the register's placements.
    The same file again changes nothing.

    Example: isohume ingest north_gallery_2026-03.csv frame07_2026-03.csv
    """
    from isohume.ingest.errors import LoggerFileError
    from isohume.ingest.questions import Answers
    from isohume.ingest.recipe import Recipe

    try:
        answers = Answers.parse(answer or [])
        answers.refuse_unknown(also=("logger",))
        read_by = Recipe.load(recipe) if recipe else None
    except (ValueError, LoggerFileError) as error:
        refuse(str(error), code=ExitCode.USAGE)
    with opened(archive) as held:
        results, refused = _ingest_all(held, files, logger=logger, tz=tz, recipe=read_by, answers=answers)
    if json:
        json_result({"files": [one.document() for one in results], "refused": refused})
    else:
        for one in results:
            result(one.report())
    for text in refused:
        remark(text)
    n_bad = len(refused) + sum(one.status == "asks" or bool(one.refused) for one in results)
    if n_bad == len(files) and not any(one.import_id for one in results):
        raise typer.Exit(ExitCode.NOTHING)
    raise typer.Exit(ExitCode.SOME_REFUSED if n_bad else ExitCode.DONE)


def _ingest_all(
    held: Archive, files: list[Path], *, logger: str, tz: str, recipe: Recipe | None, answers: Answers
) -> tuple[list[ImportResult], list[str]]:
    from isohume.ingest.errors import LoggerFileError

    results: list[ImportResult] = []
    refused: list[str] = []
    tell = progress_on_stderr("file")
    for done, file in enumerate(files):
        tell(done, len(files))
        try:
            results.append(held.ingest(file, logger=logger, time_zone=tz, recipe=recipe, answers=answers))
        except LoggerFileError as error:
            refused.append(str(error))
    return results, refused


@app.command()
def undo(
    import_id: Annotated[int, typer.Argument(help="Number of the import, as `isohume archive imports` lists it.")],
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Take an import out again: the readings are as if it had never come; the file stays kept.

    Example: isohume undo 12
    """
    with opened(archive) as held:
        done = held.undo(import_id)
    if json:
        json_result({"import_id": done.import_id, "file": done.name, "loggers": list(done.loggers),
                     "readings_before": done.n_readings_before, "readings_after": done.n_readings_after})  # fmt: skip
    else:
        result(done.report())


@app.command()
def audit(
    quick: Annotated[
        bool, typer.Option("--quick", help="Check hashes and accounts, without reading originals again.")
    ] = False,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Check the archive's integrity: every hash, every account, the audit trail, and readings against originals.

    Exit code 1 if anything is wrong.

    Example: isohume audit
    """
    with opened(archive) as held:
        found = held.audit(deep=not quick, progress=progress_on_stderr("logger"))
    if json:
        json_result({"clean": found.is_clean, "originals": found.n_originals, "documents": found.n_documents,
                     "logger_years": found.n_parts, "trail_lines": found.n_trail_lines, "problems": found.problems,
                     "remarks": found.remarks})  # fmt: skip
    else:
        result(found.report())
    raise typer.Exit(ExitCode.DONE if found.is_clean else ExitCode.SOME_REFUSED)


@app.command()
def rebuild(archive: ArchiveOption = None, json: Json = False) -> None:
    """Make the readings anew from the originals; mends what `isohume audit` found damaged.

    Example: isohume rebuild
    """
    with opened(archive) as held:
        done = held.rebuild(progress=progress_on_stderr("logger"))
    if json:
        json_result({"sound": done.n_sound, "mended": done.mended, "changed": done.changed, "refused": done.refused})
    else:
        result(done.report())
    raise typer.Exit(ExitCode.SOME_REFUSED if done.refused else ExitCode.DONE)


@app.command()
def backup(
    target: Annotated[Path, typer.Argument(help="New file to write, such as isohume-2026-11.zip.", metavar="FILE")],
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Write the whole archive into one file.

    Example: isohume backup isohume-2026-11.zip
    """
    from isohume.ingest.archive.register_work import note_backup

    with opened(archive) as held:
        done = held.back_up(target, progress=progress_on_stderr("file"))
        note_backup(held, done.file.name, done.n_bytes)
    if json:
        json_result({"file": str(done.file), "files": done.n_files, "bytes": done.n_bytes})
    else:
        result(done.report())


@app.command()
def restore(
    source: Annotated[Path, typer.Argument(help="File that `isohume backup` wrote.", metavar="FILE")],
    archive: Annotated[Path, typer.Option(help="New or empty folder for the archive.", metavar="FOLDER")],
    register: Annotated[str, typer.Option(help="Address of an empty PostgreSQL database for the register.")] = "",
    register_only: Annotated[
        bool, typer.Option("--register-only", help="Put only the register back, into the archive it belongs to.")
    ] = False,
) -> None:
    """Make an archive again from a backup; done whole, or not at all.

    Example: isohume restore isohume-2026-11.zip --archive restored
    """
    from isohume.ingest.archive import restoring
    from isohume.ingest.archive.errors import ArchiveError

    try:
        if register_only:
            restoring.restore_register(source, archive, register_url=register)
        else:
            restoring.restore(source, archive, register_url=register, progress=progress_on_stderr("file"))
    except ArchiveError as error:
        refuse(str(error))
    with opened(archive) as held:
        found = held.audit(deep=False)
    result(f"{archive} restored. {found.report()}")


@archive_app.command()
def create(
    archive: ArchiveOption = None,
    register: Annotated[
        str, typer.Option(help="Address of an empty PostgreSQL database, to share the register in a team.")
    ] = "",
) -> None:
    """Make a new archive.

    Example: isohume archive create --archive collection
    """
    from isohume.ingest.archive.archive import Archive
    from isohume.ingest.archive.errors import ArchiveError

    try:
        with Archive.create(archive, register_url=register) as made:
            result(f"Archive made in {made.folder}.")
            for text in made.remarks:
                remark(text)
    except ArchiveError as error:
        refuse(str(error))


@archive_app.command()
def imports(archive: ArchiveOption = None, json: Json = False) -> None:
    """List what was imported, the newest first.

    Example: isohume archive imports
    """
    with opened(archive) as held:
        listed = held.imports()
    if json:
        json_result(listed)
        return
    rows = [
        [
            str(one["id"]), one["received_utc"][:16].replace("T", " "), "undone" if one["undone_utc"] else "kept",
            ", ".join(sorted({file["logger"] for file in one["files"]})),
            str(sum(file["new"] for file in one["files"])), one["file"],
        ]
        for one in listed
    ]  # fmt: skip
    result(table(["import", "received (UTC)", "state", "logger", "new readings", "file"], rows))


@archive_app.command()
def conflicts(
    logger: Annotated[str, typer.Option(help="Only of this logger.")] = "",
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """List readings that contradict one of an earlier import, which stays in force.

    Example: isohume archive conflicts --logger L01
    """
    with opened(archive) as held:
        found = held.conflicts(logger or None)
    rows = [{name: str(value) if name == "time_utc" else value for name, value in row.items()}
            for row in found.iter_rows(named=True)]  # fmt: skip
    if json:
        json_result(rows)
    else:
        result(table(found.columns, [["" if cell is None else str(cell) for cell in row.values()] for row in rows]))
