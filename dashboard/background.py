"""Long work outside the requests: started once per key, with its progress, kept until the server stops."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import Any, Literal

# Two tasks at a time: each may itself use several processes.
N_THREADS = 2
# Finished tasks that are remembered, so that whoever comes back sees how they ended.
N_REMEMBERED = 200
# Keys carry what was asked, and anybody may ask much: more than this is not queued.
MOST_WAITING = 100
Progress = Callable[[int, int], None]
log = logging.getLogger(__name__)


class TooMuchWorkError(RuntimeError):
    """More long work waits than this server takes on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One piece of long work.

    Attributes
    ----------
    key : str
        What tells it apart: the same key is never at work twice.
    title : str
        What is being done, for people.
    state : str
    done, total : int
        Parts finished, and all of them; 0 of 0 until the first is known.
    told : str
        Why it failed.
    result : Any
        What it returned.
    by : str
        Who started it.
    is_personal : bool
        Whether nobody else is to see it.
    """

    key: str
    title: str
    by: str
    state: Literal["waiting", "running", "done", "failed"] = "waiting"
    done: int = 0
    total: int = 0
    told: str = ""
    result: Any = None
    is_personal: bool = False

    @property
    def ended(self) -> bool:
        """Whether nothing more will happen."""
        return self.state in ("done", "failed")


class Background:
    """The long work of one server, shared by all who look.

    Parameters
    ----------
    in_words : mapping, optional
        Folders of this machine, and what they are called where a failure is told: where they lie is nobody's business.
    """

    def __init__(self, in_words: Mapping[str, str] | None = None) -> None:
        self._in_words = in_words or {}
        self._pool = ThreadPoolExecutor(N_THREADS, thread_name_prefix="long work")
        self._tasks: dict[str, Task] = {}
        self._lock = threading.Lock()

    def start(
        self, key: str, title: str, work: Callable[[Progress], Any], *, by: str, is_personal: bool = False
    ) -> Task:
        """Queue `work`, which is given a progress to call; while the same key is at work, that task is returned.

        Raises
        ------
        TooMuchWorkError
            More waits than anybody will wait for.
        """
        with self._lock:
            present = self._tasks.get(key)
            if present is not None and not present.ended:
                return present
            if sum(not task.ended for task in self._tasks.values()) >= MOST_WAITING:
                raise TooMuchWorkError(
                    f"{MOST_WAITING} pieces of long work wait on this server. Try again when some have ended."
                )
            self._tasks.pop(key, None)
            self._tasks[key] = Task(key=key, title=title, by=by, is_personal=is_personal)
            self._forget_oldest()
        self._pool.submit(self._run, key, work)
        return self._tasks[key]

    def task(self, key: str) -> Task | None:
        """Return the newest task of a key; None if there was none since the server started."""
        return self._tasks.get(key)

    def forget(self, key: str) -> None:
        """Remove a task that has ended."""
        with self._lock:
            if key in self._tasks and self._tasks[key].ended:
                del self._tasks[key]

    def told(self, error: Exception) -> str:
        """Return why something failed, for people."""
        text = str(error) or type(error).__name__
        for folder, words in self._in_words.items():
            text = text.replace(folder, words)
        return text

    def _run(self, key: str, work: Callable[[Progress], Any]) -> None:
        self._change(key, state="running")
        try:
            result = work(lambda done, total: self._change(key, done=done, total=total))
        except Exception as error:  # shown where the work was asked for, whatever it is
            log.exception("the work %s failed", key)
            self._change(key, state="failed", told=self.told(error))
        else:
            self._change(key, state="done", result=result)

    def _change(self, key: str, **values: Any) -> None:
        with self._lock:
            self._tasks[key] = replace(self._tasks[key], **values)

    def _forget_oldest(self) -> None:
        ended = [key for key, task in self._tasks.items() if task.ended]
        for key in ended[: max(0, len(self._tasks) - N_REMEMBERED)]:
            del self._tasks[key]
