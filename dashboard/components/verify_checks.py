"""Checks of evidence packs, each in a process of its own: a bad pack takes nothing else with it."""

from __future__ import annotations

import json
import os
import secrets
import subprocess
import sys
import tempfile
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from isohume.dashboard.papers.keys import typed_fingerprint

# Five years of two loggers at 5-minute steps give a pack of about 95 MB.
LARGEST_PACK = 200_000_000
LARGEST_PACK_OF_STRANGERS = 100_000_000
SECONDS_ALLOWED = 600.0
READ_AT_A_TIME = 1 << 20
MOST_WAITING = 8
PER_ADDRESS, WINDOW_SECONDS = 6, 600.0
MOST_KEPT, KEPT_SECONDS = 100, 1800.0
MOST_ADDRESSES = 10_000
PREFIX, LEFT_OVER_SECONDS = "isohume-pack-", 86_400.0
_COMMAND = "from isohume.dashboard.cli import main; main()"
_NOT_A_PACK = 3

Checker = Callable[[Path, str], dict[str, Any]]


class CheckError(Exception):
    """A pack could not be checked; the message says why and what to do."""


class BusyError(Exception):
    """Too many checks are waiting, or came from one address."""


def check_pack(pack: Path, key: str, *, seconds: float = SECONDS_ALLOWED) -> dict[str, Any]:
    """Check one pack in a process of its own, as `isohume verify` does.

    Parameters
    ----------
    pack : Path
    key : str
        Fingerprint of the key it must be signed with, "" for any.

    Returns
    -------
    dict
        The fields of `isohume.dashboard.papers.verification.Verification`.

    Raises
    ------
    CheckError
        It is no pack, or its check did not come to an end.
    """
    command = [sys.executable, "-c", _COMMAND, "verify", str(pack), "--json", *(["--key", key] if key else [])]
    # Away from this folder and its archive; what it prints is the result.
    environment = {**os.environ, "OMP_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1"}
    try:
        done = subprocess.run(  # noqa: S603 - our own command; the pack is named by us, the key was read as digits
            command, capture_output=True, timeout=seconds, cwd=pack.parent, env=environment, check=False
        )
    except subprocess.TimeoutExpired:
        raise CheckError(
            f"The check did not end within {seconds / 60:.0f} minutes and was stopped. A pack of ours takes seconds: "
            "ask the sender for the file again."
        ) from None
    if done.returncode == _NOT_A_PACK:
        lines = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise CheckError(lines[-1] if lines else "This is not an evidence pack. Ask the sender for the file again.")
    try:
        found = json.loads(done.stdout)
    except ValueError:
        raise CheckError(
            "The check broke off: the file holds something that no evidence pack holds. Ask the sender for it again."
        ) from None
    return found if isinstance(found, dict) else {}


def received(stream: Any, *, largest: int) -> Path:
    """Write what a stream holds into a file of our own.

    Raises
    ------
    CheckError
        It is larger than allowed; nothing is left.
    """
    remove_left_over()
    handle, name = tempfile.mkstemp(prefix=PREFIX, suffix=".zip")
    path = Path(name)
    n_bytes = 0
    try:
        with os.fdopen(handle, "wb") as out:
            while piece := stream.read(READ_AT_A_TIME):
                n_bytes += len(piece)
                if n_bytes > largest:
                    raise CheckError(f"The file is larger than {largest // 1_000_000} MB, more than is checked here.")  # noqa: TRY301
                out.write(piece)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return path


def remove_left_over() -> None:
    """Remove what a server that was stopped in the middle of a check left lying."""
    for path in Path(tempfile.gettempdir()).glob(f"{PREFIX}*.zip"):
        # Somebody else's, or gone meanwhile: leave it.
        with suppress(OSError):
            if path.stat().st_mtime < time.time() - LEFT_OVER_SECONDS:
                path.unlink()


