"""`isohume serve`: the pages in the browser, for this machine or, with users who sign in, for others."""

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
LOCAL_HOST = "127.0.0.1"
BROWSER_AFTER_SECONDS = 1.0
Port = Annotated[int, typer.Option(help="Port on this machine.", min=1, max=65535, metavar="NUMBER")]


@app.command()
def serve(
    port: Port = DEFAULT_PORT,
    host: Annotated[
        str,
        typer.Option(help="Address to serve on; any other than this machine's own needs users.", metavar="ADDRESS"),
    ] = LOCAL_HOST,
    https: Annotated[
        bool, typer.Option("--https", help="A proxy with TLS stands in front: cookies travel by it only.")
    ] = False,
    plain_http: Annotated[
        bool, typer.Option("--plain-http", help="Serve to others without TLS, on a network you trust.")
    ] = False,
    open_verify: Annotated[
        bool, typer.Option("--open-verify", help="Let anybody check an evidence pack, without signing in.")
    ] = False,
    open_browser: Annotated[bool, typer.Option("--open", help="Open the browser, too.")] = False,
    archive: ArchiveOption = None,
) -> None:
    """Serve the pages of the archive, until stopped with Ctrl+C.

    Makes an empty archive where there is none yet. By default nobody else on the network can reach the pages; on
    another address everybody signs in (`isohume users add`).

    Example: isohume serve --port 8060
    """
    from isohume.dashboard.access.people import has_people
    from isohume.dashboard.server import OpenAddressError, is_this_machine_only, refuse_open_address

    make_if_missing(archive)
    with opened(archive) as held:
        with refusals(OpenAddressError, code=ExitCode.USAGE):
            refuse_open_address(host, has_people=has_people(held), https=https, plain_http=plain_http)
        local = is_this_machine_only(host) and not https
        serve_pages(
            held, host=host, port=port, people=None if local else held, https=https, open_verify=open_verify,
            open_browser=open_browser,
        )  # fmt: skip


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


def serve_pages(
    held: Archive,
    *,
    port: int,
    open_browser: bool,
    host: str = LOCAL_HOST,
    people: Archive | None = None,
    https: bool = False,
    open_verify: bool = False,
) -> None:
    """Serve the pages over an open archive until stopped."""
    import os

    from isohume.dashboard.app import create_app
    from isohume.dashboard.server import serve as serve_app
    from isohume.dashboard.store import Store

    address = f"http://{host}:{port}/"
    if somebody_answers(host, port):
        refuse_port(port, "another program serves there")
    result(f"The pages are at {address} (stop with Ctrl+C)")
    try:
        store = Store(held, n_processes=os.cpu_count() or 1)
        pages = create_app(store, people=people, https=https, open_verify=open_verify)
        if open_browser:
            show_soon(address if held.frame_ids() else f"{address}files")
        serve_app(pages, host=host, port=port)
    except OSError as error:
        refuse_port(port, str(error.strerror))


def show_soon(address: str) -> None:
    """Open the browser once the server has had time to listen; an empty archive begins on the Files page."""
    import threading
    import webbrowser

    opening = threading.Timer(BROWSER_AFTER_SECONDS, webbrowser.open, (address,))
    opening.daemon = True
    opening.start()


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
