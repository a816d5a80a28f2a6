"""`isohume watch`: files of a folder are imported once they are complete."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refuse, remark, result
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened

if TYPE_CHECKING:
    from isohume.ingest.archive.watch import Taken

app = typer.Typer()


@app.command()
def watch(
    folder: Annotated[Path, typer.Argument(help="Folder in which logger files appear.", metavar="FOLDER")],
    settle: Annotated[float, typer.Option(help="A file is complete when it did not change for this long [s].")] = 10.0,
    every: Annotated[float, typer.Option(help="Look this often [s].")] = 5.0,
    once: Annotated[
        bool, typer.Option("--once", help="Look twice, as far apart as --settle, and end: for a scheduled task.")
    ] = False,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Import the files of a folder once they are complete; nothing in it is moved or changed.

    What was taken is remembered; a file that changes is taken again. Ends with Ctrl+C.

    Example: isohume watch /srv/loggers
    """
    import time

    from isohume.ingest.archive import watch as watching

    if not folder.is_dir():
        refuse(f"{folder}: expected a folder, found none. Check its name.", code=ExitCode.USAGE)
    taken: list[Taken] = []

    def tell(one: Taken) -> None:
        taken.append(one)
        if not json:
            result(one.result.report() if one.result else one.reason)

    with opened(archive) as held:
        looking = watching.Watch(held, folder, settle_seconds=settle)
        if not once:
            remark(f"Watching {folder}; Ctrl+C ends.")
            try:
                watching.watch(looking, tell, every_seconds=every, tell_trouble=remark)
            except KeyboardInterrupt:
                return
        for wait in (settle, 0.0):
            for one in looking.look():
                tell(one)
            time.sleep(wait)
    if json:
        json_result([one.result.document() if one.result else {"file": str(one.path), "status": one.outcome,
                     "reason": one.reason} for one in taken])  # fmt: skip
    refused = any(one.outcome in {"refused", "asks"} for one in taken)
    raise typer.Exit(ExitCode.SOME_REFUSED if refused else ExitCode.DONE)