def checked(path: Path, key: str, check: Checker = check_pack) -> dict[str, Any]:
    """Check a received file and remove it, whatever happens."""
    try:
        return check(path, key)
    finally:
        path.unlink(missing_ok=True)


def key_typed(text: str) -> str:
    """Return a fingerprint as it is written; "" where none was typed.

    Raises
    ------
    ValueError
        It is none.
    """
    return typed_fingerprint(text) if text.strip() else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A check that a stranger asked for."""

    state: Literal["waiting", "running", "done", "failed"] = "waiting"
    key: str = ""
    told: str = ""
    result: dict[str, Any] | None = None
    since: float = 0.0


class Checks:
    """The checks of people without an account: one at a time, few waiting, few per address, none kept for long.

    Parameters
    ----------
    check : callable
        Checks one file.
    clock : callable
        Returns seconds that only go forward.
    """

    def __init__(self, check: Checker = check_pack, clock: Callable[[], float] = time.monotonic) -> None:
        self._check, self._clock = check, clock
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="check of a pack")
        self._lock = threading.Lock()
        self._asked: OrderedDict[str, Asked] = OrderedDict()
        self._addresses: OrderedDict[str, deque[float]] = OrderedDict()
        self._taking = 0

    def admit(self, address: str) -> None:
        """Let somebody send a pack; `start` or `turn_away` must follow.

        Raises
        ------
        BusyError
            Too many are waiting, or came from this address; the message says how long to wait.
        """
        now = self._clock()
        with self._lock:
            self._forget(now)
            recent = [moment for moment in self._addresses.get(address, ()) if moment > now - WINDOW_SECONDS]
            if len(recent) >= PER_ADDRESS:
                wait = recent[0] + WINDOW_SECONDS - now
                raise BusyError(f"{PER_ADDRESS} packs came from your address. Try again in {wait / 60:.0f} minutes.")
            at_work = sum(one.state in ("waiting", "running") for one in self._asked.values())
            if self._taking + at_work >= MOST_WAITING:
                raise BusyError("Many packs are being checked just now. Try again in a few minutes.")
            self._taking += 1
            self._addresses[address] = deque([*recent, now], maxlen=PER_ADDRESS)
            self._addresses.move_to_end(address)
            while len(self._addresses) > MOST_ADDRESSES:
                self._addresses.popitem(last=False)

    def turn_away(self) -> None:
        """Say that what was admitted did not arrive."""
        with self._lock:
            self._taking -= 1

    def start(self, path: Path, key: str) -> str:
        """Queue the check of an admitted file; returns the secret word under which its result stands for a while."""
        word = secrets.token_urlsafe(24)
        with self._lock:
            self._taking -= 1
            self._asked[word] = Asked(key=key, since=self._clock())
        self._pool.submit(self._run, word, path, key)
        return word

    def asked(self, word: str) -> Asked | None:
        """Return a check by its word; None if there is none, or its time is over."""
        with self._lock:
            self._forget(self._clock())
            return self._asked.get(word)

    def _run(self, word: str, path: Path, key: str) -> None:
        self._change(word, state="running")
        try:
            found = checked(path, key, self._check)
        except Exception as error:  # noqa: BLE001 - shown to whoever asked, whatever it is
            told = str(error) if isinstance(error, CheckError) else "The check broke off. Try again later."
            self._change(word, state="failed", told=told)
        else:
            self._change(word, state="done", result=found)

    def _change(self, word: str, **values: Any) -> None:
        with self._lock:
            if word in self._asked:
                self._asked[word] = replace(self._asked[word], **values)

    def _forget(self, now: float) -> None:
        """Forget what is over, and the oldest where there are too many; checks under way stay."""
        over = [word for word, one in self._asked.items() if one.result is not None or one.state == "failed"]
        old = [word for word in over if self._asked[word].since < now - KEPT_SECONDS]
        for word in {*old, *over[: max(0, len(self._asked) - MOST_KEPT)]}:
            del self._asked[word]
