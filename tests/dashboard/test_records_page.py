"""The register's pages on the server: who may change what, what is shown and kept, and what leaves as a file."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import plotly
import polars as pl
import pytest

from isohume.dashboard.access.people import hashed, signed_in
from isohume.dashboard.addresses import page_at
from isohume.dashboard.app import create_app
from isohume.dashboard.background import Background, Task
from isohume.dashboard.components.record_links import NEW, address, key_of, new_address, record_at
from isohume.dashboard.components.record_list import list_document
from isohume.dashboard.components.record_overview import missing_of
from isohume.dashboard.components.record_page import fingerprint, key_of_new
from isohume.dashboard.current import BACKGROUND_KEY
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.register_work import put_together, trail_page, try_description

PASSWORD = "a long walk along the weir"  # noqa: S105 - of an invented person in a temporary archive
REGISTER = """[collection]
name = "Invented"
time_zone = "Europe/Berlin"
as_of = 2026-02-16T08:00:00+01:00
[[rooms]]
id = "R1"
name = "=HYPERLINK(1)"
[[loggers]]
id = "L1"
[[frames]]
id = "F1"
painting = "@Two <b>Herons</b>"
band = [45, 55]
[[frames.locations]]
room = "R1"
from = 2026-01-01
[[placements]]
logger = "L1"
frame = "F1"
from = 2026-01-01T10:00:00+01:00
"""


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as made:
        made.load_register(tmp_path / "register.toml")
        yield made


@pytest.fixture
def people(archive: Archive) -> Archive:
    for name, role in (("vera", "viewer"), ("carl", "contributor"), ("ada", "administrator")):
        archive.put("users", {"name": name, "role": role, "password_hash": password_hash(), "active": True})
    return archive


@cache
def password_hash() -> str:
    return hashed(PASSWORD)


class Browser:
    """Somebody signed in, who posts what no page of ours would."""

    def __init__(self, app: Any, name: str) -> None:
        self.app, self.client = app, app.server.test_client()
        self.client.get("/login")
        form = {"name": name, "password": PASSWORD, "csrf_token": self._token, "next": "/"}
        assert self.client.post("/login", data=form).status_code == 303

    @property
    def _token(self) -> str:
        return self.client.get_cookie("_csrf_token").value

    def send(self, path: str, body: bytes = b"", **headers: str) -> Any:
        sent = {"X-CSRFToken": self._token, **{name.replace("_", "-"): value for name, value in headers.items()}}
        return self.client.post(path, data=body, headers=sent)

    def call(self, part: str, given: dict[str, Any]) -> Any:
        """Post to the callback one of whose outputs is named so; `given` by part of an id, else a click."""
        output, about = next((one, about) for one, about in self.app.callback_map.items() if part in one)
        names = [one.rpartition(".") for one in output.strip(".").split("...")]
        outputs = [{"id": _id(name), "property": what} for name, _, what in names]
        inputs = [self._one(one, given, 1) for one in about["inputs"]]
        changed = [f"{json.dumps(one['id']) if isinstance(one['id'], dict) else one['id']}.{one['property']}"
                   for one in inputs if isinstance(one, dict) and one["value"]]  # fmt: skip
        body = {
            "output": output, "outputs": outputs if output.startswith("..") else outputs[0], "inputs": inputs,
            "state": [self._one(one, given, None) for one in about["state"]], "changedPropIds": changed,
        }  # fmt: skip
        return self.client.post("/_dash-update-component", json=body, headers={"X-CSRFToken": self._token})

    def _one(self, one: dict[str, str], given: dict[str, Any], otherwise: Any) -> Any:
        named = _id(one["id"])
        if isinstance(named, dict) and any(isinstance(value, list) for value in named.values()):
            typed = given.get("typed", {})
            ids = [{**named, "name": name} for name in typed]
            return [{"id": each, "property": one["property"],
                     "value": each if one["property"] == "id" else typed[name]}
                    for each, name in zip(ids, typed, strict=True)]  # fmt: skip
        return {"id": named, "property": one["property"], "value": given.get(str(one["id"]), otherwise)}


def _id(text: str) -> Any:
    return json.loads(text) if text.startswith("{") else text


KEEP, END = '"form":"register","type":"form-told"', "register-ended"
USER, SECRET = '"form":"register-user","type":"form-told"', '"form":"register-password","type":"form-told"'


def seen(archive: Archive, kind: str, part: str = NEW) -> dict[str, Any]:
    record = None if part == NEW else record_at(archive, kind, part)
    return {"register-seen": {"kind": kind, "part": part, "state": fingerprint(record) if record else ""}}


def text_of(content: Any) -> str:
    return json.dumps(content, cls=plotly.utils.PlotlyJSONEncoder, ensure_ascii=False)


def test_only_those_whose_role_reaches_it_may_change_a_record(people: Archive) -> None:
    app = create_app(Store(people), people=people)
    before = people.records("rooms"), people.records("users"), people.records("collection")
    vera, carl = Browser(app, "vera"), Browser(app, "carl")
    asked = {"typed": {"id": "R2", "name": "Attic"}, **seen(people, "rooms")}
    assert vera.call(KEEP, asked).status_code == 403
    assert vera.call(END, seen(people, "rooms", "R1")).status_code == 403
    assert vera.call("register-back-told", {}).status_code == 403
    assert vera.call("register-work-started", {}).status_code == 403
    assert vera.call("describe-answer", {}).status_code == 403
    for path in ("/register/receive-description", "/register/receive-document"):
        assert vera.send(path, b"x", X_File_Name="x.csv").status_code == 403
    for browser in (vera, carl):
        assert browser.call(USER, {"typed": {"name": "eve", "role": "administrator"}}).status_code == 403
        assert browser.call(SECRET, {"typed": {"name": "ada"}}).status_code == 403
        assert browser.client.get("/register/backup").status_code == 403
        assert browser.client.get("/register/export/users.csv").status_code == 403
    # A contributor changes records, but neither users nor settings.
    raised = {"typed": {"name": "carl", "role": "administrator"}, **seen(people, "users", "carl")}
    assert carl.call(KEEP, raised).status_code == 403
    settings = {"typed": {"name": "Mine"}, **seen(people, "collection", "~")}
    assert carl.call(KEEP, settings).status_code == 403
    toml = b'[collection]\nname = "Mine"\n'
    assert carl.send("/register/receive-description", toml, X_File_Name="x.toml").status_code == 403
    assert before == (people.records("rooms"), people.records("users"), people.records("collection"))
    assert carl.call(KEEP, asked).status_code == 200
    assert people.record("rooms", {"id": "R2"})["name"] == "Attic"  # type: ignore[index]
    assert people.history("rooms", "R2")[-1]["by"] == "carl"


def test_users_are_registered_changed_and_shut_out_by_an_administrator(people: Archive) -> None:
    ada = Browser(create_app(Store(people), people=people), "ada")
    new = {"name": "eve", "full_name": "Eve", "role": "viewer", "email": "", "password": PASSWORD, "again": PASSWORD}
    assert "two passwords differ" in ada.call(USER, {"typed": {**new, "again": "another one entirely"}}).text
    assert "12 to 200" in ada.call(USER, {"typed": {**new, "password": "short", "again": "short"}}).text
    assert "may sign in as viewer" in ada.call(USER, {"typed": new}).text
    assert "registered already" in ada.call(USER, {"typed": new}).text
    assert signed_in(people, "eve", PASSWORD)
    another = "an evening by the harbour wall"
    assert (
        "holds from now on" in ada.call(SECRET, {"typed": {"name": "eve", "password": another, "again": another}}).text
    )
    assert signed_in(people, "eve", another)
    assert not signed_in(people, "eve", PASSWORD)
    shut = {"typed": {"name": "eve", "active": "no"}, **seen(people, "users", "eve")}
    assert "Kept" in ada.call(KEEP, shut).text
    assert not signed_in(people, "eve", another)
    herself = {"typed": {"name": "ada", "role": "viewer"}, **seen(people, "users", "ada")}
    assert "only administrator" in ada.call(KEEP, herself).text
    told = ada.client.get("/register/export/users.csv").text + ada.client.get("/register/export/trail.csv").text
    assert "argon2" not in told


def test_a_viewer_reads_everything_but_users_and_sees_no_form(people: Archive) -> None:
    app = create_app(Store(people), people=people)
    with app.server.test_request_context("/register"):
        from flask import g

        from isohume.dashboard.access.people import Person

        g.person = Person(name="vera", full_name="", role="viewer")
        for path in ("/register", "/register/frames", "/register/frames/F1", "/register/trail", "/register/storage",
                     "/register/description", f"/register/frames/{NEW}", "/register/collection"):  # fmt: skip
            content = text_of(page_at(path, "")[0])
            assert "form-keep" not in content, path
            assert "vera" not in content, path
        assert "Not shown" in text_of(page_at("/register/users", "")[0])
        assert "Not shown" in text_of(page_at("/register/users/ada", "")[0])


def test_what_somebody_else_changed_meanwhile_is_not_overwritten(people: Archive) -> None:
    carl = Browser(create_app(Store(people), people=people), "carl")
    old = seen(people, "frames", "F1")
    people.put("frames", {"id": "F1", "owner": "Somebody"})
    assert "Somebody changed this record" in carl.call(KEEP, {"typed": {"id": "F1", "owner": "Me"}, **old}).text
    assert people.record("frames", {"id": "F1"})["owner"] == "Somebody"  # type: ignore[index]


def test_what_others_name_is_retired_and_not_removed(people: Archive) -> None:
    carl = Browser(create_app(Store(people), people=people), "carl")
    assert "1 location and 1 placement name this frame" in carl.call(END, seen(people, "frames", "F1")).text
    people.put("venues", {"id": "V1"})
    assert "Removed" in carl.call(END, {"register-retire": None, **seen(people, "venues", "V1")}).text
    assert people.records("venues") == []


def test_addresses_lead_to_records_whatever_their_names_hold(archive: Archive) -> None:
    for name in ("a/b", "../../etc/passwd", "~new", "%2F", "ü ~ 100 %", "x" * 300):
        archive.put("rooms", {"id": name})
        archive.put("placements", {"logger": "L1", "channel": name, "room": name, "from": "2026-01-02"})
        (record,) = [row for row in archive.records("placements") if row["channel"] == name]
        path = address("placements", record)
        assert path.count("/") == 3
        assert record_at(archive, "placements", unquote(path.split("/")[-1])) == record
        assert record_at(archive, "rooms", unquote(address("rooms", {"id": name}).split("/")[-1]))
        told = new_address("events", frame=name)
        assert told.count("/") == 3
        assert key_of_new("events", unquote(told.split("/")[-1])) == {"frame": name}
    assert key_of("placements", "one~two") is None
    assert record_at(archive, "placements", "a~b~no time") is None
    assert record_at(archive, "rooms", "\0") is None


def test_an_address_that_names_nothing_says_so(archive: Archive) -> None:
    app = create_app(Store(archive))
    told = {
        "/register/nothing": "holds nothing under", "/register/frames/none": "is registered as",
        "/register/trail/x": "lines",
        "/register/trail/99": "Nothing here", "/register/placements/~": "is registered as",
        "/register/reviews": "holds nothing under", "/register/recipes/x": "holds nothing under",
    }  # fmt: skip
    with app.server.test_request_context("/"):
        app.server.preprocess_request()
        for path, words in told.items():
            assert words in text_of(page_at(path, "")[0]), path


def test_lists_of_hundreds_of_frames_are_drawn_by_the_browser(archive: Archive) -> None:
    put_together(archive, [("frames", {"id": f"G{n:03d}", "painting": "<i>"}) for n in range(500)])
    app = create_app(Store(archive))
    with app.server.test_request_context("/"):
        app.server.preprocess_request()
        content = page_at("/register/frames", "?q=heron")[0]
        n_parts = sum(1 for _ in content._traverse())
    assert n_parts < 60
    document = list_document(archive, "frames", "Europe/Berlin")
    assert len(document["rows"]) == 501
    assert len(json.dumps(document)) < 300_000
    assert document["rows"][0]["cells"][:4] == ["F1", "@Two <b>Herons</b>", "=HYPERLINK(1)", "45–55 %RH"]


def test_what_is_missing_is_said_in_words(archive: Archive) -> None:
    app = create_app(Store(archive))
    with app.server.test_request_context("/"):
        app.server.preprocess_request()
        missing = missing_of(archive)
    assert missing["frames"] == ["the conditioning of F1", "the panel of F1"]
    assert missing["rooms"] == ["a logger now in R1, where frames hang"]
    assert missing["loggers"] == ["the uncertainty of L1"]


def test_tables_leave_without_formulas_and_with_units(archive: Archive) -> None:
    client = create_app(Store(archive)).server.test_client()
    frames = client.get("/register/export/frames.csv").get_data().decode("utf-8-sig")
    heading, row = frames.splitlines()[:2]
    assert "Agreed band, from [%RH]" in heading
    assert row.startswith("F1,'@Two <b>Herons</b>,45")
    rooms = client.get("/register/export/rooms.xlsx").get_data()
    sheet = zipfile.ZipFile(io.BytesIO(rooms)).read("xl/worksheets/sheet1.xml").decode()
    assert "<f>" not in sheet
    assert pl.read_excel(io.BytesIO(rooms), engine="calamine")["Name"].to_list() == ["'=HYPERLINK(1)"]
    for name in ("trail.csv", "recipes.csv", "description.toml", "sheet.xlsx", "sheet.csv", "placements.xlsx"):
        answer = client.get(f"/register/export/{name}")
        assert answer.status_code == 200, name
        assert answer.headers["Content-Disposition"].startswith("attachment")
    for name in ("nothing.csv", "frames.exe", "reviews.csv"):
        assert client.get(f"/register/export/{name}").status_code == 404, name
    # A part with a slash in it is the name of a record at most: the empty window answers, no file leaves.
    assert client.get("/register/export/..%2f..%2fetc.csv").mimetype == "text/html"


class AtOnce(Background):
    """Long work that is done when it has been asked for."""

    def start(self, key: str, title: str, work: Any, *, by: str, is_personal: bool = False) -> Task:
        self.forget(key)
        self._tasks[key] = Task(key=key, title=title, by=by, is_personal=is_personal)
        self._run(key, work)
        return self._tasks[key]


def app_at_once(archive: Archive) -> Any:
    app = create_app(Store(archive), people=archive)
    app.server.config[BACKGROUND_KEY] = AtOnce()
    return app


def ended(app: Any, key: str) -> Any:
    task = app.server.config[BACKGROUND_KEY].task(key)
    assert task is not None
    return task


def test_a_spreadsheet_is_tried_before_it_is_kept(people: Archive) -> None:
    app = app_at_once(people)
    carl = Browser(app, "carl")
    sheet = b"frame,painting,room,band\nF2,=Winter,R7,40-50\nF1,Two Herons,R1,45-55\n"
    assert carl.send("/register/receive-description", sheet, X_File_Name="../../a%2Fb.csv").status_code == 200
    task = ended(app, "describe try carl")
    assert task.state == "done", task.told
    assert {(line["action"], line["kind"]) for line in task.result.trial.lines} == {
        ("added", "rooms"), ("added", "frames"), ("added", "locations"), ("changed", "frames")}  # fmt: skip
    assert people.frame_ids() == ["F1"]
    assert carl.call("describe-answer", {"describe-forget": None}).status_code == 200
    assert ended(app, "describe load carl").state == "done"
    assert people.frame_ids() == ["F1", "F2"]
    assert people.history("frames", "F2")[-1]["by"] == "carl"
    broken = b"frame,painting\nF3,x\n"
    carl.send("/register/receive-description", broken, X_File_Name="b.csv")
    assert "no column room, band" in ended(app, "describe try carl").told
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("xl/worksheets/sheet1.xml", b"0" * 250_000_000)
    carl.send("/register/receive-description", bomb.getvalue(), X_File_Name="c.xlsx")
    assert "once unpacked" in ended(app, "describe try carl").told
    assert carl.send("/register/receive-description", b"x", X_File_Name="c.exe").status_code == 415


def test_a_trial_leaves_no_trace(archive: Archive, tmp_path: Path) -> None:
    (tmp_path / "more.toml").write_text('[[rooms]]\nid = "R8"\n', encoding="utf-8")
    before = archive.history()
    assert try_description(archive, tmp_path / "more.toml").summary.n_added == 1
    assert archive.history() == before
    assert archive.audit(deep=False).is_clean
    assert trail_page(archive, n=1)[0][0]["id"] == len(before)


def test_a_backup_is_made_noted_and_sent_to_an_administrator_only(people: Archive) -> None:
    app = app_at_once(people)
    ada, carl = Browser(app, "ada"), Browser(app, "carl")
    only_backup = {"register-audit": None}
    assert carl.call("register-work-started", only_backup).status_code == 403
    assert ada.client.get("/register/backup").status_code == 404
    assert ada.call("register-work-started", only_backup).status_code == 200
    assert ended(app, "register backup").state == "done"
    with ada.client.get("/register/backup") as answer:
        pack = zipfile.ZipFile(io.BytesIO(answer.get_data()))
    assert "backup.json" in pack.namelist()
    assert not [name for name in pack.namelist() if "key" in name]
    assert carl.client.get("/register/backup").status_code == 403
    assert people.history("archive")[-1]["by"] == "ada"


def test_a_document_is_kept_and_sent_as_a_file(people: Archive) -> None:
    carl = Browser(create_app(Store(people), people=people), "carl")
    page = b"<script>alert(1)</script>"
    about = json.dumps({"frame": "F1", "kind": "certificate"})
    answer = carl.send("/register/receive-document", page, X_File_Name="../back%0d%0a<b>.html", X_About=about)
    where = json.loads(answer.text)["go"]
    (record,) = people.records("documents")
    assert where == f"/register/documents/{record['sha256']}"
    assert (record["frame"], record["kind"]) == ("F1", "other")
    sent = carl.client.get(f"/register/document/{record['sha256']}")
    assert sent.get_data() == page
    assert sent.mimetype == "application/octet-stream"
    assert sent.headers["Content-Disposition"].startswith("attachment")
    assert sent.headers["X-Content-Type-Options"] == "nosniff"
    for name in ("0" * 64, "x"):
        assert carl.client.get(f"/register/document/{name}").status_code == 404
    assert carl.client.get("/register/document/..%2f..%2fregister.sqlite3").mimetype == "text/html"
    about = json.dumps({"frame": "F99"})
    assert carl.send("/register/receive-document", b"y", X_File_Name="y", X_About=about).status_code == 409
