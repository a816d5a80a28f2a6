"""The check of a pack for people without an account: plain pages without scripts, which never touch the archive."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any, cast

from flask import Flask, Response, current_app, redirect, request

from isohume.dashboard.components.verify_checks import (
    LARGEST_PACK_OF_STRANGERS,
    BusyError,
    CheckError,
    Checks,
    key_typed,
    received,
)
from isohume.dashboard.components.verify_result import Told, told

PATH = "/verify/open"
ENDPOINTS = frozenset({"verify-open", "verify-open-take", "verify-open-result"})
CHECKS_KEY = "ISOHUME_OPEN_CHECKS"
LONGEST_FIELD = 2_000
_HEAD = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
{again}<title>Check an evidence pack · isohume</title>
<link rel="icon" type="image/svg+xml" href="/assets/icon.svg">
<link rel="stylesheet" href="/assets/00_fonts.css">
<link rel="stylesheet" href="/assets/10_tokens.css">
<link rel="stylesheet" href="/assets/77_verify.css">
</head>
<body class="verify-open">
<main>
<p class="wordmark">isohume</p>
<h1>Check an evidence pack</h1>
"""
_FORM = """<p class="lede">Whether a pack is as it was signed, and its figures follow from its readings. The pack is
checked and not kept; nothing else on this server is reached from here.</p>
{said}
<form method="post" action="/verify/open" enctype="multipart/form-data">
<label for="key">Fingerprint of the sender’s key</label>
<p class="help" id="key-help">As the sender gave it by telephone or on paper, not as the pack says. It may be left
out.</p>
<input id="key" name="key" autocomplete="off" maxlength="80" aria-describedby="key-help">
<label for="pack">The pack (.zip, up to 100 MB)</label>
<input id="pack" name="pack" type="file" accept=".zip" required>
<button type="submit">Check this pack</button>
</form>
"""
_FOOT = "</main>\n</body>\n</html>\n"


def is_open() -> bool:
    """Tell whether people without an account may check packs on this server."""
    return CHECKS_KEY in current_app.config


def open_to_strangers(server: Flask, checks: Checks | None = None) -> None:
    """Add the pages for people without an account."""
    server.config[CHECKS_KEY] = checks or Checks()
    server.add_url_rule(PATH, endpoint="verify-open", view_func=show, methods=["GET"])
    server.add_url_rule(PATH, endpoint="verify-open-take", view_func=take, methods=["POST"])
    server.add_url_rule(f"{PATH}/<word>", endpoint="verify-open-result", view_func=result, methods=["GET"])


def show() -> Response:
    """Show the form."""
    return _page(_FORM.format(said=""))


def take() -> Response:
    """Take a pack; its result stands under an address that only its sender is told."""
    try:
        _checks().admit(request.remote_addr or "")
    except BusyError as error:
        return _page(_FORM.format(said=_said(str(error))), status=429)
    started = False
    try:
        size = request.content_length
        if size is None or size > LARGEST_PACK_OF_STRANGERS:
            raise CheckError("The file is larger than 100 MB, or of unknown size.")  # noqa: TRY301
        # A little more for the form around the file.
        request.max_content_length = LARGEST_PACK_OF_STRANGERS + LONGEST_FIELD
        request.max_form_parts = 5
        file = request.files.get("pack")
        if file is None or not file.filename:
            raise CheckError("No file came with the form: choose the pack first.")  # noqa: TRY301
        key = key_typed(request.form.get("key", "")[:80])
        path = received(file.stream, largest=LARGEST_PACK_OF_STRANGERS)
        started = True
        word = _checks().start(path, key)
    except (CheckError, ValueError) as error:
        return _page(_FORM.format(said=_said(str(error))), status=400)
    finally:
        if not started:
            _checks().turn_away()
    return cast("Response", redirect(f"{PATH}/{word}", code=303))


def result(word: str) -> Response:
    """Show how far a check is, or what it found."""
    asked = _checks().asked(word)
    if asked is None:
        return _page(_FORM.format(said=_said("That result is no longer here. Check the pack again.")), status=404)
    if asked.state in ("waiting", "running"):
        text = "Your pack waits for its turn." if asked.state == "waiting" else "Your pack is being checked."
        return _page(f'<p class="lede" role="status">{text} This page asks again by itself.</p>', again=True)
    if asked.state == "failed" or asked.result is None:
        return _page(f"{_said(asked.told)}<p><a href='{PATH}'>Check another pack</a></p>")
    return _page(f"{_drawn(told(asked.result, key=asked.key))}<p><a href='{PATH}'>Check another pack</a></p>")


def _checks() -> Checks:
    return cast("Checks", current_app.config[CHECKS_KEY])


def _said(text: str) -> str:
    return f'<p class="said" role="alert">{escape(text)}</p>\n'


def _drawn(found: Told) -> str:
    """Write a result as HTML; everything from the pack is text."""
    parts = [
        f'<div class="verify-verdict {found.tone}" role="status"><h2>{escape(found.verdict)}</h2>',
        f"<p>{escape(found.headline)}</p></div>",
    ]
    for where, texts in found.problems:
        parts.append(f"<h3>{escape(where)}</h3>{_list(texts)}")
    parts.append(f"<h2>The pack</h2><dl>{_pairs(dict(found.facts))}</dl><h2>What this means</h2>")
    parts += [f"<p>{escape(remark)}</p>" for remark in found.remarks]
    return "\n".join(parts)


def _list(texts: tuple[str, ...]) -> str:
    return f"<ul>{''.join(f'<li>{escape(text)}</li>' for text in texts)}</ul>"


def _pairs(pairs: Mapping[str, str]) -> str:
    return "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in pairs.items())


def _page(body: str, *, status: int = 200, again: bool = False) -> Response:
    refresh = '<meta http-equiv="refresh" content="2">\n' if again else ""
    headers: Any = {"Cache-Control": "no-store"}
    text = _HEAD.format(again=refresh) + body + _FOOT
    return Response(text, status=status, mimetype="text/html", headers=headers)
