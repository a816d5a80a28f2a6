"""From what the archive holds of a frame to its findings: one frame here, many in several processes."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import repeat
from multiprocessing import get_context
from pathlib import Path

import pandas as pd

from isohume.analysis.assess import NoOverlapError, assess
from isohume.analysis.estimated_inside import KnownHalfTime
from isohume.analysis.frame import FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import Assessment, DataQuality, ExchangeFinding, Reason, Standing
from isohume.dashboard.views import FrameSummary
from isohume.ingest.archive.archive import Archive
from isohume.ingest.clock_doubt import with_clock_doubted

log = logging.getLogger(__name__)

FAILED = "failed"
# A process of its own takes a second or two to start: worth it for more frames than this.
FEWEST_FOR_PROCESSES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Inputs:
    """Everything that the findings of one frame rest on.

    Attributes
    ----------
    owed : tuple of str
        Sentences about files that were expected by now and did not come.
    """

    now: pd.Timestamp
    facts: FrameFacts
    inside: AirRecord | None
    outside: AirRecord | None
    room_now: AirRecord | None
    known_half_time: KnownHalfTime | str | None
    owed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The findings of one frame; `key` and `moment` tell for which state of the archive they hold."""

    frame_id: str
    key: str
    moment: str
    assessment: Assessment
    summary: FrameSummary

    @property
    def failed(self) -> bool:
        """Whether they could not be computed: nothing to keep."""
        return any(reason.rule == FAILED for reason in self.assessment.standing.reasons)


def assessed(given: Inputs) -> Assessment:
    """Assess one frame; a failure becomes a finding that says so, since it must not take others off the page."""
    inside, outside, facts, now = given.inside, given.outside, given.facts, given.now
    try:
        if inside is not None:
            inside = with_clock_doubted(inside, outside, site_zone=facts.time_zone)
        return assess(
            inside,
            outside,
            frame=facts,
            as_of=now,
            files_missing=given.owed,
            room_now=given.room_now,
            known_half_time=given.known_half_time,
        )
    except NoOverlapError as error:
        # The page of such a frame still shows its inside, and says first what is wrong.
        found = assess(inside, None, frame=facts, as_of=now, files_missing=given.owed)
        apart = Reason(rule="never together", text=str(error))
        return replace(found, data=DataQuality(name="too little", reasons=(apart, *found.data.reasons)))
    except Exception as error:  # whatever it is, the others go on
        log.exception("frame %s could not be assessed", facts.frame_id)
        return _not_assessed(facts, now, error)


def _not_assessed(facts: FrameFacts, now: pd.Timestamp, error: Exception) -> Assessment:
    """Return what stands in the place of findings that failed: nothing known, and why."""
    text = f"The findings of this frame could not be computed ({type(error).__name__}: {error})."
    failed = Standing(
        name="cannot tell",
        reasons=(Reason(rule=FAILED, text=text),),
        next_step="Its readings are kept and can be looked at. The server's log says where the computation failed.",
    )
    return replace(nothing_known(facts, now), standing=failed)


def nothing_known(facts: FrameFacts, now: pd.Timestamp) -> Assessment:
    """Return the findings of a frame of which nothing was read: all unknown."""
    return assess(None, None, frame=facts, as_of=now)


def half_time_of_sister(frame_id: str, found: ExchangeFinding) -> KnownHalfTime | str:
    """Return the half-time of a frame for another that was built like it, or say why it has none."""
    if found.half_time_days is None:
        return f"{frame_id}, which it was built like, has no half-time yet: {found.why}"
    return KnownHalfTime(days=found.half_time_days, source="sister frame")


def in_processes(folder: Path, frame_ids: Sequence[str], *, n_processes: int) -> Iterator[Found]:
    """Assess many frames of an archive in several processes, each of which opens it for itself.

    Raises
    ------
    BrokenProcessPool
        A process ended by itself (out of memory, say).
    """
    # A fresh interpreter each: a copy of this one would share its connections and threads.
    with ProcessPoolExecutor(min(n_processes, len(frame_ids)), mp_context=get_context("spawn")) as pool:
        yield from pool.map(_found_elsewhere, repeat(folder), frame_ids)


def _found_elsewhere(folder: Path, frame_id: str) -> Found:
    from isohume.dashboard.store import Store  # which imports this module

    with Archive.open(folder) as archive:
        return Store(archive).found(frame_id)
