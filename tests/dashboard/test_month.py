"""The review of a month behind its page: kept when signed, compared later, amended, and refused where it must be."""

from __future__ import annotations

import importlib.util
import io
import json
import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import polars as pl
import pytest
from flask import g

from isohume.dashboard.access.people import AT_THIS_MACHINE, Person, add_person
from isohume.dashboard.app import create_app
from isohume.dashboard.background import Background
from isohume.dashboard.components.month_data import month_document
from isohume.dashboard.month_desk import open_month, sign_seen
from isohume.dashboard.pages import month as page
from isohume.dashboard.papers.review import Review, ReviewError, month_review, ready_review, signed_review
from isohume.dashboard.papers.review_differences import amendments, differences
from isohume.dashboard.papers.review_frame import Decision, Stood
from isohume.dashboard.papers.review_month import month_in_words, month_span, months_before
from isohume.dashboard.papers.review_months import months_listed, newest_to_review
from isohume.dashboard.papers.review_paper import review_data, review_pdf
from isohume.dashboard.papers.review_rows import note_decision, sign_second, written
from isohume.dashboard.signed_standings import changed
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError

PASSWORD = "a long walk along the weir"  # noqa: S105 - of an invented person in a temporary archive
HOURS_OF_THE_GAP = np.arange(500, 548)  # 21 to 23 January: no reading in the first file
MARKUP = "<img src=x onerror=alert(1)>"


