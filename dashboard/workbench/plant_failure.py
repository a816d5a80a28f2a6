"""If the plant fails: hours until each frame leaves its band, reckoned outside the request for all frames at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
import pandas as pd
import sqlalchemy as sa
from dash import dcc, html

from isohume.analysis.plant_failure import HORIZON_DAYS, NOT_MODELLED
from isohume.analysis.readings import AirRecord
from isohume.dashboard import formats, ids
from isohume.dashboard.background import Progress, Task
from isohume.dashboard.components.blocks import graph, no_result, table
from isohume.dashboard.components.long_work import long_work
from isohume.dashboard.current import background
from isohume.dashboard.figures.failure_hours import MOST_FRAMES, failure_figure
from isohume.dashboard.moments import moment_of
from isohume.dashboard.papers.failure import (
    HOURS_PER_DAY,
    Failure,
    RecordedRoom,
    failure_of,
    failure_pdf,
    failure_table,
    scenario,
)
from isohume.dashboard.papers.failure import FrameInFailure as Held
from isohume.dashboard.workbench.climate import room_air, rooms
from isohume.dashboard.workbench.fields import Choice, Day, Number, Typed
from isohume.dashboard.workbench.part import CannotReckonError, Context, Group, Part, Sheets
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.models_imports import TrailEntry

FIXED = "fixed"
KEY = "failure"
NOT_YET = "All frames are fitted anew, a second or two each. Start it with the button."
# Rows drawn on the page, the soonest first; the files hold all.
MOST_ROWS = 100


@dataclass(frozen=True, slots=True)
class Found:
    """What was reckoned, and the state of the archive that it holds for."""

    failure: Failure
    state: int


def groups(context: Context) -> tuple[Group, ...]:
    """Return the fields."""
    recorded = tuple((room, f"as once recorded in {name}") for room, name in rooms(context))
    return (
        Group(
            title="What all rooms go to",
            rows="line",
            note="The first day and the record are used for a recorded climate, at most 60 days of it.",
            fields=(
                Choice(
                    name="climate", label="Climate of the failed rooms", default=FIXED, wide=True,
                    choices=((FIXED, "fixed: the two figures here"), *recorded),
                ),
                Day(name="since", label="First day of the record", note="empty: its last 60 days"),
                Number(name="rh", label="Relative humidity", unit="%RH", low=1, high=100),
                Number(name="room_c", label="Temperature", unit="°C", low=-30, high=60),
            ),
        ),
    )  # fmt: skip


def example(_context: Context) -> dict[str, str]:
    """Fill in a heating that fails in a damp week."""
    return {"climate": FIXED, "rh": "75", "room_c": "12"}


def key_of(typed: Typed) -> str:
    """Return what tells one failure from another."""
    if typed.text("climate") != FIXED:
        return f"plant failure, {typed.text('climate')} since {typed.day('since') or 'its last days'}"
    return f"plant failure, {typed.number('rh')} %RH {typed.number('room_c')} C"


def start(context: Context, typed: Typed, *, by: str) -> Task:
    """Begin to reckon all frames, or join who has begun.

    Raises
    ------
    CannotReckonError
        The climate is none.
    """
    archive = context.archive
    if archive is None:
        raise CannotReckonError("There is no archive whose frames could be reckoned.")
    work = _work(context, archive, typed)
    return background().start(key_of(typed), "All frames in the failed climate", work, by=by)


def _work(context: Context, archive: Archive, typed: Typed) -> Callable[[Progress], Found]:
    if typed.text("climate") != FIXED:
        room = recorded_room(context, archive, typed)
        return lambda progress: Found(failure_of(archive, recorded=room, progress=progress), state_of(archive))
    rh, celsius = typed.number("rh"), typed.number("room_c")
    if rh is None or celsius is None:
        raise CannotReckonError("A fixed climate needs its relative humidity and its temperature.")
    return lambda progress: Found(
        failure_of(archive, room_rh_percent=rh, room_celsius=celsius, progress=progress), state_of(archive)
    )


def recorded_room(context: Context, archive: Archive, typed: Typed) -> RecordedRoom:
    """Return the recorded climate asked for, with its words.

    Raises
    ------
    CannotReckonError
        The room has no record from that day on.
    """
    air, zone = room_air(archive, typed.text("climate"), until=context.site.now), context.site.time_zone
    name = dict(rooms(context)).get(typed.text("climate"), typed.text("climate"))
    if air is None:
        raise CannotReckonError(f"No usable reading of {name} is kept. Choose another room, or a fixed climate.")
    horizon, day = pd.Timedelta(days=HORIZON_DAYS), typed.day("since")
    usable = air.readings.dropna()
    if usable.empty:
        raise CannotReckonError(f"{name} was not measured with humidity and temperature together.")
    since = usable.index[-1] - horizon if day is None else moment_of(day.isoformat(), zone)
    stretch = usable[(usable.index >= since) & (usable.index <= since + horizon)]
    if len(stretch) < 2:
        raise CannotReckonError(
            f"No usable reading of {name} from {formats.date(since, zone)} on: its record runs from "
            f"{formats.date(usable.index[0], zone)} to {formats.date(usable.index[-1], zone)}."
        )
    first, last = (formats.date(moment, zone) for moment in (stretch.index[0], stretch.index[-1]))
    kept = air.readings[(air.readings.index >= stretch.index[0]) & (air.readings.index <= stretch.index[-1])]
    # The rest of the record (flags, logger changes) does not tell of this stretch.
    return RecordedRoom(words=f"{name}, {first} to {last}", air=AirRecord(readings=kept, n_readings=len(kept)))


def state_of(archive: Archive) -> int:
    """Return what changes whenever anything in the archive does."""
    with archive.register.reading() as session:
        return session.scalar(sa.select(sa.func.max(TrailEntry.id))) or 0


def found_of(typed: Typed) -> Found | None:
    """Return what was reckoned for a climate since the server started, None if nothing was."""
    task = background().task(key_of(typed))
    return task.result if task is not None and task.state == "done" and isinstance(task.result, Found) else None


def finished(_context: Context, typed: Typed) -> bool:
    """Tell whether the climate was reckoned."""
    return found_of(typed) is not None


def result(context: Context, typed: Typed, _picked: str) -> list[Any]:
    """Show the frames, those that leave first in front; or how far the work is."""
    if context.archive is None:
        raise CannotReckonError("There is no archive whose frames could be reckoned.")
    task, found = background().task(key_of(typed)), found_of(typed)
    if found is None:
        if task is not None:
            return [long_work(task)]
        return [no_result(NOT_YET, lead="Not reckoned yet.")]
    failure, zone = found.failure, context.site.time_zone
    changed = (
        [no_result("The archive has changed since: reckon it again.", lead="Perhaps outdated.")]
        if found.state != state_of(context.archive)
        else []
    )
    left = sum(one.holds.hours_earliest is not None for one in failure.frames)
    unknown = [one for one in failure.frames if one.holds.why]
    told = (
        f"{scenario(failure)} Of {len(failure.frames)} frames {left} leave their band within "
        f"{HORIZON_DAYS} days, {len(failure.frames) - left - len(unknown)} hold, {len(unknown)} cannot be told."
    )
    picture = [graph(failure_figure(failure.frames), description=told)] if left else []
    more = [html.P(f"The picture shows the first {MOST_FRAMES}.", className="remark")] if left > MOST_FRAMES else []
    rest = len(failure.frames) - MOST_ROWS
    further = [html.P(f"{rest} more frames stand in the files below.", className="remark")] if rest > 0 else []
    heads = ["Frame", "Earliest (1 in 10)", "Likely (1 in 2)", "Painting", "Room", "Band", "Inside now", "Opened by"]
    return [
        *changed,
        html.P(told, className="meaning"),
        html.P(
            f"From the newest reading before {formats.moment(failure.as_of, zone)} ({zone}). Hours count from the "
            "failure; single hours outside count.",
            className="remark",
        ),
        *picture,
        *more,
        table(
            heads,
            [row(one) for one in failure.frames[:MOST_ROWS]],
            caption="All frames, those that leave their band first in front",
        ),
        *further,
    ]


def row(one: Held) -> list[Any]:
    """Return one frame as a row; of what cannot be told, why."""
    name = html.A(one.facts.frame_id, href=f"/frame/{one.facts.frame_id}")
    if one.holds.why:
        earliest: Any = html.Span(f"cannot tell: {one.holds.why}", className="long workbench-why")
        likely = formats.MISSING
    else:
        side = f", {one.holds.side}" if one.holds.side else ""
        earliest = f"{span(one.holds.hours_earliest, one.holds.horizon_hours)}{side}"
        likely = span(one.holds.hours_likely, one.holds.horizon_hours)
    return [
        name,
        earliest,
        likely,
        html.Span(one.facts.painting or formats.MISSING, className="long"),
        one.room or formats.MISSING,
        formats.band(one.facts.band),
        formats.number(one.inside_now, 1, "%RH"),
        html.Span(one.facts.opened_by or formats.MISSING, className="long"),
    ]


def span(hours: float | None, horizon_hours: float) -> str:
    """Write how long a frame holds."""
    if hours is None:
        return f"holds {horizon_hours / HOURS_PER_DAY:.0f} days or more"
    if hours == 0:
        return "outside already"
    return f"{hours:.0f} h" if hours < 4 * HOURS_PER_DAY else f"{hours / HOURS_PER_DAY:.0f} days ({hours:.0f} h)"


def below(context: Context) -> Any:
    """Offer to begin."""
    if context.archive is None:
        return None
    begun: Any = {"type": ids.WORKBENCH_BEGUN, "part": KEY, "name": "begun"}
    return html.Div(
        [
            dmc.Button("Reckon all frames", id=ids.WORKBENCH_START, variant="filled", size="sm"),
            html.Div(id=ids.WORKBENCH_KEPT, role="status"),
            dcc.Store(id=begun),
        ],
        className="workbench-keep",
    )


def sheets(_context: Context, typed: Typed) -> Sheets:
    """Return the table of all frames."""
    return {"plant failure": failure_table(reckoned(typed).failure)}


def paper(_context: Context, typed: Typed) -> bytes:
    """Return the sheet for the wall."""
    return failure_pdf(reckoned(typed).failure)


def reckoned(typed: Typed) -> Found:
    """Return what was reckoned.

    Raises
    ------
    CannotReckonError
        Nothing was, since the server started.
    """
    found = found_of(typed)
    if found is None:
        raise CannotReckonError("This climate was not reckoned since the server started. Reckon it on the page first.")
    return found


CAUTIONS = (
    NOT_MODELLED,
    (
        "People come first: rooms in failure can be dark, wet and live. A sealed frame is not opened to help it; "
        "whether it is moved, covered or left is for the conservator on duty, under local rules and the loan contract."
    ),
    "A frame that cannot be told is not a safe one: it has no record long enough, no band, or no logger.",
)
PART = Part(
    key=KEY,
    title="Hours until each frame leaves its band",
    lede="What every frame’s own record says of how fast it follows, applied to a room that has failed.",
    groups=groups,
    example=example,
    result=result,
    sheets=sheets,
    below=below,
    stacked=True,
    finished=finished,
    paper=paper,
)
