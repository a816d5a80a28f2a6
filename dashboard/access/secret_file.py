"""A secret kept in a file beside the register: made once, readable by its owner only."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

_OWNER_ONLY = 0o600


def kept_secret(path: Path, make: Callable[[], bytes]) -> bytes:
    """Return the secret in `path`, making it on first use.

    The file is created with tight permissions, never widened and then narrowed; of two processes that make it at the
    same moment the first one's secret stays.
    """
    if not path.exists():
        secret = make()
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _OWNER_ONLY)
        except FileExistsError:
            return path.read_bytes()
        with os.fdopen(handle, "wb") as file:
            file.write(secret)
    return path.read_bytes()
