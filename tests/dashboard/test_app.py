"""The application as a browser meets it: addresses, headers, text that stays text, lists that stay light."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pandas as pd
import plotly
import pytest
from dash import Dash, dcc
from dash.development.base_component import Component

from isohume.dashboard import server
from isohume.dashboard.app import create_app, page_at
from isohume.dashboard.components.blocks import GRAPH_CONFIG
from isohume.dashboard.formats import days_ago, due, number
from isohume.dashboard.pages import frames
from isohume.dashboard.views import FrameStore


@pytest.fixture(scope="module")
def app(store: FrameStore) -> Dash:
    return create_app(store)


@pytest.fixture
def page(app: Dash) -> Iterator[Any]:
    with app.server.app_context():
        yield lambda pathname, search="": page_at(pathname, search)


def components(root: Component) -> list[Component]:
    return [root, *(found for found in root._traverse() if isinstance(found, Component))]


def text_of(root: Component) -> str:
    return json.dumps(root, cls=plotly.utils.PlotlyJSONEncoder, ensure_ascii=False)


def frames_listed(root: Component) -> list[str]:
    links = [found for found in components(root) if isinstance(found, dcc.Link)]
    return [link.href.removeprefix("/frame/") for link in links if link.href.startswith("/frame/")]


@pytest.mark.parametrize("address", ["/", "/frames", "/frame/F02", "/assets/isohume.js", "/_dash-layout", "/nowhere"])
def test_every_answer_carries_the_security_headers(app: Dash, address: str) -> None:
    with app.server.test_client().get(address) as answer:
        headers = answer.headers
    policy = headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert "frame-ancestors 'none'" in policy
    assert "default-src 'none'" in policy
    assert "unsafe-eval" not in policy
    assert "http" not in policy, "no outside host"
    scripts = next(part for part in policy.split("; ") if part.startswith("script-src"))
    assert "unsafe-inline" not in scripts


def test_the_index_loads_nothing_from_elsewhere(app: Dash) -> None:
    html = app.server.test_client().get("/").get_data(as_text=True)
    assert "https://" not in html.replace('"https://dash-version.plotly.com:8080/current_version"', "")
    assert 'src="//' not in html


def test_a_request_too_large_is_refused(app: Dash) -> None:
    answer = app.server.test_client().post("/_dash-update-component", json={"filling": "x" * 2_000_000})
    assert answer.status_code == 413


def test_only_this_machine_is_served(app: Dash) -> None:
    with pytest.raises(server.OpenAddressError, match="sign in"):
        server.serve(app, host="0.0.0.0")  # noqa: S104 - refused


def test_pages_have_their_addresses(page: Any) -> None:
    assert page("/")[1] == page("/frames")[1] == "Frames"
    assert page("/frame/F02", "?from=nonsense&to=&stray=1")[1] == "Frame F02"
    assert page("/methods")[1] == "Methods"
    assert "No such frame" in text_of(page("/frame/F99")[0])
    assert "No such page" in page("/elsewhere/1")[1]


@pytest.mark.parametrize("frame_id", ["F02", "F06", "F08"])
def test_no_graph_offers_the_cloud(page: Any, frame_id: str) -> None:
    graphs = [found for found in components(page(f"/frame/{frame_id}")[0]) if isinstance(found, dcc.Graph)]
    assert graphs
    for graph in graphs:
        assert graph.config == GRAPH_CONFIG
        assert graph.config["showSendToCloud"] is False


def test_frames_come_most_urgent_first_and_in_their_groups(page: Any) -> None:
    root = page("/frames")[0]
    assert frames_listed(root) == ["F04", "F02", "F07", "F03", "F05", "F09", "F01", "F06", "F08"]
    told = text_of(root)
    assert "Needs a decision" in told
    assert "Nothing to decide" in told, "nothing has been reviewed yet"


def test_an_address_holds_search_filter_and_order(page: Any) -> None:
    assert frames_listed(page("/frames", "?q=gallery+oak")[0]) == ["F02", "F05"]
    assert frames_listed(page("/frames", "?show=steady,check+seal")[0]) == ["F03", "F09", "F01"]
    assert frames_listed(page("/frames", "?room=South+cabinet&sort=name")[0]) == ["F04", "F07"]
    assert "No frame fits" in text_of(page("/frames", "?q=zzz")[0])
    assert len(frames_listed(page("/frames", "?sort=nonsense&show=<script>")[0])) == 9


def test_an_estimated_frame_is_told_apart(page: Any) -> None:
    rows = [found for found in components(page("/frames")[0]) if "frame-row" in str(getattr(found, "className", ""))]
    assert [("estimated" in row.className) for row in rows].count(True) == 1
    assert "estimated from strip and room" in text_of(page("/frames")[0])


def test_a_panel_without_a_result_says_why(page: Any) -> None:
    told = text_of(page("/frame/F06")[0])
    assert "18 days of record; 30 are needed" in told
    assert "It is at least 9.0 days." in told
    assert "no usable inside record to hold against the band" in told


def test_many_frames_make_a_light_page(store: FrameStore) -> None:
    site = store.site()
    many = [store.summaries()[place % 9] for place in range(500)]
    listed = frames.groups(many, site=site, q="", standings=[], room="", sort="urgency")
    shown = sum(len(frames_listed(group)) for group in listed)
    assert shown == 2 * frames.ROWS_AT_ONCE
    assert len(text_of(listed[0])) < 400_000
    everything = frames.groups(many, site=site, q="", standings=[], room="", sort="urgency", everything=True)
    assert sum(len(frames_listed(group)) for group in everything) == 500


def test_dates_and_numbers_read_as_people_write_them() -> None:
    now = pd.Timestamp("2026-11-20T07:00Z")
    assert days_ago(now - pd.Timedelta(hours=30), now) == "yesterday"
    assert days_ago(None, now) == "never"
    assert due(now - pd.Timedelta(days=1), now, "UTC") == "due now"
    assert due(pd.Timestamp("2026-12-31T23:30Z"), now, "Europe/Berlin") == "by 1 Jan 2027"
    assert number(-0.04) == "0.0"
    assert number(-1.25, 1, "%RH") == "−1.2 %RH"
    assert number(None) == "–"
