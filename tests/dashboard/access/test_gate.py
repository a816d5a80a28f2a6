"""The gate as an attacker meets it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from isohume.dashboard.access.gate import SESSION_KEY_FILE, close_gate, needs, person
from isohume.dashboard.access.people import PasswordRefusedError, add_person, find_person, hashed, signed_in
from isohume.dashboard.access.throttle import Throttle
from isohume.ingest.archive.archive import Archive

PASSWORD = "a long walk along the weir"  # noqa: S105 - of an invented person in a temporary archive


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    with Archive.create(tmp_path_factory.mktemp("access") / "archive") as made:
        add_person(made, "vera", PASSWORD, role="viewer", full_name="Vera <b>Bold</b>")
        add_person(made, "carl", PASSWORD, role="contributor")
        yield made


def server_for(archive: Archive, *, local: bool, https: bool = False) -> Flask:
    server = Flask(__name__)
    close_gate(server, None if local else archive, https=https)

    @server.get("/")
    def home() -> str:
        return f"<p>{person().name}</p>"

    @server.post("/write")
    @needs("contributor")
    def write() -> str:
        return "written"

    return server


@pytest.fixture
def client(archive: Archive) -> FlaskClient:
    return server_for(archive, local=False).test_client()


def token_of(client: FlaskClient) -> str:
    client.get("/login")
    cookie = client.get_cookie("_csrf_token")
    assert cookie is not None
    return cookie.value


def sign_in(client: FlaskClient, name: str, password: str = PASSWORD, *, next_path: str = "/") -> int:
    form = {"name": name, "password": password, "csrf_token": token_of(client), "next": next_path}
    return client.post("/login", data=form).status_code


def test_a_stranger_sees_the_sign_in_page_and_nothing_else(client: FlaskClient) -> None:
    answer = client.get("/", headers={"Accept": "text/html"})
    assert (answer.status_code, answer.location) == (303, "/login?next=%2F")
    assert client.post("/_dash-update-component", json={}).status_code == 401
    assert client.get("/_dash-layout", headers={"Accept": "text/html"}).status_code == 401


def test_signing_in_opens_the_pages_and_signing_out_closes_them(client: FlaskClient) -> None:
    assert sign_in(client, "vera") == 303
    assert client.get("/").text == "<p>vera</p>"
    client.post("/logout", data={"csrf_token": token_of(client)})
    assert client.get("/", headers={"Accept": "text/html"}).status_code == 303


def test_a_viewer_may_not_write_and_a_contributor_may(client: FlaskClient) -> None:
    sign_in(client, "vera")
    refused = client.post("/write", headers={"X-CSRFToken": token_of(client)})
    assert refused.status_code == 403
    assert "needs the role contributor" in refused.text
    sign_in(client, "carl")
    assert client.post("/write", headers={"X-CSRFToken": token_of(client)}).text == "written"


@pytest.mark.parametrize("headers", [{}, {"X-CSRFToken": "guess"}, {"X-CSRFToken": "ä"}])
def test_a_post_without_our_token_is_refused(client: FlaskClient, headers: dict[str, str]) -> None:
    sign_in(client, "carl")
    assert client.post("/write", headers=headers).status_code == 403


def test_a_token_in_a_form_counts_only_for_signing_in_and_out(client: FlaskClient) -> None:
    sign_in(client, "carl")
    assert client.post("/write", data={"csrf_token": token_of(client)}).status_code == 403


def test_a_changed_password_or_role_ends_the_session(archive: Archive) -> None:
    add_person(archive, "temp", PASSWORD, role="contributor")
    client = server_for(archive, local=False).test_client()
    sign_in(client, "temp")
    assert client.get("/").status_code == 200
    archive.put("users", {"name": "temp", "role": "viewer"})
    assert client.post("/write", headers={"X-CSRFToken": token_of(client)}).status_code == 403
    add_person(archive, "temp", PASSWORD + "!", role="viewer")
    assert client.get("/", headers={"Accept": "text/html"}).status_code == 303
    archive.put("users", {"name": "temp", "active": False})
    assert sign_in(client, "temp", PASSWORD + "!") == 401


@pytest.mark.parametrize("name", ["vera", "nobody", "", "x" * 5000, "vera\x00", "' or 1=1 --"])
def test_wrong_passwords_and_odd_names_get_the_same_answer(archive: Archive, name: str) -> None:
    client = server_for(archive, local=False).test_client()
    assert sign_in(client, name, "wrong password here") == 401


def test_a_forged_session_does_not_open(archive: Archive) -> None:
    client = server_for(archive, local=False).test_client()
    client.set_cookie("isohume_session", "eyJuYW1lIjoiY2FybCJ9.forged.signature")
    assert client.get("/", headers={"Accept": "text/html"}).status_code == 303


@pytest.mark.parametrize(
    "target", ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "a b"]
)
def test_signing_in_leads_to_our_own_pages_only(archive: Archive, target: str) -> None:
    client = server_for(archive, local=False).test_client()
    form = {"name": "vera", "password": PASSWORD, "csrf_token": token_of(client), "next": target}
    assert client.post("/login", data=form).location == "/"


def test_markup_in_the_address_is_shown_as_text(client: FlaskClient) -> None:
    page = client.get('/login?next=/"><script>alert(1)</script>').text
    assert "<script>alert" not in page


def test_guessing_is_slowed_down(archive: Archive) -> None:
    client = server_for(archive, local=False).test_client()
    statuses = [sign_in(client, "vera", f"wrong password {n}") for n in range(6)]
    assert statuses == [401] * 5 + [429]
    assert sign_in(client, "VERA") == 429  # not even the right one, nor under another spelling


def test_throttle_forgets_after_its_window_and_counts_addresses() -> None:
    clock = [0.0]
    throttle = Throttle(lambda: clock[0])
    for n in range(20):
        throttle.failed(f"name{n}", "10.0.0.9")
    assert throttle.wait_seconds("anybody", "10.0.0.9") > 0
    assert throttle.wait_seconds("anybody", "10.0.0.8") == 0
    clock[0] = 15 * 60 + 1
    assert throttle.wait_seconds("anybody", "10.0.0.9") == 0


def test_cookies_are_out_of_reach(archive: Archive) -> None:
    client = server_for(archive, local=False, https=True).test_client()
    token = client.get("/login", base_url="https://frames.example").headers["Set-Cookie"]
    assert "Secure" in token
    assert "SameSite=Strict" in token
    value = token.split(";")[0].split("=", 1)[1]
    form = {"name": "vera", "password": PASSWORD, "csrf_token": value}
    answer = client.post("/login", data=form, base_url="https://frames.example")
    session = next(cookie for cookie in answer.headers.getlist("Set-Cookie") if cookie.startswith("isohume_session"))
    assert "HttpOnly" in session
    assert "Secure" in session
    assert "SameSite=Lax" in session


def test_on_this_machine_nobody_signs_in_but_other_sites_stay_out(archive: Archive) -> None:
    client = server_for(archive, local=True).test_client()
    assert client.get("/", base_url="http://127.0.0.1:8050").text == "<p>local</p>"
    # A page elsewhere whose name was pointed at this machine (DNS rebinding), and one that posts to it.
    assert client.get("/", base_url="http://evil.example:8050").status_code == 400
    assert client.post("/write", base_url="http://127.0.0.1:8050").status_code == 403


def test_passwords_are_kept_as_argon2_and_never_short(archive: Archive) -> None:
    assert hashed(PASSWORD).startswith("$argon2id$")
    assert "$argon2" not in str(archive.records("users"))
    assert "$argon2" not in str(archive.history())
    assert signed_in(archive, "vera", PASSWORD)
    assert not signed_in(archive, "vera", PASSWORD + " ")
    with pytest.raises(PasswordRefusedError, match="11 characters"):
        hashed("x" * 11)
    found = find_person(archive, "vera")
    assert found is not None
    assert found[0].role == "viewer"


def test_session_key_lies_beside_the_register(archive: Archive) -> None:
    server_for(archive, local=False)
    key: Path = archive.folder / SESSION_KEY_FILE
    assert len(key.read_bytes()) == 32
