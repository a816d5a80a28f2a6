"""`isohume estimate`: the inside of a frame that has no logger, from its room, a half-time and strip readings."""

from __future__ import annotations

from typing import Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, result
from isohume.dashboard.commands.forecast import check_frame
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened

app = typer.Typer()


@app.command()
def estimate(
    frame: Annotated[str, typer.Argument(help="Frame of the archive, without a logger inside.", metavar="FRAME")],
    half_time: Annotated[
        float | None,
        typer.Option(help="Half-time of the frame [days], as `isohume plan` works it out.", metavar="DAYS", min=0.01),
    ] = None,
    sister: Annotated[
        str | None, typer.Option(help="A frame built alike, whose fitted half-time is taken.", metavar="FRAME")
    ] = None,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Estimate the inside [%RH] of a frame without a logger, with its 95 % interval; strip readings pull it.

    An estimate is never evidence: nothing was logged inside.

    Example: isohume estimate F13 --sister F01
    """
    from isohume.analysis.estimate import CannotEstimateError
    from isohume.dashboard import estimated
    from isohume.dashboard.ahead import NoForecastError

    if (half_time is None) == (sister is None):
        refuse("Give either --half-time or --sister.", code=ExitCode.USAGE)
    with opened(archive) as held:
        check_frame(held, frame)
        if sister is not None:
            check_frame(held, sister)
        with refusals(CannotEstimateError, NoForecastError):
            found = estimated.estimate_frame(held, frame, half_time_days=half_time, sister=sister)
            facts = held.frame_facts(frame)
    if json:
        json_result(estimated.document(facts, found))
    else:
        result("\n".join(estimated.in_words(facts, found)))
