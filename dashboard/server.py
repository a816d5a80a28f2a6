"""Serving the pages with a production server that runs on every system."""

from __future__ import annotations

from dash import Dash

LOCAL_HOST = "127.0.0.1"
DEFAULT_PORT = 8050
# Figures are computed while others read pages: a few threads more than one person's browser asks for at once.
N_THREADS = 8


def serve(app: Dash, *, host: str = LOCAL_HOST, port: int = DEFAULT_PORT) -> None:
    """Serve `app` until stopped.

    Raises
    ------
    OSError
        The port is taken, or the address is not one of this machine.
    """
    import waitress

    waitress.serve(app.server, host=host, port=port, threads=N_THREADS, ident="isohume")
