"""`isohume estimate`: the inside of a frame that has no logger, from its room, a half-time and strip readings."""

from __future__ import annotations

from pathlib import Path
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
    step: Annotated[
        str | None,
        typer.Option(
            help="Instead: when the climate around a frame with a logger changed at once (a move, a door test). Its "
            "half-time [days] from the days after.",
            metavar="TIME",
        ),
    ] = None,
    until: Annotated[str | None, typer.Option(help="With --step: end of the days to use.", metavar="TIME")] = None,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Estimate the inside [%RH] of a frame without a logger, with its 95 % interval; strip readings pull it.

    An estimate is never evidence: nothing was logged inside. With --step: the half-time of a frame with a logger from
    the days after a step in the climate around it.

    Example: isohume estimate F13 --sister F01
    """
    from isohume.analysis.estimate import CannotEstimateError
    from isohume.dashboard import estimated
    from isohume.dashboard.ahead import NoForecastError

    if sum(given is not None for given in (half_time, sister, step)) != 1:
        refuse("Give one of --half-time, --sister and --step.", code=ExitCode.USAGE)
    if step is not None:
        after_step(frame, step, until, archive=archive, json=json)
        return
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


def after_step(frame: str, step: str, until: str | None, *, archive: Path | None, json: bool) -> None:
    """Print the half-time from the days after a step."""
    from isohume.dashboard import step_test
    from isohume.dashboard.ahead import NoForecastError
    from isohume.dashboard.moments import moment_of

    with opened(archive) as held:
        check_frame(held, frame)
        facts = held.frame_facts(frame)
        with refusals(ValueError, code=ExitCode.USAGE):
            begun = moment_of(step, facts.time_zone)
            ended = None if until is None else moment_of(until, facts.time_zone)
        with refusals(NoForecastError):
            found = step_test.step_test(held, frame, step_utc=begun, until_utc=ended)
    if json:
        json_result(step_test.document(facts, found, step_utc=begun))
    else:
        result("\n".join(step_test.in_words(facts, found, step_utc=begun)))
