"""The store of the app that is answering the present request."""

from __future__ import annotations

from typing import cast

from flask import current_app

from isohume.dashboard.views import FrameStore

STORE_KEY = "ISOHUME_STORE"


def current_store() -> FrameStore:
    """Return the store that `create_app` was given."""
    return cast("FrameStore", current_app.config[STORE_KEY])
