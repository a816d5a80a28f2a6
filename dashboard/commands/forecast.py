"""`isohume forecast`: where a frame of the archive is heading, in its own room or in another."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, result
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened
from isohume.dashboard.commands.plan import room_record

if TYPE_CHECKING:
    from isohume.ingest.archive.archive import Archive

app = typer.Typer()


@app.command()
def forecast(
    frame: Annotated[str, typer.Argument(help="Frame of the archive.", metavar="FRAME")],
    venue: Annotated[
        list[Path] | None, typer.Option(help="File of a venue's logger: a trial there. Repeatable.", metavar="FILE")
    ] = None,
    tz: Annotated[str | None, typer.Option(help="Time zone of the venue's logger.", metavar="ZONE")] = None,
    climate: Annotated[
        str | None,
        typer.Option(
            help="Named climate for a trial: 'controlled gallery', 'heated rooms, cold winters' or "
            "'hardly heated stone building'.",
            metavar="NAME",
        ),
    ] = None,
    days: Annotated[int, typer.Option(help="Length of the trial [days].", min=1, max=730, metavar="DAYS")] = 90,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Forecast the inside [%RH] for a year in its room, or try it in a venue's or a named climate.

    Prints when the frame leaves its band, with the median and the 10 to 90 % fan of daily means. A trial is not
    evidence: another climate, and loggers that were never compared.

    Example: isohume forecast F05 --climate "heated rooms, cold winters" --days 120
    """
    from isohume.dashboard import ahead

    if venue and climate:
        refuse("Give either --venue or --climate, not both.", code=ExitCode.USAGE)
    with opened(archive) as held:
        check_frame(held, frame)
        if venue or climate:
            record = room_record(venue, tz) if venue else None
            with refusals(ahead.NoForecastError, ValueError, KeyError):
                found = ahead.trial(held, frame, venue=record, climate=climate, days=days)
        else:
            with refusals(ahead.NoForecastError):
                found = ahead.own_forecast(held, frame)
    if json:
        json_result(ahead.document(found))
    else:
        result("\n".join(ahead.in_words(found)))


def check_frame(archive: Archive, frame: str) -> None:
    """End with what there is if there is no such frame."""
    known = archive.frame_ids()
    if frame not in known:
        refuse(f"There is no frame {frame!r}. Known: {', '.join(known) or 'none yet'}.", code=ExitCode.USAGE)
