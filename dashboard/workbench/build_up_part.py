"""The build-up of a frame: how deep its package is against the rebate, drawn to scale."""

from __future__ import annotations

from typing import Any

from dash import html

from isohume.analysis.build_up import SCREW_TIP_TO_FACE_MM, BuildUp, BuildUpDepths, build_up
from isohume.dashboard.components.blocks import KeyFigure, key_figures, table
from isohume.dashboard.components.glyphs import data_uri
from isohume.dashboard.figures.section_drawing import in_words, section_svg
from isohume.dashboard.formats import number
from isohume.dashboard.workbench.fields import Choice, Number, Typed
from isohume.dashboard.workbench.part import CannotReckonError, Context, Group, Part, Sheets

THROUGH, BESIDE = "through", "beside"
DEEPEST_MM = 400.0


def groups(_context: Context) -> tuple[Group, ...]:
    """Return the fields."""

    def depth(name: str, label: str, note: str = "", *, needed: bool = False) -> Number:
        return Number(name=name, label=label, unit="mm", low=0, high=DEEPEST_MM, needed=needed, note=note)

    return (
        Group(
            title="The frame",
            fields=(
                depth("rebate", "Rebate, depth", "from its lip to the back", needed=True),
                depth("frame_deep", "Frame, depth", "face to back, at the screw", needed=True),
            ),
        ),
        Group(
            title="The package, from the face",
            fields=(
                depth("cushion", "Cushion on the lip"),
                depth("glass", "Glazing", needed=True),
                depth("spacer", "Spacer", needed=True),
                depth("board_deep", "Panel", needed=True),
                depth("warp", "Its remaining warp", "rise that it keeps"),
                depth("buffer", "Board, as bought"),
                Number(
                    name="gives", label="Board gives way by", unit="%", low=0, high=95, note="of its thickness"
                ),
                depth("back", "Backing", needed=True),
                Choice(
                    name="screw", label="Screws go", default=THROUGH,
                    choices=((THROUGH, "through the backing"), (BESIDE, "beside the backing")),
                ),
            ),
        ),
    )  # fmt: skip


def example(_context: Context) -> dict[str, str]:
    """Fill in a package that is deeper than its rebate."""
    return {
        "rebate": "14", "frame_deep": "32", "cushion": "1", "glass": "4.4", "spacer": "8", "board_deep": "9",
        "warp": "1.5", "buffer": "4", "gives": "25", "back": "3", "screw": THROUGH,
    }  # fmt: skip


def worked(typed: Typed) -> tuple[BuildUp, BuildUpDepths]:
    """Work out the depths.

    Raises
    ------
    CannotReckonError
        The depths make no frame.
    """
    told = {name: typed.number(name) or 0.0 for name in ("cushion", "warp", "buffer", "gives")}
    try:
        design = BuildUp(
            rebate_mm=typed.amount("rebate"),
            frame_mm=typed.amount("frame_deep"),
            glazing_mm=typed.amount("glass"),
            spacer_mm=typed.amount("spacer"),
            panel_mm=typed.amount("board_deep"),
            backing_mm=typed.amount("back"),
            face_cushion_mm=told["cushion"],
            remaining_warp_mm=told["warp"],
            board_mm=told["buffer"],
            board_compression=told["gives"] / 100,
        )
        return design, build_up(design, screw_through_backing=typed.text("screw") != BESIDE)
    except ValueError as error:
        raise CannotReckonError(str(error)) from None


def result(_context: Context, typed: Typed, _picked: str) -> list[Any]:
    """Show collar and screw, and the section."""
    design, depths = worked(typed)
    collar = (
        KeyFigure("Collar", "none needed", f"{depths.spare_mm:g} mm of rebate to spare")
        if depths.collar_mm == 0
        else KeyFigure("Collar", number(depths.collar_mm, 1, "mm"), "deep, behind the frame")
    )
    screw = (
        KeyFigure("Longest screw", "none", f"no screw keeps {SCREW_TIP_TO_FACE_MM:g} mm from the face")
        if depths.longest_screw_mm is None
        else KeyFigure(
            "Longest screw", number(depths.longest_screw_mm, 1, "mm"),
            f"under its head, {depths.fixing}; tip {SCREW_TIP_TO_FACE_MM:g} mm from the face (common practice)",
        )
    )  # fmt: skip
    drawing = html.Img(
        src=data_uri(section_svg(design, depths)), alt=in_words(design, depths), className="workbench-section"
    )
    rows = [
        [str(place), layer.name, number(layer.depth_mm, 1)] for place, layer in enumerate(design.layers(), start=1)
    ]
    package = KeyFigure("Package", number(depths.package_mm, 1, "mm"), "all layers, warp and compression counted")
    return [
        key_figures([collar, screw, package]),
        html.Figure(
            [
                drawing,
                html.Figcaption(
                    "Section through one side of the frame, face to the left. All depths to one scale; the heights "
                    "are not.",
                    className="remark",
                ),
            ],
            className="workbench-drawing",
        ),
        table(["", "Layer", "mm"], rows, caption="The package, from the face backwards", numeric=(2,)),
        html.Ul([html.Li(note) for note in depths.notes], className="notes"),
    ]


def sheets(_context: Context, typed: Typed) -> Sheets:
    """Return layers and depths for a spreadsheet."""
    design, depths = worked(typed)
    longest = None if depths.longest_screw_mm is None else round(depths.longest_screw_mm, 2)
    rows: list[list[str | float | None]] = [[layer.name, round(layer.depth_mm, 2)] for layer in design.layers()]
    rows += [
        ["package", round(depths.package_mm, 2)],
        ["rebate", design.rebate_mm],
        ["collar", round(depths.collar_mm, 2)],
        ["rebate to spare", round(depths.spare_mm, 2)],
        [f"longest screw, {depths.fixing}", longest],
    ]
    return {"build-up": (["layer or depth", "mm"], rows)}


PART = Part(
    key="build-up",
    title="Build-up",
    lede="How deep the package is against the rebate: the collar it needs, and the longest screw that stays inside.",
    groups=groups,
    example=example,
    result=result,
    sheets=sheets,
)
