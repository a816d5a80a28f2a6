"""Serving the pages with a production server that runs on every system."""

from __future__ import annotations

import ipaddress

from dash import Dash

LOCAL_HOST = "127.0.0.1"
DEFAULT_PORT = 8050
# Figures are computed while others read pages: a few threads more than one person's browser asks for at once.
N_THREADS = 8
# The largest file of a logger or evidence pack, and a little more; what is longer is turned away unread.
MOST_BYTES_IN_A_REQUEST = 210_000_000


class OpenAddressError(ValueError):
    """Others could reach the pages, and nothing would keep strangers out."""


def refuse_open_address(host: str, *, has_people: bool, https: bool, plain_http: bool) -> None:
    """Refuse to serve to other machines without users, or over a connection that others can read.

    Raises
    ------
    OpenAddressError
        The message says what is missing.
    """
    if is_this_machine_only(host):
        return
    if not has_people:
        raise OpenAddressError(
            f"Address {host}: other machines could open the pages there, and no user is registered who would have to "
            "sign in. Register one first: isohume users add NAME --role administrator."
        )
    if not (https or plain_http):
        raise OpenAddressError(
            f"Address {host}: passwords and pages would cross the network in the clear. Put a proxy with TLS in front "
            "and add --https, or accept it on a network you trust with --plain-http."
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
    """Serve `app` until stopped; see `refuse_open_address` before.

    Raises
    ------
    OSError
        The port is taken, or the address is not one of this machine.
    """
    import waitress

    waitress.serve(
        app.server, host=host, port=port, threads=N_THREADS, ident="isohume",
        max_request_body_size=MOST_BYTES_IN_A_REQUEST,
    )  # fmt: skip
