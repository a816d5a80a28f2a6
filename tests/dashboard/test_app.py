"""The application as a browser meets it: addresses, headers, text that stays text, lists that stay light."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pandas as pd
import plotly
import pytest
from dash import Dash, dcc
from dash.development.base_component import Component

from isohume.analysis.results import Reason, Standing
from isohume.analysis.standing import STEADY
from isohume.dashboard import ids, server
from isohume.dashboard.app import create_app, page_at
from isohume.dashboard.components.blocks import GRAPH_CONFIG
from isohume.dashboard.components.frame_row import row_document
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


def listed(root: Component) -> dict[str, Any]:
    stores = [found for found in components(root) if isinstance(found, dcc.Store)]
    return next(found.data for found in stores if found.id == ids.FRAMES_DATA)


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
    client = app.server.test_client()
    client.set_cookie("_csrf_token", "token-of-our-page")
    filling = {"filling": "x" * 2_000_000}
    answer = client.post("/_dash-update-component", json=filling, headers={"X-CSRFToken": "token-of-our-page"})
    assert answer.status_code == 413
    assert client.post("/_dash-update-component", json={}).status_code == 403  # not from our pages


def test_strangers_are_served_only_where_they_sign_in() -> None:
    with pytest.raises(server.OpenAddressError, match="sign in"):
        server.refuse_open_address("0.0.0.0", has_people=False, https=True, plain_http=False)  # noqa: S104
    with pytest.raises(server.OpenAddressError, match="in the clear"):
        server.refuse_open_address("192.0.2.7", has_people=True, https=False, plain_http=False)
    server.refuse_open_address("192.0.2.7", has_people=True, https=True, plain_http=False)
    server.refuse_open_address("127.0.0.1", has_people=False, https=False, plain_http=False)


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
    found = listed(page("/frames")[0])
    assert [frame["id"] for frame in found["frames"]] == [
        "F04",
        "F02",
        "F07",
        "F03",
        "F05",
        "F09",
        "F01",
        "F06",
        "F08",
    ]
    assert [group["title"] for group in found["groups"]] == ["Needs a decision", "Nothing to decide"]
    assert [frame["group"] for frame in found["frames"]] == ["decision"] * 6 + ["calm"] * 3


def test_after_a_review_what_changed_has_a_group_of_its_own(store: FrameStore) -> None:
    rows = [replace(row, changed=row.frame_id == "F01") for row in store.summaries()]
    found = frames.list_document(rows, store.site())
    assert [group["title"] for group in found["groups"]][1:] == ["Changed since the last review", "Unchanged"]
    assert {frame["id"]: frame["group"] for frame in found["frames"]}["F01"] == "changed"


def test_an_address_holds_search_filter_and_order(page: Any) -> None:
    root = page("/frames", "?q=gallery+oak&show=steady,nonsense&room=Store&sort=nonsense&stray=1")[0]
    asked = {found.id: found.value for found in components(root) if hasattr(found, "value") and hasattr(found, "id")}
    assert asked[ids.FRAMES_SEARCH] == "gallery oak"
    assert asked[ids.FRAMES_STANDINGS] == ["steady"]
    assert asked[ids.FRAMES_ROOM] == "Store"
    assert asked[ids.FRAMES_SORT] == "urgency"


def test_an_estimated_frame_is_told_apart(page: Any) -> None:
    rows = listed(page("/frames")[0])["frames"]
    estimated = [row for row in rows if row["estimated"]]
    assert [row["id"] for row in estimated] == ["F08"]
    assert "estimated from strip and room" in estimated[0]["notes"]
    assert "stroke-dasharray" in estimated[0]["picture"]


def test_where_only_the_record_asks_the_record_gives_the_reason(store: FrameStore) -> None:
    stale = next(row for row in store.summaries() if row.data.name == "stale")
    calm = replace(stale, standing=Standing(name="steady", reasons=(Reason(rule=STEADY.name, text="All is well."),)))
    assert row_document(calm, store.site(), place=0)["reason"] == stale.data.reasons[0].text
    assert row_document(calm, store.site(), place=0)["doubts"] == "All is well."


def test_a_panel_without_a_result_says_why(page: Any) -> None:
    told = text_of(page("/frame/F06")[0])
    assert "18 days of record; 30 are needed" in told
    assert "It is at least 9.0 days." in told
    assert "no usable inside record to hold against the band" in told


def test_many_frames_make_a_light_page(store: FrameStore) -> None:
    many = [store.summaries()[place % 9] for place in range(500)]
    sent = json.dumps(frames.list_document(many, store.site()), ensure_ascii=False)
    assert len(sent) < 2_500_000
    assert len(zlib.compress(sent.encode())) < 400_000


def test_dates_and_numbers_read_as_people_write_them() -> None:
    now = pd.Timestamp("2026-11-20T07:00Z")
    assert days_ago(now - pd.Timedelta(hours=30), now) == "yesterday"
    assert days_ago(None, now) == "never"
    assert due(now - pd.Timedelta(days=1), now, "UTC") == "due now"
    assert due(pd.Timestamp("2026-12-31T23:30Z"), now, "Europe/Berlin") == "by 1 Jan 2027"
    assert number(-0.04) == "0.0"
    assert number(-1.25, 1, "%RH") == "−1.2 %RH"
    assert number(None) == "–"
