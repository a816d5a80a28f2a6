"""A pack dropped by somebody who trusts nobody: sound, altered, forged, garbage; and people without an account."""

from __future__ import annotations

import importlib.util
import io
import json
import os
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import plotly
import pytest

from isohume.dashboard.access.people import add_person
from isohume.dashboard.addresses import page_at
from isohume.dashboard.app import create_app
from isohume.dashboard.background import Background, Task
from isohume.dashboard.components import verify_checks, verify_open
from isohume.dashboard.components.verify_checks import (
    MOST_WAITING,
    PER_ADDRESS,
    WINDOW_SECONDS,
    BusyError,
    CheckError,
    Checks,
    check_pack,
    received,
)
from isohume.dashboard.components.verify_result import told
from isohume.dashboard.current import BACKGROUND_KEY
from isohume.dashboard.pages import verify
from isohume.dashboard.papers.make_pack import make_pack
from isohume.dashboard.papers.pack import PackError, read_pack, write_pack
from isohume.dashboard.papers.verify import verify_pack
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive


def _papers() -> Any:
    found = Path(__file__).parent / "papers" / "conftest.py"
    spec = importlib.util.spec_from_file_location("invented_papers_for_verify", found)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def invented() -> Any:
    return _papers()


@pytest.fixture(scope="module")
def pack(invented: Any) -> bytes:
    return make_pack(invented.invented_evidence(), invented.signing(7))


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    with Archive.create(tmp_path / "archive") as made:
        yield made


def members_of(pack: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(pack)) as held:
        return {name: held.read(name) for name in held.namelist()}


