"""The pages' routes and callbacks as strangers, viewers and contributors meet them."""

from __future__ import annotations

import io
import json
from typing import Any

import openpyxl
import pandas as pd
import pytest
from flask import g

from isohume.dashboard import loan_routes
from isohume.dashboard.access.people import Person, add_person
from isohume.dashboard.app import create_app
from isohume.dashboard.loan_venues import VenueRecords
from isohume.dashboard.pages import loan as loan_page
from isohume.dashboard.papers.issue import issue_evidence
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

START = pd.Timestamp("2026-01-02T00:00Z")
PASSWORD = "a long walk along the weir"  # noqa: S105 - of an invented person in a temporary archive


def sign_in(client: Any, name: str) -> dict[str, str]:
    """Sign somebody in; returns the header that our pages send with what they post."""
    client.get("/login")
    token = client.get_cookie("_csrf_token").value
    client.post("/login", data={"name": name, "password": PASSWORD, "csrf_token": token, "next": "/"})
    return {"X-CSRFToken": client.get_cookie("_csrf_token").value}


@pytest.fixture
def served(archive: Archive) -> Any:
    for name, role in (("vera", "viewer"), ("carl", "contributor")):
        add_person(archive, name, PASSWORD, role=role)  # type: ignore[arg-type]
    return create_app(Store(archive), people=archive)


def test_every_table_goes_out_and_no_cell_is_a_formula(archive: Archive) -> None:
    client = create_app(Store(archive)).server.test_client()
    assert b"'=Winter Light" in client.get("/loans/table.csv").data
    for what in ("legs", "terms", "results", "packs", "history"):
        answer = client.get(f"/loans/tables/{what}.xlsx?loan=7/a")
        book = openpyxl.load_workbook(io.BytesIO(answer.data))
        assert all(cell.data_type != "f" for sheet in book for row in sheet.iter_rows() for cell in row)
        assert client.get(f"/loans/tables/{what}.csv?loan=7/a").status_code == 200
    for path in (
        "/loans/table.exe", "/loans/tables/legs.csv?loan=8", "/loans/tables/legs.csv",
        "/loans/tables/none.csv?loan=7/a",
        "/loans/tables/results.csv?loan=7/a&from=soon",
        "/loans/tables/trial.csv?loan=7/a",
    ):  # fmt: skip
        answer = client.get(path)
        assert answer.status_code == 404
        assert answer.mimetype == "text/plain"
        assert answer.text.endswith(".")


def test_packs_are_had_by_their_hash_and_by_nothing_else(archive: Archive) -> None:
    made = issue_evidence(archive, "F01", start=START, end=START + pd.Timedelta(days=20), loan="7/a")
    client = create_app(Store(archive)).server.test_client()
    answer = client.get(f"/loans/pack/{made.sha256}.zip")
    assert answer.data == made.data
    assert answer.headers["Content-Disposition"] == 'attachment; filename="evidence_F01_2026-01-02.zip"'
    for wrong in (
        "../evidence_key.pem",
        "..%2fevidence_key.pem",
        "%2e%2e/%2e%2e/register.sqlite3",
        "0" * 64,
        "x",
        ".",
    ):
        refused = client.get(f"/loans/pack/{wrong}")
        assert b"PRIVATE KEY" not in refused.data
        assert refused.mimetype != "application/zip"
    assert client.get("/loans/pack/" + "0" * 64).status_code == 404


def test_a_handover_sheet_is_one_leg_s(archive: Archive) -> None:
    client = create_app(Store(archive)).server.test_client()
    leg = archive.records("legs")[0]["from"]
    answer = client.get("/loans/handover", query_string={"loan": "7/a", "leg": leg, "paper": "us-letter"})
    assert answer.data.startswith(b"%PDF")
    assert "handover_7_a_2025-12-31.pdf" in answer.headers["Content-Disposition"]
    for wrong in ({"loan": "8"}, {"loan": "7/a", "leg": "soon"}, {"loan": "7/a", "leg": leg, "paper": "a3"}):
        assert client.get("/loans/handover", query_string=wrong).status_code == 404


