"""What the app that is answering the present request was given: its store, its archive, its long work."""

from __future__ import annotations

from typing import cast

from flask import current_app

from isohume.dashboard.background import Background
from isohume.dashboard.views import FrameStore
from isohume.ingest.archive.archive import Archive

STORE_KEY, BACKGROUND_KEY = "ISOHUME_STORE", "ISOHUME_BACKGROUND"


def current_store() -> FrameStore:
    """Return the store that `create_app` was given."""
    return cast("FrameStore", current_app.config[STORE_KEY])


def current_archive() -> Archive | None:
    """Return the archive behind the pages, None where they show something else."""
    return cast("Archive | None", getattr(current_store(), "archive", None))


def background() -> Background:
    """Return the long work of this server."""
    return cast("Background", current_app.config[BACKGROUND_KEY])
