"""The half-time of a frame without a logger: from its construction as the register knows it."""

from __future__ import annotations

from isohume.analysis.construction import Buffer, FrameDesign, Sheet, design_half_time, sheet_resistance_m
from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.frame import FrameFacts, Panel
from isohume.analysis.plate import plate_time_constant
from isohume.analysis.sorption import emc_percent
from isohume.analysis.tables import table

ONE_DAY_SECONDS = 86400.0
MIDDLE_PERCENT = 50.0
# Common practice for a glazing whose thickness nobody wrote down.
USUAL_GLAZING_MM = 3.0


def half_time_from_construction(frame: FrameFacts, *, temperature_celsius: float = 20.0) -> KnownHalfTime | str:
    """Work out a half-time from what the register knows, or return what it lacks.

    Parameters
    ----------
    frame : FrameFacts
        Air volume and air exchange are needed, and the mass of board or panel. A panel counts with its whole dry mass
        if it keeps up with the air: where the frame would be faster than three times the panel's own response, the
        relation is refused. A glazing that lets vapour through counts with the panel's area and 3 mm.
    temperature_celsius : float [°C]

    Returns
    -------
    KnownHalfTime or str
        Source `construction`, good to a factor of about two: the air exchange is seldom measured.
    """
    built, board = frame.construction, frame.panel
    needed = {"the air volume": built.air_volume_litres, "the air exchange": built.air_exchange_per_day}
    missing = [name for name, value in needed.items() if not value]
    if built.air_volume_litres is None or built.air_exchange_per_day is None or missing:
        return f"No half-time from the construction: the register lacks {' and '.join(missing)}."
    capacities = {row["material"]: float(row["capacity_g_per_kg_per_percent"]) for row in table("buffer_materials")}
    wood = capacities["wood whole mass active"]
    masses = [
        (built.board_kg, capacities["cotton paper or board"]),
        (built.wood_lining_kg, wood),
        (_dry_kg(board, temperature_celsius), wood),
    ]
    buffers = tuple(Buffer(mass_kg=mass, capacity_g_per_kg_per_percent=capacity) for mass, capacity in masses if mass)
    if not buffers:
        return "No half-time from the construction: neither the mass of the board nor that of the panel is recorded."
    thickness = None if board is None else board.thickness_mm
    response = None
    if board is not None and board.mass_kg and thickness:
        response = plate_time_constant(thickness, faces_open=board.faces_open).total_seconds() / ONE_DAY_SECONDS
    found = design_half_time(
        FrameDesign(
            air_volume_litres=built.air_volume_litres,
            air_exchange_per_day=built.air_exchange_per_day,
            buffers=buffers,
            sheets=_glazing(frame),
            panel_response_days=response,
        ),
        temperature_celsius=temperature_celsius,
    )
    if found.half_time_days is None:
        return f"No half-time from the construction. {found.why}"
    return KnownHalfTime(days=found.half_time_days, source="construction")


def _dry_kg(board: Panel | None, temperature_celsius: float) -> float | None:
    if board is None or not board.mass_kg:
        return None
    return board.mass_kg / (1 + float(emc_percent(MIDDLE_PERCENT, temperature_celsius)) / 100)


def _glazing(frame: FrameFacts) -> tuple[Sheet, ...]:
    """Return the glazing as a sheet where it is tabulated and the panel's size is known."""
    board, glazing = frame.panel, frame.construction.glazing
    if board is None or board.width_mm is None or board.height_mm is None:
        return ()
    try:
        resistance = sheet_resistance_m(glazing, USUAL_GLAZING_MM)
    except KeyError:
        return ()
    return (Sheet(area_m2=board.width_mm * board.height_mm / 1e6, s_d_m=resistance),)
