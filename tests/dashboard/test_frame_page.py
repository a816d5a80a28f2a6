"""A frame's page on the server: what is added in place, by whom, what is refused, and the tables it gives out."""

from __future__ import annotations

import csv
import io
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest
from flask import g
from PIL import Image

from isohume.analysis.readings import AirRecord
from isohume.dashboard import assessing, photographs
from isohume.dashboard.access.people import AT_THIS_MACHINE, add_person
from isohume.dashboard.app import create_app, page_at
from isohume.dashboard.components import frame_acclimatised, frame_events, frame_terms, frame_waiting
from isohume.dashboard.current import background
from isohume.dashboard.frame_routes import keep_event
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive

PASSWORD = "a long walk along the weir"  # noqa: S105 - of an invented person in a temporary archive
REGISTER = """
[collection]
name = "Weir House (invented)"
time_zone = "Europe/Berlin"
invented = true
as_of = 2026-02-20T12:00:00+01:00
[[rooms]]
id = "R1"
name = "Hall"
[[loggers]]
id = "L1"
files = ["hall*.csv"]
time_zone = "UTC"
[[loggers.calibrations]]
date = 2025-06-01
offset_percent = 0.5
uncertainty_percent = 1.5
certificate = "K-1"
[[loggers]]
id = "L2"
files = ["inside*.csv"]
time_zone = "UTC"
[[placements]]
logger = "L1"
room = "R1"
from = 2026-01-01
[[placements]]
logger = "L2"
frame = "A/1"
from = 2026-01-01
[[frames]]
id = "A/1"
painting = "=Weir in Fog, oil on oak (invented)"
band = [45, 55]
[[frames.locations]]
room = "R1"
from = 2026-01-01
[[frames.events]]
time = 2026-01-03T10:00:00+01:00
kind = "sealed"
note = "=2+5"
"""


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as made:
        made.load_register(tmp_path / "register.toml")
        times = pd.date_range("2026-01-02", periods=24 * 10, freq="h", tz="UTC")
        for name, level in (("hall.csv", 47.0), ("inside.csv", 50.0)):
            rows = [f"{t:%Y-%m-%dT%H:%M:%SZ},{level + t.hour / 10:.1f},20.0" for t in times]
            made.ingest("\n".join(["time,relative humidity [%],temperature [°C]", *rows, ""]).encode(), name=name)
        yield made


def picture(kind: str = "PNG") -> bytes:
    held = io.BytesIO()
    Image.new("RGB", (8, 6), "#0072B2").save(held, kind)
    return held.getvalue()


def sign_in(client: Any, name: str) -> dict[str, str]:
    client.get("/login")
    token = client.get_cookie("_csrf_token").value
    client.post("/login", data={"name": name, "password": PASSWORD, "csrf_token": token, "next": "/"})
    return {"X-CSRFToken": client.get_cookie("_csrf_token").value}


def send(
    client: Any, headers: dict[str, str], data: bytes, *, frame: str = "A/1", note: str = "", time: str = ""
) -> Any:
    asked = {"frame": frame, "note": note, "time": time or "2026-02-01T10:00"}
    return client.post(
        "/frame-photographs", data=data, headers={**headers, "X-File-Name": "a%2Fb.png"}, query_string=asked
    )


def test_a_photograph_is_kept_as_received_and_given_back_as_what_it_is(archive: Archive) -> None:
    add_person(archive, "carl", PASSWORD, role="contributor")
    client = create_app(Store(archive), people=archive).server.test_client()
    headers = sign_in(client, "carl")
    data = picture("JPEG")
    assert send(client, headers, data, note="<b>recto</b>").status_code == 200
    event = archive.records("events")[-1]
    assert (event["kind"], event["time"], event["note"], event["by"]) == (
        "photograph", "2026-02-01T09:00:00.000000Z", "<b>recto</b>", "carl",
    )  # fmt: skip
    answer = client.get(f"/frame-photographs/{event['document']}")
    assert answer.data == data
    assert answer.mimetype == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert archive.history("events")[-1]["by"] == "carl"
    assert send(client, headers, data, frame="none").status_code == 400
    assert send(client, headers, data, time="soon").status_code == 400
    assert len(archive.records("documents")) == 1
    assert create_app(Store(archive), people=archive).server.test_client().get(
        f"/frame-photographs/{event['document']}"
    ).status_code in {303, 401}  # fmt: skip


