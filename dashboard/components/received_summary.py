"""How far the received files are: read, asking, understood, kept; and that the work on them has stopped."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.dashboard.components.blocks import aria
from isohume.dashboard.components.file_controls import only_logger_open
from isohume.dashboard.formats import count
from isohume.dashboard.jobs import Worker
from isohume.dashboard.received import WAITING_STATES

# Which states each choice shows.
FILTERS: dict[str, tuple[str, tuple[str, ...]]] = {
    "all": ("all", ()),
    "ask": ("asking", ("asks",)),
    "understood": ("understood", ("settled",)),
    "kept": ("kept", ("kept",)),
    "faulty": ("not read", ("refused", "failed", "undone", "twice")),
}
ALL_STATES = (*WAITING_STATES, "asks", "settled", "kept", "refused", "failed", "undone", "twice")
# A file that takes longer is named with the time it has taken.
LONG_SECONDS = 2.0


@dataclass(frozen=True, slots=True)
class Summary:
    """What is drawn, and a text that changes with it."""

    content: list[Any]
    key: str


def shown_by(which: str) -> tuple[str, ...]:
    """Return the states of the files that a choice shows."""
    return FILTERS.get(which, FILTERS["all"])[1] or ALL_STATES


def summary(listed: Sequence[tuple[str, str, float]], worker: Worker, *, begins: bool) -> Summary:
    """Say how far the work on all received files is; in the first steps nobody is asked whose file it is."""
    states = Counter(state for _, state, _ in listed)
    if begins and states["asks"]:
        n_clear = sum(map(only_logger_open, worker.received.jobs("asks")))
        states.update({"asks": -n_clear, "settled": n_clear})
    n_waiting = sum(states[state] for state in WAITING_STATES)
    content: list[Any] = []
    if worker.stopped:
        content.append(
            html.Div(
                [
                    html.P([html.Strong("The work on these files has stopped. "), worker.stopped]),
                    dmc.Button("Try again", id="files-go-on", variant="default", size="sm"),
                ],
                className="long-work-failed",
                role="alert",
            )
        )
    words = [
        f"{count(n)} {text}"
        for n, text in (
            (states["asks"], "asking" if states["asks"] != 1 else "asks"),
            (states["settled"], "understood"),
            (states["kept"], "kept"),
            (states["refused"] + states["failed"], "not read"),
            (states["undone"], "undone"),
            (states["twice"], "sent twice"),
            (n_waiting, "still to do"),
        )
        if n
    ]
    total = len(listed)
    if total:
        content.append(
            html.P([html.Strong(f"{count(total)} {'file' if total == 1 else 'files'}: "), ", ".join(words), "."])
        )
    if n_waiting or states["settled"] or states["asks"]:
        content.append(
            html.P(
                "What is not kept yet waits on this server only; a backup holds what is kept.", className="row-note"
            )
        )
    at_work = next((one for one in listed if one[1] in ("reading", "keeping")), None)
    if n_waiting and not worker.stopped:
        content += _progress(total, n_waiting, at_work, worker)
    return Summary(content, repr(content))


def _progress(total: int, n_waiting: int, at_work: tuple[str, str, float] | None, worker: Worker) -> list[Any]:
    share = 100 * (total - n_waiting) / total
    named: Any = aria(label="Files done", valuemin="0", valuemax="100", valuenow=f"{share:.0f}")
    bar = html.Div(html.Div(style={"width": f"{share:.1f}%"}), className="long-work-bar", role="progressbar", **named)
    told: list[Any] = [html.Div(bar, className="long-work")]
    if at_work is not None and time.time() - at_work[2] > LONG_SECONDS:
        job = worker.received.job(at_work[0])
        if job is not None:
            verb = "Keeping" if at_work[1] == "keeping" else "Reading"
            told.append(
                html.P(
                    f"{verb} {job['name']}, {job['n_bytes'] / 1e6:.0f} MB, for {time.time() - at_work[2]:.0f} s. "
                    "You can leave this page and come back.",
                    className="row-note",
                )
            )
    return told
