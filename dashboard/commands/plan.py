"""`isohume plan`: a frame that is not yet built, by its materials and its room's recorded year."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.assess import ManyFiles
from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, remark, result

if TYPE_CHECKING:
    from isohume.analysis.readings import AirRecord

app = typer.Typer()


@app.command(cls=ManyFiles)
def plan(
    air_volume: Annotated[
        float | None, typer.Option(help="Air in the closed frame [litres].", metavar="LITRES", min=0)
    ] = None,
    air_exchange: Annotated[
        float | None,
        typer.Option(help="Air exchange with the room [per day]; tight frames: 0.01 to 0.5.", metavar="N", min=0),
    ] = None,
    tracer: Annotated[
        str | None,
        typer.Option(
            help="Instead of --air-exchange: the decay of a tracer gas in a frame alike. Concentration at the start, "
            "at the end and in the room, and the days between, such as 3000,1700,400,2.",
            metavar="START,END,ROOM,DAYS",
        ),
    ] = None,
    board: Annotated[
        list[str] | None,
        typer.Option(
            help="Dry mass of something that buffers and its material, such as 0.4:'cotton paper or board' [kg]. "
            "Repeatable. Known materials: see `isohume plan --materials`.",
            metavar="KG:MATERIAL",
        ),
    ] = None,
    sheet: Annotated[
        list[str] | None,
        typer.Option(
            help="Glazing or backing that lets vapour through: material, thickness [mm], area [m²], such as "
            "'acrylic sheet:3:0.2'. Repeatable.",
            metavar="MATERIAL:MM:M2",
        ),
    ] = None,
    panel_thickness: Annotated[
        float | None, typer.Option(help="Thickness of the panel, one face sealed [mm].", metavar="MM", min=0.1)
    ] = None,
    temperature: Annotated[float, typer.Option(help="Temperature of the frame [°C].", metavar="CELSIUS")] = 20.0,
    outside: Annotated[
        list[Path] | None,
        typer.Option(help="Files of the room's logger, at least 300 days.", metavar="FILE..."),
    ] = None,
    tz: Annotated[str | None, typer.Option(help="Time zone of its clock.", metavar="ZONE")] = None,
    conditioned: Annotated[
        float | None,
        typer.Option(help="Start of the first year [%RH]; left out: the year the frame settles into.", metavar="RH"),
    ] = None,
    winter_minimum: Annotated[
        float | None,
        typer.Option(help="Wanted lowest 7-day mean [%RH]: how much board, or how tight?", metavar="RH"),
    ] = None,
    build_up: Annotated[
        str | None,
        typer.Option(
            help="Depths for collar and screw: rebate, frame, glazing, spacer, panel, backing [mm].",
            metavar="MM,MM,MM,MM,MM,MM",
        ),
    ] = None,
    materials: Annotated[bool, typer.Option("--materials", help="List the tabulated materials and end.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Work out a frame before it is built: half-time [days], its year in a real room [%RH], board, tightness, depths.

    Example: isohume plan --air-volume 3 --air-exchange 0.3 --board "0.4:cotton paper or board" --outside room_*.csv
    """
    from isohume.dashboard import planning

    if materials:
        result(planning.known_materials())
        return
    decay = None
    if tracer is not None:
        with refusals(ValueError, code=ExitCode.USAGE):
            decay = planning.tracer_decay_of(tracer)
            air_exchange = decay.air_exchange_per_day if air_exchange is None else air_exchange
    if air_volume is None or air_exchange is None:
        refuse("Give --air-volume [litres] and --air-exchange [per day] or --tracer.", code=ExitCode.USAGE)
    if winter_minimum is not None and not outside:
        refuse("A winter minimum needs the room's year: give its files with --outside.", code=ExitCode.USAGE)
    with refusals(ValueError, KeyError, code=ExitCode.USAGE):
        design = planning.design_of(air_volume, air_exchange, board or [], sheet or [], panel_thickness)
        depths = None if build_up is None else planning.depths_of(build_up)
    room = room_record(outside, tz) if outside else None
    with refusals(ValueError):
        worked_out = planning.work_out(
            design,
            temperature_celsius=temperature,
            room=room,
            conditioned_percent=conditioned,
            winter_minimum_percent=winter_minimum,
            depths=depths,
        )
    if as_json:
        json_result({**planning.document(worked_out), "tracer": None if decay is None else asdict(decay)})
    else:
        said = [] if decay is None else planning.tracer_in_words(decay)
        result("\n".join([*said, *planning.in_words(worked_out)]))


def room_record(paths: list[Path], tz: str | None) -> AirRecord:
    """Read the room's files."""
    from isohume.dashboard.loose_files import NothingReadError, UnsettledError, read_side
    from isohume.ingest.questions import Answers

    with refusals(UnsettledError, NothingReadError):
        side = read_side(paths, side="outside", time_zone=tz, answers=Answers())
    for text in (*side.refused, *side.remarks):
        remark(text)
    return side.record