def test_a_code_leads_to_the_server_only_where_it_has_an_address(archive: Archive) -> None:
    server = create_app(Store(archive)).server
    for base, address in (("http://127.0.0.1:8050", ""), ("http://[::1]:8050", ""),
                          ("https://frames.example", "https://frames.example")):  # fmt: skip
        with server.test_request_context("/loans/handover", base_url=base):
            assert loan_routes.server_address() == address


def test_strangers_get_nothing_and_viewers_upload_nothing(served: Any, archive: Archive) -> None:
    client = served.server.test_client()
    for path in ("/loans/table.csv", "/loans/pack/" + "0" * 64, "/loans/handover?loan=7/a"):
        assert client.get(path).status_code == 401
    headers = {"X-File-Name": "venue.csv", "X-Loan": "7%2Fa"}
    statuses = {}
    for name in ("vera", "carl"):
        token = sign_in(client, name)
        statuses[name] = client.post(loan_routes.RECEIVE, data=b"x", headers={**headers, **token}).status_code
    assert statuses == {"vera": 403, "carl": 200}
    assert client.post(loan_routes.RECEIVE, data=b"x", headers=headers).status_code == 403  # no token
    assert client.post(loan_routes.RECEIVE, data=b"x", headers={**token, "X-Loan": "8"}).status_code == 404
    large = {"CONTENT_LENGTH": str(loan_routes.MOST_BYTES + 1)}
    refused = client.post(loan_routes.RECEIVE, data=b"x", headers={**headers, **token}, environ_overrides=large)
    assert refused.status_code == 413
    assert "50 MB" in refused.text
    assert len(VenueRecords(archive).of_loan("7/a")) == 1


def sent(one: dict[str, str]) -> Any:
    """Return one input or state of a callback as the browser posts it: nothing where many could stand."""
    named = json.loads(one["id"]) if one["id"].startswith("{") else one["id"]
    if isinstance(named, dict) and any(isinstance(value, list) for value in named.values()):
        return []
    return {"id": named, "property": one["property"], "value": 1}


@pytest.mark.parametrize("part", ["", "terms", "results", "trial", "papers"])
def test_a_viewer_sees_no_control_that_would_be_refused(served: Any, part: str) -> None:
    with served.server.test_request_context("/loan/7%2Fa"):
        g.person = Person(name="vera", full_name="", role="viewer")
        shown = str(loan_page.layout("7/a", {"frame": "F01"}, part))
        assert "form-keep" not in shown
        assert "loan-act'" not in shown
        assert "loan-venue-choose" not in shown
        g.person = Person(name="carl", full_name="", role="contributor")
        if part in {"", "terms"}:
            assert "form-keep" in str(loan_page.layout("7/a", {}, part))


def test_a_viewer_s_press_of_a_button_is_refused(served: Any, archive: Archive) -> None:
    before = archive.history()
    client = served.server.test_client()
    token = sign_in(client, "vera")
    refused = []
    for output, about in served.callback_map.items():
        if "loan-acted" not in output and "loans-kept" not in output:
            continue
        names = [one.rpartition(".") for one in output.strip(".").split("...")]
        outputs = [{"id": name, "property": what} for name, _, what in names]
        body = {
            "output": output, "outputs": outputs if output.startswith("..") else outputs[0],
            "inputs": [sent(one) for one in about["inputs"]], "state": [sent(one) for one in about["state"]],
            "changedPropIds": [],
        }  # fmt: skip
        answer = client.post("/_dash-update-component", json=body, headers=token)
        assert answer.status_code == 403, output
        refused.append(output)
    assert len(refused) == 8  # six forms of a loan, its buttons, and a new loan
    assert archive.history() == before
