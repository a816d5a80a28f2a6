"""QR codes to the pages of frames, as SVG (ISO/IEC 18004, by segno)."""

from __future__ import annotations

import io
from urllib.parse import urlsplit

import segno

from isohume.dashboard.components.frame_row import frame_address

QUIET_ZONE = 2  # modules; the paper around it is white
CORRECTION = "m"  # a label gets scratched


def checked_address(text: str) -> str:
    """Return the address of a server without a closing slash; "" stays "".

    Raises
    ------
    ValueError
        It is no web address.
    """
    if not text:
        return ""
    parts = urlsplit(text)
    if parts.scheme not in {"http", "https"} or not parts.netloc:
        raise ValueError(f'Address "{text}": expected a web address such as https://frames.museum.example.')
    return text.rstrip("/")


def qr_svg(text: str) -> str:
    """Return the QR code of a text as an SVG document."""
    buffer = io.BytesIO()
    segno.make(text, error=CORRECTION, micro=False).save(
        buffer, kind="svg", border=QUIET_ZONE, omitsize=True, xmldecl=False, svgclass=None, lineclass=None
    )
    return buffer.getvalue().decode()


def frame_qr(address: str, frame_id: str) -> dict[str, str]:
    """Return code and address of a frame's page; both empty where no server is known."""
    if not address:
        return {"svg": "", "text": ""}
    text = f"{checked_address(address)}{frame_address(frame_id)}"
    return {"svg": qr_svg(text), "text": text}
