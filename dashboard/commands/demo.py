"""`isohume demo`: an invented collection, imported from its files like any other, and shown."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, refusals, refuse, remark
from isohume.dashboard.commands.open_archive import opened, progress_on_stderr
from isohume.dashboard.commands.serve import DEFAULT_PORT, Port, serve_pages
from isohume.dashboard.commands.standing import say_frames

if TYPE_CHECKING:
    from isohume.ingest.archive.archive import Archive

app = typer.Typer()


@app.command()
def demo(
    archive: Annotated[
        Path | None,
        typer.Option(
            help="Folder for the demonstration's archive, new or of an earlier demonstration; without it a temporary "
            "one that is removed afterwards.",
            metavar="FOLDER",
        ),
    ] = None,
    no_serve: Annotated[bool, typer.Option("--no-serve", help="Stop before serving the pages.")] = False,
    port: Port = DEFAULT_PORT,
) -> None:
    """Build the archive of an invented museum from its logger files, list its frames, and serve the pages.

    The museum, its paintings, people and readings are invented; the files are read and assessed like any others.
    Humidity is in %RH, dates are in the museum's zone.

    Example: isohume demo --no-serve
    """
    import os

    from isohume.dashboard.store import Store

    with demonstration_folder(archive) as folder, opened(folder) as held:
        fill(held)
        store = Store(held, n_processes=os.cpu_count() or 1)
        remark("Assessing every frame; the first time this takes seconds each")
        store.complete(progress=progress_on_stderr("frame"))
        say_frames(store.summaries(), store.site())
        if not no_serve:
            serve_pages(held, port=port, open_browser=False)


@contextmanager
def demonstration_folder(wanted: Path | None) -> Iterator[Path]:
    """Yield the folder of an archive made for the demonstration, or of an earlier one."""
    import tempfile

    from isohume.ingest.archive.archive import Archive
    from isohume.ingest.archive.errors import ArchiveError, ArchiveMissingError

    with tempfile.TemporaryDirectory(prefix="isohume-demo-", ignore_cleanup_errors=True) as temporary:
        folder = wanted or Path(temporary) / "archive"
        with refusals(ArchiveError):
            try:
                with Archive.open(folder) as earlier:
                    refuse_a_real_collection(earlier)
            except ArchiveMissingError:
                Archive.create(folder).close()
        yield folder


def refuse_a_real_collection(held: Archive) -> None:
    """End rather than mix invented frames into somebody's collection."""
    with held.register.reading() as session:
        invented = held.collection(session).invented
    if held.frame_ids() and not invented:
        refuse(
            f"{held.folder} holds a real collection. Name a new folder for the demonstration, or leave --archive out.",
            code=ExitCode.USAGE,
        )


def fill(held: Archive) -> None:
    """Load the sample register and import the sample files, by the same calls as `register load` and `ingest`."""
    from importlib.resources import files

    samples = Path(str(files("isohume.sample_logs")))
    held.load_register(samples / "register.toml")
    logs = sorted((samples / "logs").iterdir())
    tell = progress_on_stderr("file")
    for done, path in enumerate(logs, start=1):
        outcome = held.ingest(path)
        if outcome.status == "asks" or outcome.refused:
            remark(outcome.report())
        tell(done, len(logs))
    remark(f"{len(logs)} logger files imported into {held.folder}")
