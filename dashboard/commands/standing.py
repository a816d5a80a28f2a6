"""`isohume standing`: what every frame of the archive needs, most urgent first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, remark, result, table
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened, progress_on_stderr

if TYPE_CHECKING:
    from isohume.dashboard.views import FrameSummary, Site

app = typer.Typer()


@app.command()
def standing(
    as_of: Annotated[
        str | None,
        typer.Option(
            help="The moment for which it holds: a date or an ISO time, in the site's zone. Default: now.",
            metavar="TIME",
        ),
    ] = None,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """List all frames with what they need, why and by when, and how good their record is; most urgent first.

    Times are UTC in JSON and in the site's zone otherwise; humidity is in %RH.

    Example: isohume standing --as-of 2026-11-20
    """
    import os

    from isohume.dashboard.store import Store

    with opened(archive) as held:
        moment = None
        if as_of is not None:
            from isohume.dashboard.moments import moment_of

            with refusals(ValueError, code=ExitCode.USAGE):
                moment = moment_of(as_of, Store(held).site().time_zone)
        store = Store(held, as_of=moment, n_processes=os.cpu_count() or 1)
        store.complete(progress=progress_on_stderr("frame"))
        site, frames = store.site(), store.summaries()
    if not frames:
        refuse("The archive holds no frame yet. Describe them in a register and load it: isohume register load FILE.")
    if json:
        json_result(standing_document(frames, site))
    else:
        say_frames(frames, site)


def say_frames(frames: Sequence[FrameSummary], site: Site) -> None:
    """Print the frames as a table, with the moment for which it holds."""
    from isohume.analysis.phrases import moment

    remark(f"{site.name}, as of {moment(site.now, time_zone=site.time_zone)}")
    result(frames_table(frames, site))


def frames_table(frames: Sequence[FrameSummary], site: Site) -> str:
    """Lay out one line per frame: what it needs, by when, how good the record is, and the first reason."""
    from isohume.dashboard.formats import date

    return table(
        ("Frame", "What it needs", "By", "Record", "Newest", "Why"),
        [
            (
                frame.frame_id,
                frame.standing.name + (f", {frame.standing.direction}" if frame.standing.direction else ""),
                date(frame.standing.by, site.time_zone),
                frame.data.name,
                date(frame.newest_utc, site.time_zone),
                frame.standing.reasons[0].text if frame.standing.reasons else "",
            )
            for frame in frames
        ],
    )


def standing_document(frames: Sequence[FrameSummary], site: Site) -> dict[str, Any]:
    """Return the same as one JSON document."""
    from isohume.dashboard.assessment_json import plain

    return {
        "collection": site.name,
        "as_of": plain(site.now),
        "frames": [
            {
                "frame": frame.frame_id,
                "painting": frame.painting,
                "room": frame.room,
                "lifecycle": frame.lifecycle,
                "band": plain(frame.band),
                "estimated": frame.estimated,
                "newest_utc": plain(frame.newest_utc),
                "standing": plain(frame.standing),
                "data": plain(frame.data),
            }
            for frame in frames
        ],
    }
