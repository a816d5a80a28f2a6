"""Many files in one command: spread over the processor's cores, with progress; a few are read in place."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_each
from isohume.ingest.recipe import Recipe

# Starting a process and its imports costs about a second, a small file a hundredth of one: fewer are read sooner here.
FEWEST_FILES = 250
ENOUGH_BYTES = 100_000_000
FILES_PER_TASK = 8
THREADS = "POLARS_MAX_THREADS"

Outcome = FileReading | LoggerFileError
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingOptions:
    """What applies to every file of a command."""

    time_zone: str | None = None
    recipe: Recipe | None = None
    answers: Answers = field(default_factory=Answers)


def read_many(
    paths: Sequence[Path], options: ReadingOptions, *, progress: Progress | None = None, workers: int | None = None
) -> Iterator[tuple[Path, tuple[Outcome, ...]]]:
    """Yield what came of each file, in the order given.

    Parameters
    ----------
    paths : sequence of Path
        The files.
    options : ReadingOptions
        For all of them.
    progress : callable, optional
        Called with the number of files done and their total.
    workers : int, optional
        Processes; default one per core for many files, and none for few.
    """
    if workers is None:
        n_bytes = sum(path.stat().st_size for path in paths if path.is_file())
        is_much = len(paths) >= FEWEST_FILES or (len(paths) > 1 and n_bytes >= ENOUGH_BYTES)
        workers = min(os.cpu_count() or 1, len(paths)) if is_much else 0
    if workers <= 1:
        for done, path in enumerate(paths, start=1):
            yield path, _read_one(path, options)
            if progress:
                progress(done, len(paths))
        return
    # Spawn is the way of Windows and macOS, and the safe one beside polars' threads.
    context = multiprocessing.get_context("spawn")
    with _one_thread_each(), ProcessPoolExecutor(max_workers=workers, mp_context=context) as pool:
        outcomes = pool.map(
            _read_one, paths, [options] * len(paths), chunksize=FILES_PER_TASK if len(paths) >= FEWEST_FILES else 1
        )
        for done, (path, outcome) in enumerate(zip(paths, outcomes, strict=True), start=1):
            yield path, outcome
            if progress:
                progress(done, len(paths))


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Keep each worker to one polars thread: the processes are the parallelism. Read when polars is imported."""
    before = os.environ.get(THREADS)
    os.environ[THREADS] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[THREADS]
        else:
            os.environ[THREADS] = before


def _read_one(path: Path, options: ReadingOptions) -> tuple[Outcome, ...]:
    try:
        return tuple(
            read_each(
                path, name=str(path), time_zone=options.time_zone, recipe=options.recipe, answers=options.answers
            )
        )
    except LoggerFileError as error:
        return (error,)
