"""How long moisture takes through the thickness of a panel, as it is shown."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from dash import html

from isohume.analysis.constants import WOOD_DIFFUSIVITY_M2_PER_S
from isohume.analysis.panel_movement import SOLID_WOOD
from isohume.analysis.plate import plate_step_response, plate_time_constant
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result
from isohume.dashboard.figures.plate_response import plate_response_figure
from isohume.dashboard.formats import days


def shown(thickness: float | None, faces_open: str, support: str) -> list[Any]:
    """Show how long a panel takes to follow, and the course; or why that cannot be told."""
    if thickness is None:
        return [no_result("The thickness of the panel is not known.", lead="No time.")]
    if support != SOLID_WOOD:
        return [no_result(f"No diffusion figure for {support} was found.", lead="No time.")]
    faces = 2 if faces_open == "2" else 1
    slowest = plate_time_constant(thickness, faces_open=2 if faces == 2 else 1).total_seconds() / 86400
    half, most = (share_reached(thickness, faces, share) for share in (0.5, 0.9))
    side = "both faces open" if faces == 2 else "painted face sealed"
    return [
        key_figures(
            [
                KeyFigure("Half of the change", days(half), f"{half:.2g} days, {side}"),
                KeyFigure("Nine tenths", days(most), f"{most:.2g} days, {side}"),
                KeyFigure("Slowest mode", days(slowest), "time constant; a lower bound in practice"),
            ]
        ),
        graph(
            plate_response_figure(thickness, faces_open=faces),
            description=f"Share of a change of humidity that a panel of {thickness:g} mm has followed, against days, "
            f"with one face sealed and with both open; half after {half:.2g} days with {side}.",
        ),
        html.P(
            f"Diffusion in a plate, D = {WOOD_DIFFUSIVITY_M2_PER_S:.0e} m²/s across the grain (spruce). Paint, ground "
            "and still air make it longer, moisture shorter. The frame itself is slower still: its half-time stands "
            "on its own page.",
            className="remark",
        ),
    ]  # fmt: skip


def share_reached(thickness_mm: float, faces: int, share: float) -> float:
    """Return after how many days a panel has followed `share` of a change."""
    open_faces: Any = faces
    slowest = plate_time_constant(thickness_mm, faces_open=open_faces).total_seconds() / 86400
    elapsed = slowest * np.linspace(0, 5, 5001)
    reached = plate_step_response(elapsed, thickness_mm=thickness_mm, faces_open=open_faces)
    return float(np.interp(share, reached, elapsed))


def sheet(thickness_mm: float) -> tuple[Sequence[str], Sequence[Sequence[float]]]:
    """Return the course through the thickness for a spreadsheet."""
    longest = 4 * plate_time_constant(thickness_mm).total_seconds() / 86400
    elapsed = longest * np.linspace(0, 1, 61) ** 2
    one, both = (plate_step_response(elapsed, thickness_mm=thickness_mm, faces_open=faces) for faces in (1, 2))
    rows = [
        [round(float(day), 3), round(float(sealed), 4), round(float(opened), 4)]
        for day, sealed, opened in zip(elapsed, one, both, strict=True)
    ]
    return ["days", "share, one face sealed", "share, both faces open"], rows
