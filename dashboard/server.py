"""Serving the pages with a production server that runs on every system."""

from __future__ import annotations

import ipaddress

from dash import Dash

LOCAL_HOST = "127.0.0.1"
DEFAULT_PORT = 8050
# Figures are computed while others read pages: a few threads more than one person's browser asks for at once.
N_THREADS = 8


class OpenAddressError(ValueError):
    """Others could reach the pages, and nobody would have to say who they are."""

    def __init__(self, host: str) -> None:
        super().__init__(
            f"Address {host}: other machines could open the pages there, and no user is registered who would have to "
            f"sign in. Serve on {LOCAL_HOST}."
        )


def is_this_machine_only(host: str) -> bool:
    """Tell whether an address can be reached from this machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def serve(app: Dash, *, host: str = LOCAL_HOST, port: int = DEFAULT_PORT) -> None:
    """Serve `app` until stopped.

    Raises
    ------
    OpenAddressError
        The address can be reached from other machines.
    OSError
        The port is taken, or the address is not one of this machine.
    """
    if not is_this_machine_only(host):
        raise OpenAddressError(host)
    import waitress

    waitress.serve(app.server, host=host, port=port, threads=N_THREADS, ident="isohume")
