"""Every route and callback of the pages, and who may do what through it; what nobody has listed fails here."""

from __future__ import annotations

import importlib.util
import inspect
import json
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from dash import Dash
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from isohume.dashboard.access.people import add_person, find_person, hashed
from isohume.dashboard.app import create_app
from isohume.dashboard.background import MOST_WAITING, TooMuchWorkError
from isohume.dashboard.current import BACKGROUND_KEY
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError

PASSWORD = "a long walk along the weir"  # noqa: S105 - of invented people in a temporary archive
HTTPS = "https://frames.example"
ROLES = ("viewer", "contributor", "administrator")
READS, WRITES, ADMINISTERS = "reads", "contributor", "administrator"

# Callbacks by the function that answers. "reads" changes nothing that is kept; the others name the role it takes.
CALLBACKS = {
    "app.open_page": READS,
    "components.frame_waiting.again": READS,
    "components.frame_waiting.look": READS,
    "components.long_work.look": READS,
    "components.record_description.decide": WRITES,
    "components.record_users.keep": ADMINISTERS,
    "components.record_whole.start": WRITES,
    "frame_routes.add_event": WRITES,
    "frame_routes.judge": READS,
    "frame_routes.show_form": READS,
    "pages.files.act": WRITES,
    "pages.files.correct": WRITES,
    "pages.files.show": READS,
    "pages.files_first.make_frame": WRITES,
    "pages.files_first.which": READS,
    "pages.files_history.answer": WRITES,
    "pages.files_history.ask": WRITES,
    "pages.files_history.ask_take_down": WRITES,
    "pages.files_history.go_on": WRITES,
    "pages.files_history.read_again": WRITES,
    "pages.files_history.show": READS,
    "pages.files_history.show_set_up": READS,
    "pages.frame.draw": READS,
    "pages.frame.draw_findings": READS,
    "pages.frame.say_flags": READS,
    "pages.frames.look": READS,
    "pages.loan.again": READS,
    "pages.loan.do": WRITES,
    "pages.loan.keep": WRITES,
    "pages.loan.show": READS,
    "pages.loans.keep": WRITES,
    "pages.month.again": READS,
    "pages.month.sign_beside": WRITES,
    "pages.month.sign_first": WRITES,
    "pages.records.back": WRITES,
    "pages.records.end": WRITES,
    "pages.records.keep": WRITES,
    "pages.verify.another": READS,
    "pages.workbench.begin": READS,
    "pages.workbench.fill": READS,
    "pages.workbench.keep": WRITES,
    "pages.workbench.reckon": READS,
}
# Routes by endpoint: an address that reaches each, and who may send to it. Open: without signing in.
OPEN = "open"
SCRIPT = "/_dash-component-suites/dash/dash-renderer/build/dash_renderer.min.js"
GETS = {
    "/": ("/", READS),
    "/<path:path>": ("/frames", READS),
    "/_dash-component-suites/<string:package_name>/<path:fingerprinted_path>": (SCRIPT, READS),
    "/_dash-dependencies": ("/_dash-dependencies", READS),
    "/_dash-layout": ("/_dash-layout", READS),
    "/_favicon.ico": ("/_favicon.ico", READS),
    "/_reload-hash": ("/_reload-hash", READS),
    "_dash_assets.static": ("/assets/icon.svg", OPEN),
    "download": ("/workbench/salts/x.csv", READS),
    "files_table": ("/files/table/imports.csv", READS),
    "frame_table": ("/frame-tables/events.csv?frame=F01", READS),
    "frames_table": ("/frames-table.csv", READS),
    "loan_handover": ("/loans/handover", READS),
    "loan_pack": ("/loans/pack/x", READS),
    "loan_table": ("/loans/tables/legs.csv?loan=7", READS),
    "loans_table": ("/loans/table.csv", READS),
    "methods_picture": ("/methods/picture/x.svg", READS),
    "methods_table": ("/methods/table/x.csv", READS),
    "month_paper": ("/month/2026-01/review.csv", READS),
    "month_table": ("/month/2026-01/due.csv", READS),
    "photograph": ("/frame-photographs/x", READS),
    "register-backup": ("/register/backup", ADMINISTERS),
    "register-document": ("/register/document/x", READS),
    "register-export": ("/register/export/frames.csv", READS),
    "register-key": ("/register/public-key.txt", READS),
    "show_login": ("/login", OPEN),
    "static": ("/static/x", READS),
    "verify-open": ("/verify/open", OPEN),
    "verify-open-result": ("/verify/open/x", OPEN),
}
POSTS = {
    "/_dash-update-component": ("/_dash-update-component", READS),
    "files_receive": ("/files/receive", WRITES),
    "loan_venue_record": ("/loans/venue-record", WRITES),
    "log_in": ("/login", OPEN),
    "log_out": ("/logout", READS),
    "month_decision": ("/month/2026-01/decision", WRITES),
    "receive_photograph": ("/frame-photographs", WRITES),
    "register-describe": ("/register/receive-description", WRITES),
    "register-receive": ("/register/receive-document", WRITES),
    "verify-open-take": ("/verify/open", OPEN),
    "verify-receive": ("/verify/receive", READS),
}
# What may be stored by a browser: looks, scripts, and photographs, which stand under their hash.
STORED = ("/assets/", "/_dash-component-suites/", "/_favicon.ico")


