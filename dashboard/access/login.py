"""Signing in and out, and the marks a browser carries: its session, and the token of our own pages."""

from __future__ import annotations

import hmac
import secrets
import time
from functools import partial
from typing import cast
from urllib.parse import urlsplit

from flask import Flask, Response, redirect, request, session

from isohume.dashboard.access.login_page import login_page
from isohume.dashboard.access.people import Person, find_person, signed_in
from isohume.dashboard.access.throttle import Throttle
from isohume.ingest.archive.archive import Archive

CSRF_COOKIE, CSRF_HEADER, CSRF_FIELD = "_csrf_token", "X-CSRFToken", "csrf_token"
SESSION_HOURS = 12
_LONGEST_NAME = 200
_FORM_PATHS = frozenset({"/login", "/logout"})


def set_token(response: Response, token: str, *, https: bool) -> None:
    """Give the browser the token of our pages; not HttpOnly: their script sends it back, as no other site can."""
    response.set_cookie(CSRF_COOKIE, token, samesite="Strict", secure=https)


def add_login(server: Flask, archive: Archive, *, open_page: tuple[str, str] | None = None) -> None:
    """Add the sign-in page, and signing out, to `server`; `open_page` is named there: its path and name."""
    throttle = Throttle(time.monotonic)
    page = partial(login_page, open_page=open_page)

    @server.get("/login")
    def show_login() -> Response:
        token = request.cookies.get(CSRF_COOKIE) or secrets.token_urlsafe(32)
        response = Response(page(token=token, next_path=own_path(request.args.get("next", "/"))))
        set_token(response, token, https=bool(server.config["SESSION_COOKIE_SECURE"]))
        response.headers["Cache-Control"] = "no-store"
        return response

    @server.post("/login")
    def log_in() -> Response:
        name = request.form.get("name", "")[:_LONGEST_NAME].strip()
        next_path = own_path(request.form.get("next", "/"))
        address = request.remote_addr or ""
        token = request.cookies.get(CSRF_COOKIE, "")
        wait = throttle.wait_seconds(name, address)
        if wait > 0:
            said = f"Too many tries. Wait {wait / 60:.0f} minutes, or ask an administrator for a new password."
            return Response(page(token=token, next_path=next_path, said=said), status=429)
        if not signed_in(archive, name, request.form.get("password", "")):
            throttle.failed(name, address)
            said = "Name and password do not go together."
            return Response(page(token=token, next_path=next_path, said=said), status=401)
        throttle.succeeded(name)
        found = find_person(archive, name)
        session.clear()
        session["name"], session["mark"], session["since"] = name, found[1] if found else "", time.time()
        return cast("Response", redirect(next_path, code=303))

    @server.post("/logout")
    def log_out() -> Response:
        session.clear()
        return cast("Response", redirect("/login", code=303))


def person_of_session(archive: Archive) -> Person | None:
    """Return the person of the signed session; None if it is old, or person or password have changed since."""
    if time.time() - float(session.get("since", 0.0)) > SESSION_HOURS * 3600:
        return None
    found = find_person(archive, str(session.get("name", "")))
    if found is None or not _equal(found[1], str(session.get("mark", ""))):
        return None
    return found[0]


def from_our_pages() -> bool:
    """Tell whether the request carries the token of our own cookie, as only our pages can send it."""
    cookie = request.cookies.get(CSRF_COOKIE, "")
    sent = request.headers.get(CSRF_HEADER) or (request.form.get(CSRF_FIELD) if request.path in _FORM_PATHS else None)
    return bool(cookie) and _equal(cookie, sent or "")


def _equal(one: str, other: str) -> bool:
    # Encoded first: comparing text beyond ASCII raises.
    return hmac.compare_digest(one.encode(), other.encode())


def own_path(path: str) -> str:
    """Return a path of this server, "/" for anything that could lead elsewhere."""
    parts = urlsplit(path)
    is_ours = path.startswith("/") and not path.startswith(("//", "/\\")) and not parts.netloc and not parts.scheme
    return path.rstrip("?") if is_ours and not any(ord(letter) < 32 for letter in path) else "/"
