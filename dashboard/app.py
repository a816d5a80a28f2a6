"""The pages as one application: addresses, security headers, and what happens when something fails."""

from __future__ import annotations

import logging
import tempfile
from http import HTTPStatus
from pathlib import Path
from typing import Any

from dash import Dash, Input, Output, State, set_props
from flask import Response, request
from werkzeug.exceptions import HTTPException

from isohume.dashboard import headers, ids
from isohume.dashboard.access.gate import close_gate
from isohume.dashboard.addresses import PAGES, is_known, page_at
from isohume.dashboard.background import Background
from isohume.dashboard.components import long_work, verify_open
from isohume.dashboard.current import BACKGROUND_KEY, STORE_KEY, background
from isohume.dashboard.in_browser import answer_in_browser
from isohume.dashboard.pages.shell import navigation, shell
from isohume.dashboard.views import FrameStore
from isohume.ingest.archive.archive import Archive

NAME = "isohume"
ASSETS = Path(__file__).parent / "assets"
# One update posts a few controls; anything larger is not ours.
MAX_REQUEST_BYTES = 1_000_000

INDEX = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<link rel="icon" type="image/svg+xml" href="/assets/icon.svg">
{%css%}
</head>
<body>
{%app_entry%}
<noscript>These pages are drawn in the browser: allow its scripts for this address.</noscript>
<footer>
{%config%}
{%scripts%}
{%renderer%}
</footer>
</body>
</html>
"""

# The endpoints under which Dash answers any address with its window.
DASH_WINDOWS = frozenset({"/", "/<path:path>"})

log = logging.getLogger(__name__)


def create_app(
    store: FrameStore, *, people: Archive | None = None, https: bool = False, open_verify: bool = False
) -> Dash:
    """Build the application over one door to data.

    Parameters
    ----------
    store : FrameStore
    people : Archive, optional
        Whose users have to sign in; left out, the pages answer this machine only, and nobody signs in.
    https : bool
        A proxy with TLS stands in front.
    open_verify : bool
        Anybody may check an evidence pack, without signing in, on a plain page that reaches nothing else.

    Returns
    -------
    Dash
        `app.server` is the WSGI application to serve.
    """
    app = Dash(
        __name__,
        assets_folder=str(ASSETS),
        use_pages=False,
        pages_folder="",
        title=NAME,
        update_title="",
        index_string=INDEX,
        serve_locally=True,
        compress=True,
        suppress_callback_exceptions=True,  # a page's components exist only while it is open
        on_error=tell,
        enable_mcp=False,
        add_log_handler=False,
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )
    app.server.config[STORE_KEY] = store
    app.server.config[BACKGROUND_KEY] = Background(_folders(store))
    app.server.config["MAX_CONTENT_LENGTH"] = MAX_REQUEST_BYTES
    # Assets are streamed from disk, are small, and would be left open by the compressing stream.
    app.server.config["COMPRESS_STREAMS"] = False
    app.layout = lambda: shell(store.site())

    @app.callback(
        Output(ids.CONTENT, "children"),
        Output(ids.NAVIGATION, "children"),
        Output(ids.PAGE_TITLE, "data"),
        Output(ids.NOTICE, "children"),
        Input(ids.URL, "pathname"),
        Input(ids.WORK_ENDED, "data"),
        State(ids.URL, "search"),
    )
    def open_page(pathname: str | None, _ended: str | None, search: str | None) -> tuple[Any, Any, str, str]:
        content, title = page_at(pathname or "/", search or "")
        return content, navigation(pathname or "/"), f"{title} · {NAME}", ""

    answer_in_browser(
        app, "arrive", Output(ids.ARRIVED, "data"), Input(ids.PAGE_TITLE, "data"), prevent_initial_call=False
    )
    for part in (*PAGES, long_work):
        part.register(app)

    if open_verify:
        verify_open.open_to_strangers(app.server)
    close_gate(
        app.server,
        people,
        https=https,
        open_endpoints=verify_open.ENDPOINTS if open_verify else frozenset(),
        led_elsewhere={"/verify": verify_open.PATH} if open_verify else None,
    )
    headers.guard(app.server, app.csp_hashes())
    app.server.after_request(tell_unknown)
    return app


def _folders(store: FrameStore) -> dict[str, str]:
    """Name the folders that messages may speak of; the archive's first, since it may lie in another of them."""
    archive = getattr(store, "archive", None)
    own = {str(archive.folder): "the archive"} if isinstance(archive, Archive) else {}
    return {**own, tempfile.gettempdir(): "a temporary folder"}


def tell_unknown(response: Response) -> Response:
    """Say in the status what Dash does not: it answers every address with the empty window."""
    if response.status_code == HTTPStatus.OK and request.endpoint in DASH_WINDOWS and not is_known(_path_as_sent()):
        response.status_code = HTTPStatus.NOT_FOUND
    return response


def _path_as_sent() -> str:
    """Return the path with its escapes: in a decoded one a slash within an id looks like one between two parts."""
    return str(request.environ.get("REQUEST_URI") or request.environ.get("RAW_URI") or request.path).partition("?")[0]


def tell(error: Exception) -> None:
    """Show that something failed, and keep the particulars in the log of the server; a refusal keeps its status."""
    if isinstance(error, HTTPException):
        raise error
    log.error("a page could not be built", exc_info=error)
    set_props(
        ids.NOTICE,
        {
            "children": f"This could not be computed: {background().told(error)} Nothing stored has changed. "
            "Reload the page; if it fails again, the server’s log says where."
        },
    )
