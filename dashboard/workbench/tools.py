"""The four tools, in the order of the workbench."""

from __future__ import annotations

from isohume.dashboard.planning import CAUTION
from isohume.dashboard.workbench import (
    before_built_shown,
    build_up_part,
    plant_failure,
    reconditioning,
    salts,
)
from isohume.dashboard.workbench.part import Part, Tool

TOOLS = (
    Tool(
        slug="before-it-is-built",
        title="Before it is built",
        lede="A frame on paper: its half-time, a year of a room through it, the board or tightness that winter asks for, and how deep it becomes.",  # noqa: E501
        parts=(before_built_shown.PART, build_up_part.PART),
        methods=(
            ("construction", "Half-time from materials"),
            ("build-up", "Build-up"),
            ("movement", "Movement of the panel"),
        ),
        cautions=(
            CAUTION,
            "Glass, heavy frames and drilling hurt people and paintings: two people, protection, local rules.",
        ),
    ),
    Tool(
        slug="reconditioning",
        title="Reconditioning",
        lede="The water between a frame’s present humidity and the one wanted, part by part, and the days a panel needs to follow.",  # noqa: E501
        parts=(reconditioning.PART,),
        methods=(("water", "Water to move"), ("moisture", "Moisture of the panel")),
        cautions=reconditioning.CAUTIONS,
    ),
    Tool(
        slug="salts",
        title="Salts",
        lede="A logger checked over saturated salts: the true humidity there, what to add to its readings, and a calibration to keep.",  # noqa: E501
        parts=(salts.PART,),
        methods=(),
        cautions=salts.CAUTIONS,
    ),
    Tool(
        slug="plant-failure",
        title="Plant failure",
        lede="The heating or humidifier stops: hours until each frame leaves its band, the first in front, as a sheet for the wall.",  # noqa: E501
        parts=(plant_failure.PART,),
        methods=(("plant-failure", "If the plant fails"), ("exchange", "Exchange with the room")),
        cautions=plant_failure.CAUTIONS,
    ),
)  # fmt: skip


def tool_at(slug: str) -> Tool | None:
    """Return the tool at an address, None where there is none."""
    return next((tool for tool in TOOLS if tool.slug == slug), None)


def part_named(key: str) -> tuple[Tool, Part]:
    """Return a part with its tool.

    Raises
    ------
    LookupError
        There is none of that name.
    """
    for tool in TOOLS:
        for part in tool.parts:
            if part.key == key:
                return tool, part
    raise LookupError(f"The workbench has no part {key!r}.")
