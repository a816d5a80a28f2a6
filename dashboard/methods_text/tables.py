"""Every table of the Methods page by its name."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from isohume.dashboard.methods_text.accuracy import accuracy_tables
from isohume.dashboard.methods_text.published import PublishedTable
from isohume.dashboard.methods_text.reference import reference_tables


@cache
def tables() -> Mapping[str, PublishedTable]:
    """Return the tables; one whose file is not packaged is missing."""
    return {table.name: table for table in (*accuracy_tables(), *reference_tables())}
