"""The list of received files, drawn so that only what changed is drawn anew."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from dash import Patch, html

from isohume.dashboard.access.gate import person
from isohume.dashboard.components.file_controls import Around, asked
from isohume.dashboard.components.received_file import received_file
from isohume.dashboard.current import current_store
from isohume.dashboard.received import Received
from isohume.ingest.archive.archive import Archive


def around(held: Archive, *, begins: bool, alike: dict[str, int] | None = None) -> Around:
    """Gather what the files are drawn among, for whoever looks."""
    return Around(
        zone=current_store().site().time_zone,
        loggers=[one["id"] for one in held.records("loggers") if not one["retired"]],
        frames=held.frame_ids(),
        rooms=[one["id"] for one in held.records("rooms")],
        writes=person().may("contributor"),
        begins=begins,
        alike=alike or {},
    )


def redrawn(
    held: Archive, received: Received, drawn: Sequence[tuple[str, str, float]], before: Any, *, begins: bool
) -> tuple[Any, list[list[Any]]]:
    """Draw the files that changed and leave all others alone: nobody's half-typed answer is wiped."""
    alike = Counter(asked(job) for job in received.jobs("asks"))
    many = {one for one, n in alike.items() if n > 1}
    jobs: dict[str, Any] = {}
    now: list[list[Any]] = []
    old = {one[0]: one for one in before or []}
    for job_id, state, changed in drawn:
        if state == "asks" or old.get(job_id, [None, None])[1] != changed:
            jobs[job_id] = received.job(job_id)
        asks_too = state == "asks" and jobs[job_id] is not None and asked(jobs[job_id]) in many
        now.append([job_id, changed, asks_too])
    among = around(held, begins=begins, alike=dict(alike))

    def card(job_id: str) -> Any:
        job = jobs.get(job_id) or received.job(job_id)
        return received_file(job, among) if job else html.Li(hidden=True)

    if before is None:
        return [card(one[0]) for one in now], now
    patch, present = Patch(), [list(one) for one in before]
    wanted = {one[0] for one in now}
    for place in range(len(present) - 1, -1, -1):
        if present[place][0] not in wanted:
            del patch[place]
            del present[place]
    for place, one in enumerate(now):
        if place < len(present) and present[place][0] == one[0]:
            if present[place] != one:
                patch[place] = card(one[0])
        else:
            patch.insert(place, card(one[0]))
            present.insert(place, one)
    return patch, now