def packed(members: dict[str, bytes], *, how: int = zipfile.ZIP_STORED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", how) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return buffer.getvalue()


def at(tmp_path: Path, data: bytes) -> Path:
    (tmp_path / "pack.zip").write_bytes(data)
    return tmp_path / "pack.zip"


def test_a_sound_pack_agrees_and_its_key_is_compared(pack: bytes, invented: Any, tmp_path: Path) -> None:
    key = invented.signing(7).fingerprint
    document = check_pack(at(tmp_path, pack), key)
    found = told(document, key=key)
    assert (found.verdict, found.tone, found.problems) == ("All agrees", "calm", ())
    facts = dict(found.facts)
    assert facts["Signed by"] == f"{key} (the one typed in)"
    assert facts["Frame"] == "F01"
    assert int(facts["Figures checked"].replace("\u202f", "")) > 100
    open_key = told(document, key="")
    assert "not compared with any" in dict(open_key.facts)["Signed by"]
    assert "only vouches for itself" in open_key.remarks[-1]


def test_an_altered_figure_a_changed_byte_and_another_key_are_named(pack: bytes, invented: Any) -> None:
    members = members_of(pack)
    name = next(one for one in members if one.endswith(".csv") and "readings" in one)
    byte = packed({**members, name: members[name].replace(b"5", b"6", 1)})
    found = told(asdict(verify_pack(byte)), key="")
    assert (found.verdict, found.tone) == ("Altered since it was signed", "act")
    assert any(name in text for _, texts in found.problems for text in texts)

    # Somebody changes a figure and signs it anew with a key of their own.
    findings = next(one for one in members if one.startswith("findings"))
    document = json.loads(members[findings])
    kept = {one: data for one, data in members.items() if one not in ("manifest.json", "signature.json")}
    manifest = json.loads(members["manifest.json"])
    about = {one: value for one, value in manifest.items() if one not in ("members", "schema")}
    other = invented.signing(8)
    forged = write_pack(
        {**kept, findings: json.dumps(_with_other_figure(document)).encode()},
        about={**about, "public_key": other.public_hex}, key=other,
    )  # fmt: skip
    key = invented.signing(7).fingerprint
    found = told(asdict(verify_pack(forged, key=key)), key=key)
    assert found.verdict != "All agrees"
    assert f"not {key}" in dict(found.facts)["Signed by"]
    assert "Figures" in dict(found.problems)


def _with_other_figure(document: Any) -> Any:
    """Change the first number found by one."""
    if isinstance(document, dict):
        for name, value in document.items():
            if isinstance(value, float):
                return {**document, name: value + 1}
            changed = _with_other_figure(value)
            if changed is not value:
                return {**document, name: changed}
    if isinstance(document, list):
        for place, value in enumerate(document):
            changed = _with_other_figure(value)
            if changed is not value:
                return [*document[:place], changed, *document[place + 1 :]]
    return document


def test_garbage_is_refused_in_words_and_stops_nothing(tmp_path: Path) -> None:
    with pytest.raises(CheckError, match="evidence pack"):
        check_pack(at(tmp_path, b"\x00garbage"), "")


def test_a_check_that_does_not_end_is_stopped(pack: bytes, tmp_path: Path) -> None:
    with pytest.raises(CheckError, match="was stopped"):
        check_pack(at(tmp_path, pack), "", seconds=0.05)


def test_what_is_received_is_limited_and_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with pytest.raises(CheckError, match="larger than"):
        received(io.BytesIO(b"x" * 3_000_000), largest=2_000_000)
    assert list(tmp_path.iterdir()) == []
    left_over = tmp_path / f"{verify_checks.PREFIX}old.zip"
    left_over.touch()
    os.utime(left_over, (0, 0))
    path = received(io.BytesIO(b"x"), largest=2)
    with pytest.raises(CheckError):
        verify_checks.checked(path, "", _fails)
    assert list(tmp_path.iterdir()) == []


def _fails(path: Path, _key: str) -> dict[str, Any]:
    assert path.exists()
    raise CheckError("no")


def _found(path: Path, key: str) -> dict[str, Any]:
    name = path.read_bytes()[:200].decode("latin-1")
    return {"verdict": "altered", "headline": name, "problems": [{"where": "member", "member": "x", "text": name}],
            "remarks": [name], "fingerprint": key, "document": name, "frame": name, "n_readings": 1}  # fmt: skip


class AtOnce(Background):
    """Long work that is done when it has been asked for."""

    def start(self, key: str, title: str, work: Any, *, by: str, is_personal: bool = False) -> Task:
        self._tasks[key] = Task(key=key, title=title, by=by, is_personal=is_personal)
        self._run(key, work)
        return self._tasks[key]


def test_the_page_takes_a_pack_shows_what_was_found_and_keeps_nothing(
    archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr(verify, "checked", lambda path, key: verify_checks.checked(path, key, _found))
    app = create_app(Store(archive))
    app.server.config[BACKGROUND_KEY] = AtOnce()
    client = app.server.test_client()
    client.set_cookie("_csrf_token", "t", domain="127.0.0.1")
    sent = {"X-CSRFToken": "t", "X-File-Name": "..%2Fp%3Cb%3E.zip", "Host": "127.0.0.1"}
    before = sorted(tmp_path.rglob("*"))

    def send(body: bytes, **more: str) -> Any:
        return client.post(verify.RECEIVE, data=body, headers={**sent, **more}, base_url="http://127.0.0.1")

    assert send(b"x", **{"X-Beside": "no fingerprint"}).status_code == 400
    assert client.post(verify.RECEIVE, data=b"x", base_url="http://127.0.0.1").status_code == 403
    large = {"CONTENT_LENGTH": str(verify.LARGEST_PACK + 1)}
    answer = client.post(verify.RECEIVE, data=b"x", headers=sent, base_url="http://127.0.0.1", environ_overrides=large)
    assert answer.status_code == 413
    assert send(b"<script>alert(1)</script>").status_code == 200
    assert sorted(tmp_path.rglob("*")) == before
    with app.server.test_request_context("/", base_url="http://127.0.0.1"):
        app.server.preprocess_request()
        shown = json.dumps(page_at("/verify", "")[0], cls=plotly.utils.PlotlyJSONEncoder)
    assert "Altered since it was signed" in shown
    assert "p<b>.zip" in shown
    assert archive.history() == []


def open_client(archive: Archive, checks: Checks) -> Any:
    app = create_app(Store(archive), people=archive, open_verify=True)
    app.server.config[verify_open.CHECKS_KEY] = checks
    return app.server.test_client()


def ask(client: Any, data: bytes, key: str = "", **more: Any) -> Any:
    form = {"key": key, "pack": (io.BytesIO(data), "../../p.zip")}
    return client.post(verify_open.PATH, data=form, content_type="multipart/form-data", **more)


def test_without_the_option_a_stranger_is_led_to_sign_in(archive: Archive) -> None:
    client = create_app(Store(archive), people=archive).server.test_client()
    for path in ("/verify", "/verify/open", "/verify/open/x"):
        assert client.get(path, headers={"Accept": "text/html"}).location.startswith("/login")
    assert "/verify" not in client.get("/login").text
    assert ask(client, b"x").status_code == 401


def test_with_it_a_stranger_checks_a_pack_and_reaches_nothing_else(archive: Archive) -> None:
    add_person(archive, "vera", "a long walk along the weir", role="viewer")
    before = archive.history()
    checks = Checks(_found)
    client = open_client(archive, checks)
    html = {"Accept": "text/html"}
    assert client.get("/verify", headers=html).location == verify_open.PATH
    page = client.get(verify_open.PATH)
    assert page.status_code == 200
    assert f'href="{verify_open.PATH}"' in client.get("/login").text
    assert "<script" not in page.text
    assert "Invented" not in page.text
    answer = ask(client, b"<script>alert(1)</script>" + bytes(300_000))
    assert answer.status_code == 303
    checks._pool.shutdown(wait=True)
    result = client.get(answer.location).text
    assert "Altered since it was signed" in result
    assert "&lt;script&gt;" in result
    assert "<script" not in result
    assert client.get(f"{verify_open.PATH}/{'x' * 32}").status_code == 404
    for path in ("/register", "/verify/opened", "/verify/receive", "/register/export/frames.csv", "/_dash-layout",
                 "/verify/open/../../register", "/verify/open/x/y"):  # fmt: skip
        assert client.get(path, headers=html).status_code in (303, 401), path
    assert client.post("/_dash-update-component", json={}).status_code == 401
    assert client.post(verify.RECEIVE, data=b"x").status_code == 401
    assert archive.history() == before


def test_a_stranger_s_upload_is_limited_and_nothing_of_it_stays(
    archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "held").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "held"))
    checks = Checks(_found)
    client = open_client(archive, checks)
    large = {"CONTENT_LENGTH": str(verify_checks.LARGEST_PACK_OF_STRANGERS + 1)}
    assert ask(client, b"x", environ_overrides=large).status_code == 400
    assert ask(client, b"x", key="no fingerprint").status_code == 400
    assert client.post(verify_open.PATH, data={"key": "x"}, content_type="multipart/form-data").status_code == 400
    parts = {f"p{n}": "x" for n in range(20)}
    assert client.post(verify_open.PATH, data=parts, content_type="multipart/form-data").status_code in (400, 413)
    assert list((tmp_path / "held").iterdir()) == []
    assert checks._taking == 0