@pytest.mark.parametrize(
    "data",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<!DOCTYPE html><script>alert(1)</script>",
        b"\x89PNG\r\n\x1a\n<script>alert(1)</script>",
        b"\xff\xd8\xff<html>",
        b"RIFF\x00\x00\x00\x00WAVE",
        picture("GIF"),
        picture()[:40],
    ],
)
def test_what_is_no_photograph_is_refused_whatever_its_name(archive: Archive, data: bytes) -> None:
    client = create_app(Store(archive)).server.test_client()
    client.get("/frames", headers={"Accept": "text/html"})
    headers = {"X-CSRFToken": client.get_cookie("_csrf_token").value}
    answer = send(client, headers, data)
    assert answer.status_code == 415
    assert answer.mimetype == "text/plain"
    assert archive.records("documents") == []
    assert len(archive.records("events")) == 1


def test_a_picture_that_would_fill_the_memory_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photographs, "MOST_PIXELS", 40)
    with pytest.raises(photographs.NotAPhotographError, match="million pixels"):
        photographs.image_type(picture())
    monkeypatch.setattr("PIL.Image.MAX_IMAGE_PIXELS", 10)
    with pytest.raises(photographs.NotAPhotographError):
        photographs.image_type(picture())


def test_a_body_that_is_too_large_is_refused(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(photographs, "MOST_BYTES", 50)
    client = create_app(Store(archive)).server.test_client()
    client.get("/frames", headers={"Accept": "text/html"})
    headers = {"X-CSRFToken": client.get_cookie("_csrf_token").value}
    assert send(client, headers, picture()).status_code == 413
    assert archive.records("documents") == []


def test_viewers_strangers_and_other_pages_add_nothing(archive: Archive) -> None:
    add_person(archive, "vera", PASSWORD, role="viewer")
    app = create_app(Store(archive), people=archive)
    client = app.server.test_client()
    headers = sign_in(client, "vera")
    assert send(client, headers, picture()).status_code == 403
    output = next(key for key in app.callback_map if frame_events.FORM in key and "form-told" in key)
    named = {"form": frame_events.FORM, "type": "form-keep"}
    body = {
        "output": output, "outputs": {"id": {**named, "type": "form-told"}, "property": "children"},
        "inputs": [{"id": named, "property": "n_clicks", "value": 1}],
        "state": [[], [], {"id": "frame-event-kind", "property": "value", "value": "note"},
                  {"id": "frame-id", "property": "data", "value": "A/1"}],
        "changedPropIds": [f'{{"form":"{frame_events.FORM}","type":"form-keep"}}.n_clicks'],
    }  # fmt: skip
    answer = client.post("/_dash-update-component", json=body, headers=headers)
    assert answer.status_code == 403 or "needs the role contributor" in answer.get_data(as_text=True)
    assert client.post("/frame-photographs", data=picture()).status_code == 403  # without the token of our pages
    stranger = app.server.test_client()
    assert stranger.post("/frame-photographs", data=picture()).status_code == 401
    assert len(archive.records("events")) == 1
    assert archive.records("documents") == []


def test_only_kept_pictures_are_given_out(archive: Archive) -> None:
    paper = archive.keep_document(b"%PDF-1.7 no picture", name="condition.pdf", kind="condition report", frame="A/1")
    client = create_app(Store(archive)).server.test_client()
    for wrong in (paper, "0" * 64, "..%2f..%2fregister.sqlite3", paper.upper(), "a"):
        assert client.get(f"/frame-photographs/{wrong}").status_code == 404


def test_an_event_is_kept_as_typed_or_refused_with_words(archive: Archive) -> None:
    with create_app(Store(archive)).server.app_context():

        def add(kind: str, **typed: str) -> None:
            given = {"time": "2026-02-02 09:30", **typed}
            keep_event(archive.acting_as("carl"), "A/1", kind, [*given.values()], [{"name": name} for name in given])

        add("strip read", rh_percent="47,5", note="<i>by eye</i>")
        add("warp measured", warp_mm="2.5", warp_where="middle", warp_how="straight edge")
        add("reconditioned", rh_percent="50", water_g="12", board_kg="0.4")
        kept = {row["kind"]: row for row in archive.records("events") if row["kind"] != "sealed"}
        assert kept["strip read"]["rh_percent"] == 47.5
        assert kept["strip read"]["time"] == "2026-02-02T08:30:00.000000Z", "typed in the site's zone"
        assert (kept["warp measured"]["warp_mm"], kept["warp measured"]["warp_how"]) == (2.5, "straight edge")
        assert (kept["reconditioned"]["water_g"], kept["reconditioned"]["board_kg"]) == (12, 0.4)
        with pytest.raises(ValueError, match="registered for this very moment already"):
            add("strip read", rh_percent="48")
        with pytest.raises(ValueError, match="Write the humidity that was read"):
            add("strip read", time="2026-02-03")
        with pytest.raises(ValueError, match="Write the warp"):
            add("warp measured", time="2026-02-03", rh_percent="50")  # not a field of this kind
        for kind, typed in (("strip read", {"rh_percent": "147"}), ("note", {"time": "soon"}), ("photograph", {})):
            with pytest.raises(ValueError, match=r"\."):
                add(kind, **typed)
    assert len(archive.records("events")) == 4


def test_rooms_in_events_are_called_by_their_names(archive: Archive) -> None:
    archive.put("events", {"frame": "A/1", "time": "2026-02-03T10:00:00Z", "kind": "moved", "room": "R1"})
    assert archive.frame_facts("A/1").events[-1].room == "R1"
    assert Store(archive).known_frame("A/1").facts.events[-1].room == "Hall"


def test_every_table_of_the_page_goes_out_and_no_cell_is_a_formula(archive: Archive) -> None:
    store = Store(archive)
    store.complete()
    client = create_app(store).server.test_client()
    for name in ("events", "excursions", "files", "forecast", "estimate", "step", "gains", "seal", "panel", "helped",
                 "readings"):  # fmt: skip
        asked = {"frame": "A/1"}
        assert client.get(f"/frame-tables/{name}.csv", query_string=asked).status_code == 200
        answer = client.get(f"/frame-tables/{name}.xlsx", query_string=asked)
        book = openpyxl.load_workbook(io.BytesIO(answer.data))
        assert all(cell.data_type != "f" for sheet in book for row in sheet.iter_rows() for cell in row)
        assert answer.headers["Content-Disposition"] == f'attachment; filename="A_1_{name}.xlsx"'
    assert b"'=2+5" in client.get("/frame-tables/events.csv", query_string=asked).data
    assert b"'=Weir in Fog" in client.get("/frames-table.csv").data
    hourly = client.get("/frame-tables/readings.csv", query_string=asked).data.decode("utf-8-sig").splitlines()
    assert len(hourly) == 1 + 24 * 10
    for path in ("/frame-tables/none.csv", "/frame-tables/events.exe", "/frames-table.exe"):
        assert client.get(path, query_string=asked).status_code == 404
    assert client.get("/frame-tables/events.csv", query_string={"frame": "../A"}).status_code == 404


def test_a_process_of_its_own_finds_the_same(archive: Archive) -> None:
    here = Store(archive).found("A/1")
    (there,) = assessing.in_processes(archive.folder, ["A/1"], n_processes=1)
    assert (there.key, there.moment) == (here.key, here.moment)
    assert there.assessment.standing == here.assessment.standing
    assert there.assessment.band == here.assessment.band


def test_terms_of_a_loan_are_judged_over_its_time_and_lead_to_it(archive: Archive) -> None:
    clause = {"air": "inside", "quantity": "rh_percent", "kind": "range", "low": 45.0, "high": 51.0,
              "notice": "Tell the lender."}  # fmt: skip
    archive.put("terms", {"id": "T/1", "name": "Of <b>the loan</b>", "clauses": [clause]})
    archive.put("loans", {"id": "7/a", "title": "Winter Light", "frames": ["A/1"], "terms": "T/1"})
    archive.put("legs", {"loan": "7/a", "from": "2026-01-04T00:00:00Z", "to": "2026-01-08T00:00:00Z"})
    store = Store(archive)
    app = create_app(store)
    client = app.server.test_client()
    asked = {"frame": "A/1", "terms": "loan:7/a", "air": "room", "period": "loan:7/a"}
    (row,) = csv.DictReader(
        io.StringIO(client.get("/frame-tables/terms.csv", query_string=asked).data.decode("utf-8-sig"))
    )
    # By hand: every day the inside rises from 50.0 to 52.3 in steps of 0.1 an hour, and falls back within an hour: it
    # lies above 51 from 10:00 to 23:00 and for 1.3/2.3 of the hour after, on four days.
    assert float(row["breached [h]"]) == pytest.approx(4 * (13 + 1.3 / 2.3), abs=0.05)
    assert float(row["worst case"]) == pytest.approx(52.3)
    assert row["worst at (UTC)"].endswith("T23:00:00Z")
    with app.server.test_request_context():
        labels = {one.key: one.label for one in frame_terms.offered_terms("A/1")}
        assert labels["loan:7/a"] == "Loan Winter Light: Of <b>the loan</b>"
        assert next(iter(labels)) == "loan:7/a", "what concerns the frame comes first"
        chosen = frame_terms.chosen_terms("loan:7/a", "A/1", air="room")
        assert chosen is not None
        shown = str(frame_terms.judged(*chosen, None, span=None, site=store.site()))
        assert "/loan/7%2Fa" in shown
        assert "no record in this period" in shown
        assert frame_terms.chosen_terms("loan:8", "A/1", air="room") is None
        assert frame_terms.chosen_terms("kept:none", "A/1", air="room") is None
    for wrong in ({"terms": "kept:../x"}, {"air": "both"}, {"period": "9999"}, {"period": "loan:8"}):
        assert client.get("/frame-tables/terms.csv", query_string={**asked, **wrong}).status_code == 404


def test_work_that_crashed_is_shown_with_a_way_to_try_again(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store(archive)

    def crash(*_given: object, **_more: object) -> None:
        raise RuntimeError("a process ended by itself")

    app = create_app(store)
    monkeypatch.setattr(store, "complete", crash)
    with app.server.test_request_context():
        g.person = AT_THIS_MACHINE
        frame_waiting.being_computed(["A/1"], of="A/1")
        while not (task := background().task("findings A/1")) or not task.ended:
            threading.Event().wait(0.01)
        shown = str(frame_waiting.being_computed(["A/1"], of="A/1"))
        assert "a process ended by itself" in shown
        assert "display='inline-block'" in shown, "the button to try again"
        assert background().task("findings A/1") is task, "it is not tried again by looking"
        page, _ = page_at("/frame/A%2F1", "")
        assert "Being assessed" in str(page)
        assert "Calibration" in str(page), "what is known stands there meanwhile"


def test_the_climate_it_has_grown_used_to_is_that_before_the_period(archive: Archive) -> None:
    site = Store(archive).site()
    hours = pd.date_range("2025-01-01", periods=24 * 440, freq="h", tz="UTC")
    steady = pd.Series(50.0, index=hours)
    steady.iloc[-24 * 5 :] = 62.0  # the last five days lie 12 %RH above, and the limits 10 %RH around the cycle
    air = AirRecord(readings=pd.DataFrame({"rh_percent": steady, "temperature_celsius": 20.0}), n_readings=len(hours))
    start, end = hours[-24 * 30], hours[-1]
    shown = str(frame_acclimatised.acclimatised(air, "the room", (start, end), site))
    assert "−10.0 to +10.0 %RH" in shown
    assert f"children='{(24 * 5 - 1 + 1 / 6):.0f} h'" in shown, "from the crossing at ten twelfths of the rise"
    early = str(frame_acclimatised.acclimatised(air, "the room", (hours[24 * 90], end), site))
    assert "at least 13 months" in early
    assert "no record" in str(frame_acclimatised.acclimatised(None, "the room", (start, end), site))