def invented() -> Any:
    """Load the invented archive of the papers; conftest files cannot import each other."""
    path = Path(__file__).parents[1] / "papers" / "conftest.py"
    spec = importlib.util.spec_from_file_location("papers_conftest_for_doors", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    folder = tmp_path_factory.mktemp("doors")
    (folder / "register.toml").write_text(invented().REGISTER, encoding="utf-8")
    with Archive.create(folder / "archive") as held:
        held.load_register(folder / "register.toml")
        for role in ROLES:
            add_person(held, f"the {role}", PASSWORD, role=role)  # type: ignore[arg-type]
        yield held


@pytest.fixture(scope="module")
def app(archive: Archive) -> Dash:
    made = create_app(Store(archive), people=archive, https=True, open_verify=True)
    made._setup_server()  # otherwise done at the first request
    return made


class Client:
    """Somebody at a browser."""

    def __init__(self, app: Dash, role: str = "") -> None:
        self.client: FlaskClient = app.server.test_client()
        self.client.get("/login", base_url=HTTPS)
        cookie = self.client.get_cookie("_csrf_token", domain="frames.example")
        assert cookie is not None
        self.token = cookie.value
        if role:
            form = {"name": f"the {role}", "password": PASSWORD, "csrf_token": self.token}
            assert self.client.post("/login", data=form, base_url=HTTPS).status_code == 303

    def get(self, path: str) -> TestResponse:
        return self.client.get(path, base_url=HTTPS, buffered=True)

    def post(self, path: str, *, token: bool = True, **options: Any) -> TestResponse:
        headers = {"X-CSRFToken": self.token} if token else {}
        return self.client.post(path, base_url=HTTPS, headers={**headers, **options.pop("headers", {})}, **options)

    def call(self, app: Dash, key: str, **changed: Any) -> TestResponse:
        return self.post("/_dash-update-component", json=body_for(app, key, **changed))


@pytest.fixture(scope="module")
def people(app: Dash) -> dict[str, Client]:
    return {role: Client(app, role) for role in ROLES}


def answering(spec: dict[str, Any]) -> str:
    """Name the function behind a callback; "" for those that the browser answers by itself."""
    function = spec.get("callback")
    if function is None:
        return ""
    function = inspect.unwrap(function)
    return f"{function.__module__.removeprefix('isohume.dashboard.')}.{function.__name__}"


def body_for(app: Dash, key: str, *, data: dict[str, Any] | None = None) -> dict[str, Any]:
    """Write the post of a callback as a browser does, every button pressed once."""
    spec = app.callback_map[key]

    def sent(one: dict[str, Any]) -> Any:
        named = json.loads(one["id"]) if one["id"].startswith("{") else one["id"]
        if not isinstance(named, dict):
            return {"id": named, "property": one["property"], "value": (data or {}).get(named, 1)}
        concrete = {name: "x" if value in (["ALL"], ["MATCH"]) else value for name, value in named.items()}
        single = {"id": concrete, "property": one["property"], "value": 1}
        return [single] if ["ALL"] in named.values() else single

    inputs, state = [sent(one) for one in spec["inputs"]], [sent(one) for one in spec["state"]]
    first = inputs[0][0] if isinstance(inputs[0], list) else inputs[0]
    named = (
        json.dumps(first["id"], separators=(",", ":"), sort_keys=True)
        if isinstance(first["id"], dict)
        else first["id"]
    )

    def answered(one: str) -> Any:
        name, _, prop = one.rpartition(".")
        named_out = json.loads(name) if name.startswith("{") else name
        if isinstance(named_out, dict):
            is_list = ["ALL"] in named_out.values()
            named_out = {part: "x" if value in (["ALL"], ["MATCH"]) else value for part, value in named_out.items()}
            single = {"id": named_out, "property": prop}
            return [single] if is_list else single
        return {"id": named_out, "property": prop}

    is_many = key.startswith("..")
    outputs = [answered(one) for one in key.strip(".").split("...")] if is_many else answered(key)
    return {"output": key, "outputs": outputs, "inputs": inputs, "state": state,
            "changedPropIds": [f"{named}.{first['property']}"]}  # fmt: skip


def kept(archive: Archive) -> tuple[int, str]:
    """Return what tells whether something was written: the audit trail."""
    lines = archive.history()
    return len(lines), json.dumps(lines[-1], default=str)


def test_every_callback_is_listed_with_the_role_it_takes(app: Dash) -> None:
    found = {answering(spec) for spec in app.callback_map.values()} - {""}
    assert found == CALLBACKS.keys(), "a callback nobody listed here, or one that is gone"
    for spec in app.callback_map.values():
        name = answering(spec)
        if name and CALLBACKS[name] != READS:
            assert _role_of(spec["callback"]) == CALLBACKS[name], f"{name} does not ask for its role"


def _role_of(function: Any) -> str:
    while function is not None:
        if hasattr(function, "needs_role"):
            return str(function.needs_role)
        function = getattr(function, "__wrapped__", None)
    return ""


def test_every_route_is_listed_with_who_may_use_it(app: Dash) -> None:
    gets, posts = set(), set()
    for rule in app.server.url_map.iter_rules():
        assert rule.methods is not None
        assert rule.methods <= {"GET", "HEAD", "OPTIONS", "POST"}, rule
        if "GET" in rule.methods:
            gets.add(rule.endpoint)
        if "POST" in rule.methods:
            posts.add(rule.endpoint)
    assert gets == GETS.keys()
    assert posts == POSTS.keys()


def test_a_stranger_is_refused_everywhere_but_at_the_open_doors(app: Dash, archive: Archive) -> None:
    stranger, before = Client(app), kept(archive)
    for endpoint, (path, who) in GETS.items():
        answer = stranger.get(path)
        if who != OPEN:
            assert (answer.status_code, answer.location or "")[0] in (401, 303), endpoint
            assert (
                answer.status_code == 401 or "/login?" in (answer.location or "") or answer.location == "/verify/open"
            )
    for endpoint, (path, who) in POSTS.items():
        if who != OPEN:
            assert stranger.post(path, data=b"x").status_code == 401, endpoint
    for key in app.callback_map:
        assert stranger.call(app, key).status_code == 401, key
    for path in (
        "/login/../register/backup",
        "/assets/../_dash-layout",
        "/assets/%2e%2e/_dash-layout",
        "//_dash-layout",
    ):
        assert b'"props"' not in stranger.get(path).data, path
    assert kept(archive) == before


def test_a_viewer_writes_through_no_door(app: Dash, archive: Archive, people: dict[str, Client]) -> None:
    before = kept(archive)
    for key, spec in app.callback_map.items():
        if CALLBACKS.get(answering(spec), READS) != READS:
            assert people["viewer"].call(app, key).status_code == 403, key
    for endpoint, (path, who) in POSTS.items():
        if who == WRITES:
            assert people["viewer"].post(path, data=b"x").status_code == 403, endpoint
    assert people["viewer"].get("/register/backup").status_code == 403
    # What reads may be called by anybody with whatever arguments, and still changes nothing.
    for key, spec in app.callback_map.items():
        if CALLBACKS.get(answering(spec)) == READS:
            answer = people["viewer"].call(app, key)
            assert answer.status_code not in (401, 403), answering(spec)
            assert str(archive.folder).encode() not in answer.data
    assert people["viewer"].get("/frames-table.csv").status_code == 200
    assert kept(archive) == before


def test_a_contributor_does_nothing_that_is_for_administrators(
    app: Dash, archive: Archive, people: dict[str, Client]
) -> None:
    carl, before = people["contributor"], kept(archive)
    for key, spec in app.callback_map.items():
        name = answering(spec)
        if CALLBACKS.get(name) == ADMINISTERS:
            assert carl.call(app, key).status_code == 403, key
        if name in ("pages.records.keep", "pages.records.end"):
            for kind in ("users", "collection"):
                seen = {"kind": kind, "part": "the administrator" if kind == "users" else "~", "state": ""}
                assert carl.call(app, key, data={"register-seen": seen}).status_code == 403, (key, kind)
        if name == "components.record_whole.start":
            assert backup_asked(app, carl, key).status_code == 403
    for path in ("/register/backup", "/register/export/users.csv"):
        assert carl.get(path).status_code == 403, path
    described = carl.post(
        "/register/receive-description", data=b"[collection]\n", headers={"X-File-Name": "collection.toml"}
    )
    assert described.status_code == 403
    assert "users" not in carl.get("/register/export/trail.csv").text
    assert kept(archive) == before


def backup_asked(app: Dash, who: Client, key: str) -> TestResponse:
    body = body_for(app, key)
    body["changedPropIds"] = ["register-backup.n_clicks"]
    return who.post("/_dash-update-component", json=body)


def test_nothing_is_sent_to_without_the_token_of_our_pages(archive: Archive, people: dict[str, Client]) -> None:
    before = kept(archive)
    for endpoint, (path, _) in POSTS.items():
        if endpoint == "verify-open-take":  # knows nobody, writes nothing
            continue
        for data in (b"x", {"csrf_token": people["administrator"].token, "name": "x"}):
            if isinstance(data, dict) and endpoint in ("log_in", "log_out"):
                continue
            assert people["administrator"].post(path, token=False, data=data).status_code == 403, endpoint
    for method in ("PUT", "DELETE", "PATCH"):
        answer = people["administrator"].client.open("/frames", method=method, base_url=HTTPS)
        assert answer.status_code in (403, 405)
    assert kept(archive) == before


def test_looking_writes_nothing_and_is_not_stored_by_browsers(archive: Archive, people: dict[str, Client]) -> None:
    before = kept(archive)
    for endpoint, (path, _) in GETS.items():
        answer = people["administrator"].get(path)
        assert answer.status_code < 500, endpoint
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert str(archive.folder).encode() not in answer.data
        if not path.startswith(STORED):
            assert "no-store" in answer.headers.get("Cache-Control", ""), endpoint
        is_html = answer.mimetype == "text/html"
        if answer.status_code == 200 and not is_html and path.endswith((".csv", ".xlsx", ".txt", ".toml", "backup")):
            assert answer.headers["Content-Disposition"].startswith("attachment"), endpoint
    assert kept(archive) == before


def test_a_session_ends_with_its_person_and_follows_a_changed_role(app: Dash, archive: Archive) -> None:
    add_person(archive, "the guest", PASSWORD, role="contributor")
    guest = Client(app, "guest")
    key = next(key for key, spec in app.callback_map.items() if answering(spec) == "pages.loans.keep")
    assert guest.call(app, key).status_code != 403
    archive.put("users", {"name": "the guest", "role": "viewer"})
    assert guest.call(app, key).status_code == 403
    archive.put("users", {"name": "the guest", "active": False})
    assert guest.call(app, key).status_code == 401
    assert guest.get("/frames-table.csv").status_code == 401


def test_names_that_read_alike_are_one_name(archive: Archive) -> None:
    add_person(archive, "Véra", PASSWORD, role="viewer")
    for name in (
        "VÉRA",
        "Ve\u0301ra",
        "Véra ",
        "\uff36éra",
        "",
        "   ",
        "x" * 101,
        "a\u202eb",
        "a\u200bb",
        "local",
        "LOCAL",
    ):
        with pytest.raises(RegisterError, match="users, name"):
            add_person(archive, name, PASSWORD, role="administrator")
    archive.put("users", {"name": "local", "role": "administrator", "password_hash": hashed(PASSWORD), "active": True})
    assert find_person(archive, "local") is None  # who is at this machine signs nowhere else


def test_personal_work_is_nobody_elses_and_the_queue_is_bounded(app: Dash, people: dict[str, Client]) -> None:
    work, goes_on = app.server.config[BACKGROUND_KEY], threading.Event()
    work.start("verify the administrator", "Check of SECRET.zip", lambda _far: None, by="the administrator",
               is_personal=True)  # fmt: skip
    look = next(key for key, spec in app.callback_map.items() if answering(spec) == "components.long_work.look")
    again = next(key for key, spec in app.callback_map.items() if answering(spec) == "components.frame_waiting.again")
    body = body_for(app, look)
    body["state"][0]["value"] = "verify the administrator"
    assert "SECRET" not in people["viewer"].post("/_dash-update-component", json=body).text
    assert "SECRET" in people["administrator"].post("/_dash-update-component", json=body).text
    people["viewer"].call(app, again, data={"findings-key": "verify the administrator"})
    assert work.task("verify the administrator") is not None
    try:
        for number in range(MOST_WAITING):
            work.start(f"asked {number}", "Much", lambda _far: goes_on.wait(30), by="the viewer")
        with pytest.raises(TooMuchWorkError):
            work.start("one more", "Much", lambda _far: None, by="the viewer")
    finally:
        goes_on.set()


def test_numbers_beyond_any_database_are_no_failure(people: dict[str, Client]) -> None:
    for number in ("9" * 25, "9" * 5000, "-1", "١"):
        for path in (f"/month/2026-01/review.csv?number={number}", f"/files/table/rejected.csv?import={number}"):
            assert people["viewer"].get(path).status_code < 500, path