def test_many_packs_at_once_are_turned_away_by_address_and_in_all(tmp_path: Path) -> None:
    now = [0.0]
    checks = Checks(_found, clock=lambda: now[0])
    for _ in range(PER_ADDRESS):
        checks.admit("1.2.3.4")
        checks.turn_away()
    with pytest.raises(BusyError, match="10 minutes"):
        checks.admit("1.2.3.4")
    now[0] = WINDOW_SECONDS + 1
    checks.admit("1.2.3.4")
    checks.turn_away()
    admitted = 0
    for place in range(100):
        try:
            checks.admit(f"10.0.0.{place}")
        except BusyError:
            continue
        admitted += 1
    assert admitted == MOST_WAITING
    path = tmp_path / "p.zip"
    path.write_bytes(b"x")
    word = checks.start(path, "")
    checks._pool.shutdown(wait=True)
    assert checks.asked(word) is not None
    now[0] += verify_checks.KEPT_SECONDS + 1
    assert checks.asked(word) is None


def test_bombs_are_refused_before_they_unpack() -> None:
    members = {"manifest.json": b"{}", "signature.json": b"{}"}
    many = packed({**members, **{f"{n}": b"" for n in range(500)}})
    small = packed({**members, "readings.csv": b"0" * 20_000_000}, how=zipfile.ZIP_DEFLATED)
    said, larger, smaller = ((n).to_bytes(4, "little") for n in (20_000_000, 900_000_000, 1000))
    for bomb in (many, small.replace(said, larger)):
        with pytest.raises(PackError, match="not one of ours"):
            read_pack(bomb)
    # One that says it is small gives no more than it said.
    assert len(read_pack(small.replace(said, smaller)).members["readings.csv"]) == 1000