def told() -> Any:
    """Load the invented archive of the papers; conftest files cannot import each other."""
    path = Path(__file__).parent / "papers" / "conftest.py"
    spec = importlib.util.spec_from_file_location("papers_conftest_for_month", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def late_file(level: float, hours: np.ndarray = HOURS_OF_THE_GAP) -> bytes:
    """Readings inside F01, of the two days that were missing unless told otherwise."""
    module = told()
    time = module.START_US + module.HOUR_US * hours
    table = pl.DataFrame(
        {
            "time_utc": pl.Series(time).cast(pl.Datetime("us", "UTC")),
            "rh_percent": level + 0.1 * np.sin(hours),
            "temperature_celsius": 20.0 + 0.01 * (hours % 24),
        }
    )
    return bytes(module.file_of(table))


@pytest.fixture(scope="module")
def reviewed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of two frames whose January was computed: every test gets a copy."""
    module, folder = told(), tmp_path_factory.mktemp("month")
    (folder / "register.toml").write_text(module.REGISTER, encoding="utf-8")
    with Archive.create(folder / "archive") as held:
        held.load_register(folder / "register.toml")
        for name, level, swing in (("inside_1.csv", 52, 0.3), ("room_1.csv", 46, 5), ("other_1.csv", 50, 1)):
            held.ingest(module.file_of(module.logged(level, swing, len(name))), name=name)
        month_review(held, "2026-01")
    return folder / "archive"


@pytest.fixture
def archive(reviewed: Path, tmp_path: Path) -> Iterator[Archive]:
    shutil.copytree(reviewed, tmp_path / "archive")
    with Archive.open(tmp_path / "archive") as held:
        yield held


def present(archive: Archive) -> Review:
    found = ready_review(archive, "2026-01")
    assert found is not None
    return found


def signed(archive: Archive, name: str = "A. Sommer", number: int = 1) -> None:
    sign_seen(archive, "2026-01", number, mark=present(archive).mark(), text="", name=name)


def shown(archive: Archive, path: str, who: Person = AT_THIS_MACHINE) -> str:
    """Return the text of a page as the server lays it out."""
    app = create_app(Store(archive))
    app.server.config["ISOHUME_BACKGROUND"] = Background()
    with app.server.test_request_context("/"):
        g.person = who
        return json.dumps(page.layout(path, {}).to_plotly_json(), default=lambda part: part.to_plotly_json())


def test_months_are_counted_in_the_sites_zone() -> None:
    assert month_span("2026-10", "Europe/Berlin") == (
        pd.Timestamp("2026-09-30T22:00Z"), pd.Timestamp("2026-10-31T23:00Z"),
    )  # fmt: skip
    assert (months_before("2026-01", 1), months_before("2026-12", -1)) == ("2025-12", "2027-01")
    assert month_in_words("2026-10") == "October 2026"


def test_the_months_of_a_collection_are_listed_with_what_is_written(archive: Archive) -> None:
    now = pd.Timestamp("2026-02-16T07:00Z")
    first = months_listed(archive, now)
    assert [(one.month, one.is_running, one.state) for one in first] == [
        ("2026-01", False, "open"), ("2026-02", True, "open"),
    ]  # fmt: skip
    assert newest_to_review(first) == "2026-01"
    note_decision(archive, "2026-01", 1, "F01", Decision(text="Look at the seal"))
    assert months_listed(archive, now)[0].state == "begun"
    archive.put("collection", {"second_signature": True})
    signed(archive)
    assert months_listed(archive, now)[0].state == "half signed"
    sign_second(archive, "2026-01", 1, name="B. Winter")
    assert months_listed(archive, now)[0].state == "signed"
    assert newest_to_review(()) is None


def test_every_frame_stands_beside_the_month_before_and_last_year(archive: Archive) -> None:
    one = next(one for one in present(archive).frames if one.summary.frame_id == "F01")
    assert [month.month for month in one.earlier] == ["2025-12", "2025-01"]
    assert one.earlier[0].air.inside is None  # the first reading is of one o'clock on New Year's Day, in Berlin
    document = month_document(present(archive), writes=True)
    rows = next(frame for frame in document["frames"] if frame["id"] == "F01")["rows"]
    assert [row[0] for row in rows] == ["Jan 2026", "Dec 2025", "Jan 2025"]
    assert rows[2][1:6] == ["–"] * 5


def test_what_is_signed_stays_and_a_late_file_becomes_an_addendum(archive: Archive) -> None:
    note_decision(archive, "2026-01", 1, "F01", Decision(text="Recondition", who="A. Sommer", by_date="2026-02-20"))
    signed(archive)
    first = signed_review(archive, "2026-01")
    assert first is not None
    kept = first.figures()
    assert kept == present(archive).figures()
    assert review_data(first)["blocks"] != []
    decision = next(one.decision for one in first.frames if one.summary.frame_id == "F01")
    assert decision is not None
    assert (decision.text, decision.who) == ("Recondition", "A. Sommer")

    late = archive.ingest(late_file(70), name="inside_2.csv")
    assert ready_review(archive, "2026-01") is None
    month_review(archive, "2026-01")
    found = differences(first, present(archive))
    assert {one.frame_id for one in found} == {"F01"}
    mean = next(one for one in found if one.what == "inside, mean")
    assert float(mean.now.split()[0]) > float(mean.then.split()[0])  # two days at 70 %RH came in
    highest = next(one for one in found if one.what == "inside, highest")
    assert highest.now == "70.5 %RH"  # 70.1 as logged, corrected by the calibration's +0.4

    signed(archive, "B. Winter", number=2)
    again = signed_review(archive, "2026-01")
    assert again is not None
    assert again.figures() == kept
    amended = amendments(archive, "2026-01")
    assert [(one.number, one.differences) for one in amended] == [(2, found)]
    assert review_data(again, amended)["signed"][1]["rows"] != []
    assert review_pdf(again, amendments=amended).startswith(b"%PDF")

    assert late.import_id is not None
    archive.undo(late.import_id)
    month_review(archive, "2026-01")
    second = signed_review(archive, "2026-01", 2)
    assert second is not None
    back = differences(second, present(archive))
    assert {(one.what, one.then, one.now) for one in back} == {(one.what, one.now, one.then) for one in found}
    with pytest.raises(RegisterError):
        archive.put("reviews", {"month": "2026-01", "number": 1, "figures": {}})


def test_a_file_of_a_later_month_changes_nothing_and_costs_little(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    signed(archive)
    was = present(archive).figures()
    archive.ingest(late_file(50, hours=np.arange(24 * 45, 24 * 46)), name="inside_3.csv")
    assert ready_review(archive, "2026-01") is None

    def computed_anew(*_args: Any, **_more: Any) -> Any:
        raise AssertionError("a frame was assessed again although nothing up to the month's end has changed")

    monkeypatch.setattr("isohume.dashboard.papers.review_frames._frame", computed_anew)
    month_review(archive, "2026-01")
    assert present(archive).figures() == was
    archive.put("frames", {"id": "F01", "band": [40, 60]})
    with pytest.raises(AssertionError, match="assessed again"):
        month_review(archive, "2026-01")


def test_a_frame_registered_later_is_no_change_of_a_signed_month(archive: Archive) -> None:
    signed(archive)
    first = signed_review(archive, "2026-01")
    assert first is not None
    archive.put("frames", {"id": "F03"})
    assert differences(first, month_review(archive, "2026-01")) == ()
    archive.put("events", {"frame": "F03", "time": "2026-01-12", "kind": "sealed"})
    (found,) = differences(first, month_review(archive, "2026-01"))
    assert (found.frame_id, found.now) == ("F03", "in the register")
    archive.remove("events", {"frame": "F03", "time": "2026-01-12", "kind": "sealed"})
    archive.put("frames", {"id": "F01", "band": [40, 60]})
    found = differences(first, month_review(archive, "2026-01"))[0]
    assert (found.frame_id, found.what, found.then, found.now) == ("F01", "band", "45–58 %RH", "40–60 %RH")


def test_nobody_signs_figures_that_were_not_on_the_page(archive: Archive) -> None:
    seen = present(archive).mark()
    archive.ingest(late_file(70), name="inside_2.csv")
    with pytest.raises(ReviewError, match="changed since this page was opened"):
        sign_seen(archive, "2026-01", 1, mark=seen, text="", name="A. Sommer")
    month_review(archive, "2026-01")
    with pytest.raises(ReviewError, match="changed since this page was opened"):
        sign_seen(archive, "2026-01", 1, mark=seen, text="", name="A. Sommer")
    with pytest.raises(ReviewError, match="Nobody is named"):
        signed(archive, " \u200b ")
    signed(archive)
    with pytest.raises(ReviewError, match="signed meanwhile"):
        signed(archive)


def test_the_second_signature_is_for_somebody_else(archive: Archive) -> None:
    signed(archive.acting_as("ada"), "Ada Sommer (ada)")
    for same in ("Ada Sommer (ada)", "  ada  SOMMER (ada) ", "Ａda Sommer (ada)"):
        with pytest.raises(ReviewError, match="somebody else"):
            sign_second(archive, "2026-01", 1, name=same)
    with pytest.raises(ReviewError, match="somebody else"):
        sign_second(archive.acting_as("ada"), "2026-01", 1, name="Another Name (ada)")  # renamed meanwhile
    with pytest.raises(RegisterError, match="by somebody else"):  # by whatever way it comes
        archive.put("reviews", {"month": "2026-01", "number": 1, "second_signed_by": "ADA  sommer (ada)"})
    sign_second(archive, "2026-01", 1, name="B. Winter")
    with pytest.raises(ReviewError, match="has signed already"):
        sign_second(archive, "2026-01", 1, name="C. Lenz")
    with pytest.raises(ReviewError, match="first signature is missing"):
        sign_second(archive, "2026-01", 2, name="C. Lenz")


def test_decisions_are_kept_as_typed_until_the_review_is_signed(archive: Archive) -> None:
    note_decision(archive, "2026-01", 1, "F01", Decision(text=f"{MARKUP}\r\n\x00=1+1", who="A. Sommer"))
    note_decision(archive, "2026-01", 1, "F02", Decision(text="", who="B. Winter"))
    note_decision(archive, "2026-01", 1, "F02", Decision(text=" "))
    with archive.register.reading() as session:
        draft = written(session, "2026-01")[0]
    assert {name: one.text for name, one in draft.decisions.items()} == {"F01": f"{MARKUP}\n=1+1"}
    for frame_id, decision, why in (
        ("F99", Decision(text="x"), "no such frame"),
        ("F01", Decision(text="x" * 501), "at most 500"),
        ("F01", Decision(text="x", by_date="soon"), "date is none"),
    ):
        with pytest.raises(ReviewError, match=why):
            note_decision(archive, "2026-01", 1, frame_id, decision)
    signed(archive)
    with pytest.raises(ReviewError, match="signed meanwhile"):
        note_decision(archive, "2026-01", 1, "F01", Decision(text="later"))


def test_the_list_of_frames_counts_changes_from_the_last_signature(archive: Archive) -> None:
    before = Store(archive).summaries()
    assert [one.changed for one in before] == [None, None]
    signed(archive)
    kept = {
        one.summary.frame_id: (one.summary.standing.name, one.summary.standing.direction, one.summary.data.name)
        for one in present(archive).frames
    }
    for one in Store(archive).summaries():
        now = one.standing.name, one.standing.direction, one.data.name
        assert one.changed is (now != kept[one.frame_id])
    one = before[0]
    as_now = one.standing.name, one.standing.direction, one.data.name
    assert changed(one, {one.frame_id: as_now}).changed is False
    assert changed(one, {one.frame_id: (*as_now[:2], "stale" if as_now[2] != "stale" else "sound")}).changed is True
    assert changed(one, {"another frame": as_now}).changed is True  # new since then
    assert changed(one, {}) == one


def test_changes_and_decisions_of_the_review_before_are_named(archive: Archive) -> None:
    note_decision(archive, "2026-01", 1, "F01", Decision(text="Look at the seal", who="A. Sommer"))
    signed(archive)
    february = month_review(archive, "2026-02")
    assert (february.compared_with, february.compared_is_signed) == ("2026-01", True)
    first = next(one for one in february.frames if one.summary.frame_id == "F01")
    assert first.decided_before is not None
    assert first.before is not None
    assert first.earlier[0].stood == first.before
    own = next(one for one in present(archive).frames if one.summary.frame_id == "F01")
    assert first.earlier[0].air == own.air  # January in the review of February and in its own
    assert first.earlier[0].half_time_days == own.half_time_days
    other = replace(Stood.of(first.summary), data="stale" if first.summary.data.name != "stale" else "sound")
    was = replace(february, frames=(replace(first, before=other),))
    frame = month_document(was, writes=False)["frames"][0]
    assert frame["was"] == f"was record {other.data} in January 2026"
    assert frame["decided_before"] == "Decided in January 2026: Look at the seal (A. Sommer)"
    assert "is marked incomplete" in shown(archive, "2026-02")


def test_a_month_that_is_none_is_told_in_a_sentence(archive: Archive) -> None:
    for path, said in (
        ("<script>alert(1)</script>", "expected a month such as 2026-10"),
        ("2026-13", "expected a month such as 2026-10"),
        ("٢٠٢٦-01", "expected a month such as 2026-10"),
        ("0001-01", "expected a year from"),
        ("2031-01", "has not begun"),
    ):
        assert said in shown(archive, path)
    assert "Not signed: figures of the present record" in shown(archive, "")


def test_a_collection_without_frames_or_readings_says_what_to_do(tmp_path: Path) -> None:
    with Archive.create(tmp_path / "archive") as empty:
        assert "Register the frames" in shown(empty, "")
        empty.put("frames", {"id": "F01"})
        assert "No file with readings was kept so far" in shown(empty, "")
        month_review(empty, "2026-01")
        assert "No logger has readings of this month" in shown(empty, "2026-01")


def test_a_failure_while_computing_is_shown_with_a_way_on(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    archive.ingest(late_file(70), name="inside_2.csv")

    def fails(*_args: Any, **_more: Any) -> Any:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr("isohume.dashboard.month_desk.month_review", fails)
    app = create_app(Store(archive))
    with app.server.test_request_context("/"):
        g.person = AT_THIS_MACHINE
        desk = open_month(archive, "2026-01")
        app.server.config["ISOHUME_BACKGROUND"]._pool.shutdown(wait=True)
        desk = open_month(archive, "2026-01")
        assert desk.task is not None
        assert desk.task.state == "failed"
        text = json.dumps(page.layout("2026-01", {}).to_plotly_json(), default=lambda part: part.to_plotly_json())
    assert "the disk is full" in text
    assert "Try again" in text


def test_papers_and_tables_are_handed_out_and_strange_ones_refused(archive: Archive) -> None:
    note_decision(archive, "2026-01", 1, "F01", Decision(text="=1+1"))
    signed(archive)
    client = create_app(Store(archive)).server.test_client()

    def get(path: str) -> Any:
        return client.get(path, base_url="http://127.0.0.1")

    pdf = get("/month/2026-01/review.pdf")
    assert pdf.data.startswith(b"%PDF")
    assert pdf.headers["Content-Disposition"] == 'inline; filename="review_2026-01.pdf"'
    assert get("/month/2026-01/review.csv").data.decode("utf-8-sig").startswith("frame,")
    book = openpyxl.load_workbook(io.BytesIO(get("/month/2026-01/review.xlsx").data))
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    assert "'=1+1" in {cell.value for cell in cells}
    assert b"'=1+1" in get("/month/2026-01/decisions.csv").data
    assert b"warp measured" in get("/month/2026-01/done.csv").data
    assert get("/month/2026-01/secrets.csv").status_code == 404
    assert get("/month/2026-01/addenda.csv").status_code == 404  # there is none
    assert get("/month/2026-01/review.exe").status_code == 404
    assert get("/month/%2e%2e%2fetc/review.pdf").status_code == 404
    assert get("/month/2031-01/review.pdf").status_code == 404
    assert get("/month/2026-02/review.pdf").status_code == 409  # nobody looked at it yet


def test_the_paper_of_many_frames_is_set_outside_the_request(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("isohume.dashboard.month_routes.MOST_FRAMES_AT_ONCE", 1)
    app = create_app(Store(archive))
    client = app.server.test_client()
    first = client.get("/month/2026-01/review.pdf", base_url="http://127.0.0.1")
    assert first.status_code == 202
    assert b"This page asks again by itself" in first.data
    app.server.config["ISOHUME_BACKGROUND"]._pool.shutdown(wait=True)
    assert client.get("/month/2026-01/review.pdf", base_url="http://127.0.0.1").data.startswith(b"%PDF")


def sign_in(client: Any, name: str) -> None:
    client.get("/login")
    token = client.get_cookie("_csrf_token").value
    client.post("/login", data={"name": name, "password": PASSWORD, "csrf_token": token, "next": "/"})


def test_a_viewer_writes_nothing_and_nobody_signs_in_anothers_name(archive: Archive) -> None:
    add_person(archive, "vera", PASSWORD, role="viewer")
    add_person(archive, "carl", PASSWORD, role="contributor", full_name="Carl Lenz")
    mark = present(archive).mark()
    app = create_app(Store(archive), people=archive)
    inputs = [{"id": "month-sign", "property": "n_clicks", "value": 1}]
    state = [
        {"id": "month-name", "property": "value", "value": "The Director"},
        {"id": "month-text", "property": "value", "value": ""},
        {"id": "month-shown", "property": "data",
         "value": {"month": "2026-01", "number": 1, "mark": mark, "second": 0}},
    ]  # fmt: skip
    body = {
        "output": "month-told.children", "outputs": {"id": "month-told", "property": "children"}, "inputs": inputs,
        "state": state, "changedPropIds": ["month-sign.n_clicks"],
    }  # fmt: skip
    answers = {}
    for name in ("vera", "carl"):
        client = app.server.test_client()
        sign_in(client, name)
        sent = {"X-CSRFToken": client.get_cookie("_csrf_token").value}
        noted = client.post("/month/2026-01/decision", json={"frame": "F01", "text": name}, headers=sent)
        seen = client.get("/month/2026-01/review.csv")
        signing = client.post("/_dash-update-component", json=body, headers=sent).get_data(as_text=True)
        answers[name] = noted.status_code, "needs the role contributor" in signing, seen.status_code
    assert answers == {"vera": (403, True, 200), "carl": (200, False, 200)}
    assert client.post("/month/2026-01/decision", json={"frame": "F01"}).status_code == 403  # no token
    with archive.register.reading() as session:
        (row,) = written(session, "2026-01")
    assert row.signed_by == "Carl Lenz (carl)"
    assert row.decisions["F01"].text == "carl"
    assert "Sign as second" not in shown(archive, "2026-01", Person("vera", "", "viewer"))
