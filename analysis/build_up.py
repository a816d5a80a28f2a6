"""The depth of a sealed frame: the collar its rebate lacks, and the longest screw that stays inside the frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# Common practice: a screw's tip stays at least 3/8 inch from the face of the frame.
SCREW_TIP_TO_FACE_MM = 9.5
# Common practice: about 6 mm of air between paint and glazing, more for a large acrylic sheet, which flexes.
LEAST_GAP_TO_GLAZING_MM = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer of the package, from the face backwards."""

    name: str
    depth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildUp:
    """The package that goes into a frame's rebate, and the frame around it. All depths in mm.

    Attributes
    ----------
    rebate_mm : depth of the rebate, from its lip to the back of the frame
    frame_mm : depth of the frame from face to back, where the screw goes in
    face_cushion_mm, glazing_mm, spacer_mm, panel_mm, backing_mm : layers of the package
    remaining_warp_mm : rise of the panel that it keeps in the frame
    board_mm, board_compression : the buffering board as bought, and the share of its thickness it gives way (0-1)
    """

    rebate_mm: float
    frame_mm: float
    glazing_mm: float
    spacer_mm: float
    panel_mm: float
    backing_mm: float
    face_cushion_mm: float = 0.0
    remaining_warp_mm: float = 0.0
    board_mm: float = 0.0
    board_compression: float = 0.0

    def __post_init__(self) -> None:
        """Refuse depths that cannot be."""
        depths = (
            self.rebate_mm,
            self.frame_mm,
            self.glazing_mm,
            self.spacer_mm,
            self.panel_mm,
            self.backing_mm,
            self.face_cushion_mm,
            self.remaining_warp_mm,
            self.board_mm,
        )
        if min(depths) < 0:
            raise ValueError(f"A depth of {min(depths):g} mm is not possible: give every depth as 0 mm or more.")
        if not 0 <= self.board_compression < 1:
            raise ValueError(
                f"The board cannot lose {self.board_compression:.0%} of its thickness: give 0 to below 1."
            )
        if self.rebate_mm > self.frame_mm:
            raise ValueError("The rebate cannot be deeper than the frame: measure both from the same side.")

    def layers(self) -> tuple[Layer, ...]:
        """Return the package from the face backwards, layers of no depth left out."""
        package = (
            Layer(name="cushion", depth_mm=self.face_cushion_mm),
            Layer(name="glazing", depth_mm=self.glazing_mm),
            Layer(name="spacer", depth_mm=self.spacer_mm),
            Layer(name="panel", depth_mm=self.panel_mm),
            Layer(name="remaining warp", depth_mm=self.remaining_warp_mm),
            Layer(name="board, compressed", depth_mm=self.board_mm * (1 - self.board_compression)),
            Layer(name="backing", depth_mm=self.backing_mm),
        )
        return tuple(layer for layer in package if layer.depth_mm > 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildUpDepths:
    """What the package asks of the frame [mm]."""

    package_mm: float
    collar_mm: float  # 0 where the rebate takes it all
    spare_mm: float  # rebate left behind the package
    longest_screw_mm: float | None
    fixing: Literal["through the backing", "beside the backing"]
    notes: tuple[str, ...]


def build_up(design: BuildUp, *, screw_through_backing: bool = True) -> BuildUpDepths:
    """Compute collar depth and longest screw of a frame.

    Parameters
    ----------
    design : BuildUp
        Package and frame.
    screw_through_backing : bool
        Whether the screw passes the backing and the collar; otherwise it passes the collar alone.

    Returns
    -------
    BuildUpDepths
        The screw is measured under its head and keeps its tip 9.5 mm from the face (common practice).
    """
    package = sum(layer.depth_mm for layer in design.layers())
    # A backing that the screws pass lies on the back of the frame or collar; any other lies in the rebate.
    behind = design.backing_mm if screw_through_backing else 0.0
    over = package - behind - design.rebate_mm
    collar = max(over, 0.0)
    passed = collar + behind
    longest = passed + design.frame_mm - SCREW_TIP_TO_FACE_MM
    notes = []
    if longest <= passed:
        notes.append(f"The frame is {design.frame_mm:g} mm deep: no screw from behind stays 9.5 mm from its face.")
    if design.spacer_mm < LEAST_GAP_TO_GLAZING_MM + design.remaining_warp_mm:
        notes.append(
            "Common practice keeps about 6 mm between paint and glazing beyond the panel's remaining warp, more under "
            "a large acrylic sheet, which flexes."
        )
    if design.remaining_warp_mm > 0:
        notes.append(
            "Let a warped panel sit in its own shape: the depth given takes its warp up, it is not pressed flat."
        )
    notes.append("Drive screws into plastic backing by hand, with the painting protected from dust and from the tool.")
    return BuildUpDepths(
        package_mm=package,
        collar_mm=collar,
        spare_mm=max(-over, 0.0),
        longest_screw_mm=longest if longest > passed else None,
        fixing="through the backing" if screw_through_backing else "beside the backing",
        notes=tuple(notes),
    )
