"""Guessing passwords is made slow: after some failures a name, and an address, has to wait."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable

FAILURES_PER_NAME, FAILURES_PER_ADDRESS = 5, 20
WINDOW_SECONDS = 15 * 60.0
# Names and addresses remembered: the oldest are forgotten first, so that no flood of names fills the memory.
MOST_REMEMBERED = 10_000


class Throttle:
    """Counts failures per name and per address.

    Parameters
    ----------
    clock : callable
        Returns seconds that only go forward.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._failures: dict[tuple[str, str], deque[float]] = {}

    def wait_seconds(self, name: str, address: str) -> float:
        """Return how long this name at this address has to wait before the next try [s]; 0 if not at all."""
        with self._lock:
            return max(
                self._wait(("name", name.casefold()), FAILURES_PER_NAME),
                self._wait(("address", address), FAILURES_PER_ADDRESS),
            )

    def failed(self, name: str, address: str) -> None:
        """Remember a failure."""
        with self._lock:
            for key in (("name", name.casefold()), ("address", address)):
                failures = self._failures.pop(key, deque(maxlen=FAILURES_PER_ADDRESS))
                failures.append(self._clock())
                self._failures[key] = failures  # newest last
            while len(self._failures) > MOST_REMEMBERED:
                del self._failures[next(iter(self._failures))]

    def succeeded(self, name: str) -> None:
        """Forget the failures of a name; those of the address stay."""
        with self._lock:
            self._failures.pop(("name", name.casefold()), None)

    def _wait(self, key: tuple[str, str], allowed: int) -> float:
        failures = self._failures.get(key, deque())
        since = self._clock() - WINDOW_SECONDS
        recent = [moment for moment in failures if moment > since]
        return recent[-allowed] - since if len(recent) >= allowed else 0.0
