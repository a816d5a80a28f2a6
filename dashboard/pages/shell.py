"""What stands around every page: the masthead, the way between pages, the cautions."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html

from isohume.dashboard import ids, theme
from isohume.dashboard.components.blocks import aria
from isohume.dashboard.formats import moment
from isohume.dashboard.views import Site

CAUTION = (
    "isohume supports decisions and gives no order to treat. Opening a frame, flattening a panel, and handling glass, "
    "mould, old pesticide residue or silica gel are for qualified conservators under local rules; "
    "the loan contract prevails."
)
PAGES = (
    ("/frames", "Frames"),
    ("/files", "Files"),
    ("/month", "Month"),
    ("/loans", "Loans"),
    ("/workbench", "Workbench"),
    ("/register", "Register"),
    ("/methods", "Methods"),
)
# The first word of an address below a page, where it is not the page's own.
BELOW = {"frame": "/frames", "loan": "/loans", "verify": "/loans"}


def shell(site: Site) -> Any:
    """Lay out the whole window; the page itself is filled in by its address."""
    return dmc.MantineProvider(
        theme=theme.MANTINE_THEME,
        forceColorScheme="light",
        children=[
            dcc.Location(id=ids.URL, refresh="callback-nav"),
            dcc.Store(id=ids.PAGE_TITLE),
            dcc.Store(id=ids.ARRIVED),
            dcc.Store(id=ids.WORK_ENDED),
            html.A("Skip to the page", href=f"#{ids.CONTENT}", className="skip-link"),
            _masthead(site),
            html.Div(id=ids.NOTICE, role="alert", className="notice"),
            html.Main(id=ids.CONTENT, tabIndex="-1", children=_loading()),
            html.Footer(
                [
                    html.P(CAUTION),
                    html.P(f"Times in {site.time_zone}. Nothing on these pages leaves this machine."),
                ],
                className="footer",
            ),
        ],
    )


def _masthead(site: Site) -> html.Header:
    mark = html.Img(src="/assets/icon.svg", width=30, height=30, alt="")
    invented = [html.Span("invented", className="tag", title="No real painting, place or reading")]
    return html.Header(
        [
            dcc.Link([mark, html.Span("isohume")], href="/frames", className="wordmark"),
            html.Nav(id=ids.NAVIGATION, children=navigation("/frames"), **aria(label="Pages")),
            html.P(
                [
                    html.Span(site.name, className="site-name"),
                    *(invented if site.invented and "invented" not in site.name else []),
                    html.Span(f"as of {moment(site.now, site.time_zone)}", className="as-of"),
                ],
                className="site",
            ),
        ],
        className="masthead",
    )


def navigation(pathname: str) -> list[dcc.Link]:
    """List the pages, and mark the one that is open."""
    first = pathname.strip("/").split("/")[0] or "frames"
    place = BELOW.get(first, f"/{first}")
    return [
        dcc.Link(name, href=href, className="here" if place == href else "")  # the script adds aria-current
        for href, name in PAGES
    ]


def _loading() -> html.Div:
    return html.Div(html.P("Reading the archive …"), className="loading")
