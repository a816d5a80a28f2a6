"""`isohume serve`: the pages in the browser, for this machine only."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from isohume.dashboard.commands.console import ExitCode, refusals, refuse, remark, result
from isohume.dashboard.commands.open_archive import ArchiveOption, opened

if TYPE_CHECKING:
    from isohume.ingest.archive.archive import Archive

app = typer.Typer()

# As in `isohume.dashboard.server`, whose import would load the pages; a test keeps the two equal.
DEFAULT_PORT = 8050
Port = Annotated[int, typer.Option(help="Port on this machine.", min=1, max=65535, metavar="NUMBER")]


@app.command()
def serve(
    port: Port = DEFAULT_PORT,
    open_browser: Annotated[bool, typer.Option("--open", help="Open the browser, too.")] = False,
    archive: ArchiveOption = None,
) -> None:
    """Serve the pages of the archive on this machine, until stopped with Ctrl+C.

    Makes an empty archive where there is none yet. Nobody else on the network can reach the pages.

    Example: isohume serve --port 8060
    """
    make_if_missing(archive)
    with opened(archive) as held:
        serve_pages(held, port=port, open_browser=open_browser)


def make_if_missing(folder: Path | None) -> None:
    """Make an empty archive where there is none."""
    from isohume.ingest.archive.archive import Archive
    from isohume.ingest.archive.errors import ArchiveError, ArchiveMissingError

    with refusals(ArchiveError):
        try:
            Archive.open(folder).close()
        except ArchiveMissingError:
            with Archive.create(folder) as made:
                remark(f"A new, empty archive was made in {made.folder}")


def serve_pages(held: Archive, *, port: int, open_browser: bool) -> None:
    """Serve the pages over an open archive until stopped."""
    from isohume.dashboard.app import create_app
    from isohume.dashboard.server import LOCAL_HOST
    from isohume.dashboard.server import serve as serve_app
    from isohume.dashboard.store import Store

    address = f"http://{LOCAL_HOST}:{port}/"
    if somebody_answers(LOCAL_HOST, port):
        refuse_port(port, "another program serves there")
    result(f"The pages are at {address} (stop with Ctrl+C)")
    if open_browser:
        import webbrowser

        webbrowser.open(address)
    try:
        serve_app(create_app(Store(held)), port=port)
    except OSError as error:
        refuse_port(port, str(error.strerror))


def somebody_answers(host: str, port: int) -> bool:
    """Tell whether a program listens on a port."""
    import socket

    try:
        with socket.create_connection((host, port), timeout=1):
            return True
    except OSError:
        return False


def refuse_port(port: int, why: str) -> NoReturn:
    """End with another port to try."""
    refuse(f"Port {port} cannot be used: {why}. Choose another, for example --port {port + 1}.", code=ExitCode.USAGE)
