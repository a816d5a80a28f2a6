"""A place where a file is dropped or chosen, and sent as the body of its own request (assets/register.js)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from dash import html


def drop(
    text: str,
    address: str,
    *,
    largest: int,
    told: str = "",
    button: str = "Choose a file",
    about: Mapping[str, str] | None = None,
    beside: str = "",
) -> html.Div:
    """Draw the place.

    Parameters
    ----------
    text : str
        What belongs here.
    address : str
        A POST route of ours; it answers JSON: `go`, an address to open, or nothing, and the page is built again.
    largest : int [bytes]
        Larger files are not sent.
    told : str
        A remark, in whose place the progress is told.
    about : mapping, optional
        Sent along as the header X-About.
    beside : str
        Id of a text control whose content is sent along as the header X-Beside.
    """
    data: Any = {"data-address": address, "data-largest": str(largest)}
    if about is not None:
        data["data-about"] = json.dumps(dict(about))
    if beside:
        data["data-beside"] = beside
    return html.Div(
        [
            html.P(text),
            html.Button(button, className="choose", type="button"),
            html.P(told, className="row-note drop-told", role="status"),
        ],
        className="drop",
        **data,
    )


def download(text: str, href: str) -> html.A:
    """Link to a file that is saved, not shown."""
    return html.A(text, href=href, download="")
