"""The gate in front of every request: which host, who it is, and that the request comes from our own pages."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, ParamSpec, TypeVar, cast
from urllib.parse import urlencode, urlsplit

from flask import Flask, Response, abort, g, redirect, request
from werkzeug.middleware.proxy_fix import ProxyFix

from isohume.dashboard.access.login import (
    CSRF_COOKIE,
    add_login,
    from_our_pages,
    own_path,
    person_of_session,
    set_token,
)
from isohume.dashboard.access.people import AT_THIS_MACHINE, Person, Role
from isohume.dashboard.access.secret_file import kept_secret
from isohume.ingest.archive.archive import Archive

SESSION_KEY_FILE = "session_key.bin"
LOCAL_NAMES = frozenset({"127.0.0.1", "localhost", "::1"})
# What may be had without signing in: the sign-in page, and the looks and pictures it uses.
_OPEN_PATHS = ("/login", "/assets/")
_SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})

P = ParamSpec("P")
R = TypeVar("R")


def person() -> Person:
    """Return who is at work in the present request."""
    return cast("Person", g.person)


def needs(role: Role) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Refuse a callback or route to whoever does not have `role`; the check runs on the server, at every call."""

    def decorate(function: Callable[P, R]) -> Callable[P, R]:
        @wraps(function)
        def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
            if not person().may(role):
                abort(403, f"This needs the role {role}; you are signed in as {person().role}.")
            return function(*args, **kwargs)

        cast("Any", guarded).needs_role = role
        return guarded

    return decorate


def close_gate(
    server: Flask,
    archive: Archive | None,
    *,
    https: bool = False,
    open_endpoints: frozenset[str] = frozenset(),
    led_elsewhere: Mapping[str, str] | None = None,
) -> None:
    """Put the gate in front of every request of `server`.

    Parameters
    ----------
    server : Flask
    archive : Archive or None
        Holds the users, and beside the register the key that signs the sessions. None where the pages are served to
        this machine only: nobody signs in, but only requests to its own names and from its own pages count (other web
        pages open in the same browser must not reach it).
    https : bool
        A proxy with TLS stands in front: cookies travel by it only, and it says who asks.
    open_endpoints : frozenset of str
        Routes that anybody may open and send to; they know nobody, and what is sent there needs no token of ours.
    led_elsewhere : mapping, optional
        Paths, and the open one to which a stranger is led from each.
    """
    if archive is not None:
        server.secret_key = kept_secret(archive.folder / SESSION_KEY_FILE, lambda: secrets.token_bytes(32))
        opened = next(iter((led_elsewhere or {}).values()), "")
        add_login(server, archive, open_page=(opened, "Check an evidence pack without signing in") if opened else None)
    server.config.update(
        SESSION_COOKIE_NAME="isohume_session",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_SECURE=https,
    )
    if https:
        server.wsgi_app = ProxyFix(server.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]

    elsewhere = led_elsewhere or {}

    @server.before_request
    def check() -> Response | None:
        # By the route that answers, not by the path: a path may look like one below an open page and be another.
        is_open = request.endpoint in open_endpoints
        if is_open and archive is not None:
            return None
        answer = _identify_local(request.host) if archive is None else _identify(archive)
        if answer is not None and request.method == "GET" and request.path in elsewhere:
            return cast("Response", redirect(elsewhere[request.path], code=303))
        if answer is None and is_open:
            return None
        if answer is None and request.method not in _SAFE_METHODS and not from_our_pages():
            abort(403, "The request did not come from a page of this server. Reload the page and try again.")
        return answer

    @server.after_request
    def give_token(response: Response) -> Response:
        has_one = CSRF_COOKIE in request.cookies or CSRF_COOKIE in str(response.headers.get("Set-Cookie", ""))
        if response.mimetype == "text/html" and not has_one:
            set_token(response, secrets.token_urlsafe(32), https=https)
        return response


def _identify_local(host: str) -> Response | None:
    if urlsplit(f"//{host}").hostname not in LOCAL_NAMES:
        text = "These pages answer on 127.0.0.1 only. Open them at that address."
        return Response(text, status=400, mimetype="text/plain")
    g.person = AT_THIS_MACHINE
    return None


def _identify(archive: Archive) -> Response | None:
    """Set who asks; return the answer to somebody who has not signed in."""
    if request.path.startswith(_OPEN_PATHS):
        return None
    found = person_of_session(archive)
    if found is not None:
        g.person = found
        return None
    if request.method == "GET" and request.accept_mimetypes.accept_html and not request.path.startswith("/_"):
        return cast("Response", redirect(f"/login?{urlencode({'next': own_path(request.full_path)})}", code=303))
    return Response("Sign in first.", status=401, mimetype="text/plain")
