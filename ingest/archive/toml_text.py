"""Values as TOML; the standard library reads TOML but does not write it."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from typing import Any


def toml_value(value: Any) -> str:
    """Return one value as TOML on one line.

    Raises
    ------
    TypeError
        TOML has no such value.

    Examples
    --------
    >>> toml_value({"width_mm": 320, "species": "Oak", "faces": [1, 2]})
    '{ width_mm = 320, species = "Oak", faces = [1, 2] }'
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        # A JSON string is a TOML basic string, except that TOML wants the delete character escaped.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.datetime | dt.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key(name)} = {toml_value(item)}" for name, item in value.items() if item is not None)
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml_value, value))}]"
    raise TypeError(f"{value!r}: TOML has no such value.")


def _key(name: str) -> str:
    is_bare = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if is_bare else json.dumps(name, ensure_ascii=False)
