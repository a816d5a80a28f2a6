"""Security headers for every answer: no outside host, no framing, no guessing of types."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Flask, Response, request

# Looks and scripts, the same for everybody.
MAY_BE_STORED = ("/assets/", "/_dash-component-suites/", "/_favicon.ico")


def content_policy(script_hashes: Sequence[str]) -> str:
    """Return the content policy: everything from this server, inline scripts only by hash."""
    scripts = " ".join(["'self'", *(f"'{digest.strip(chr(39))}'" for digest in script_hashes)])
    return "; ".join(
        [
            "default-src 'none'",
            f"script-src {scripts}",
            "style-src 'self' 'unsafe-inline'",  # Plotly and Mantine set inline styles
            "img-src 'self' data: blob:",
            "font-src 'self' data:",
            "connect-src 'self'",
            "worker-src 'self' blob:",
            "manifest-src 'self'",
            "object-src 'none'",
            "frame-ancestors 'none'",
            "base-uri 'self'",
            "form-action 'self'",
        ]
    )


def guard(server: Flask, script_hashes: Sequence[str]) -> None:
    """Send the headers with every answer of `server`."""
    headers = {
        "Content-Security-Policy": content_policy(script_hashes),
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "same-origin",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    }

    @server.after_request
    def add_headers(response: Response) -> Response:
        for name, value in headers.items():
            response.headers.setdefault(name, value)
        if not request.path.startswith(MAY_BE_STORED):
            # What the archive holds stays out of the browser's cache, which whoever comes next can read.
            response.headers.setdefault("Cache-Control", "no-store")
        return response
