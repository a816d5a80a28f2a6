"""What the parts of the Files page share: what a file is drawn among, and its controls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
import pandas as pd

from isohume.dashboard.components.blocks import aria

LOGGER_QUESTION = "logger"


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a file is drawn among.

    Attributes
    ----------
    zone : str
        The site's.
    loggers, frames, rooms : sequence of str
        Ids in the register.
    writes : bool
        Whether who looks may add files.
    begins : bool
        The files are to become a new frame: whose logger wrote them is asked there.
    alike : mapping of str to int
        How many files ask the very same, by `asked`.
    """

    zone: str
    loggers: Sequence[str] = ()
    frames: Sequence[str] = ()
    rooms: Sequence[str] = ()
    writes: bool = False
    begins: bool = False
    alike: dict[str, int] | None = None


def only_logger_open(job: dict[str, Any]) -> bool:
    """Whether a file is understood but for the logger that wrote it."""
    asked = [question["id"] for question in job["found"].get("questions", [])]
    return bool(asked) and set(asked) == {LOGGER_QUESTION} and not job["found"].get("refused")


def asked(job: dict[str, Any]) -> str:
    """Return what stands for the questions of a file: two files with the same text here can be answered alike."""
    return repr(
        sorted(
            {(q["id"], repr(q["choices"])) for q in job["found"].get("questions", []) if q["id"] != LOGGER_QUESTION}
        )
    )


def places(around: Around) -> list[str]:
    """List where a logger can be."""
    return [*(f"frame {one}" for one in around.frames), *(f"room {one}" for one in around.rooms)]


def local_minute(moment: str, zone: str) -> str:
    """Write a moment as it is typed: 2026-03-01 10:00 on the site's wall clock."""
    if not moment or moment == "None":
        return ""
    return f"{pd.Timestamp(moment).tz_convert(zone):%Y-%m-%d %H:%M}"


def said_id(job: dict[str, Any], field: str) -> dict[str, str]:
    """Name a control of a file."""
    return {"type": "file-said", "job": job["id"], "field": field}


def select(job: dict[str, Any], field: str, text: str, data: list[Any], value: str | None, **more: Any) -> Any:
    """Draw a control with choices."""
    return dmc.Select(id=said_id(job, field), label=text, data=data, value=value, **more)


def button(job: dict[str, Any], act: str, text: str) -> Any:
    """Draw a button for one file."""
    named: Any = aria(label=f"{text}: {job['name']}")
    main = act in ("keep", "again", "whose", "correct")
    return dmc.Button(
        text, id={"type": "file-act", "act": act, "job": job["id"]}, variant="filled" if main else "default",
        size="sm", **named,
    )  # fmt: skip
