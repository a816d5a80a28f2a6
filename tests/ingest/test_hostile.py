"""Files made to break a reader: it refuses or reads them, in bounded time and memory, and never with a traceback."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.reading import FileReading, read_source

NOW = datetime(2026, 11, 24, tzinfo=UTC)
SOUND = "Time,RH,T\n" + "".join(
    f"2025-03-{1 + n // 24:02} {n % 24:02}:00,{48 + n % 5}.2,20.{n % 9}\n" for n in range(96)
)


def read(content: bytes) -> tuple[FileReading, ...] | LoggerFileError:
    try:
        return read_source(content, name="hostile", time_zone="UTC", now=NOW)
    except LoggerFileError as error:
        return error


MEGABYTE = 1_000_000
HOSTILE: dict[str, bytes] = {
    "one long line": b"x" * 5 * MEGABYTE,
    "one long line of digits": b"1" * 5 * MEGABYTE,
    "a million columns": b",".join([b"1"] * MEGABYTE) + b"\n" + b",".join([b"2"] * MEGABYTE),
    "a million empty columns": b"," * MEGABYTE + b"\n" + b"," * MEGABYTE,
    "a million blank lines": b"\n" * MEGABYTE,
    "nothing but NUL": bytes(3 * MEGABYTE),
    "nothing but quotes": b'"' * 3 * MEGABYTE,
    "rows and then one long line": SOUND.encode() + b"9" * 5 * MEGABYTE + b"\n" + SOUND.encode(),
    "rows and then a million columns": SOUND.encode() + b",".join([b"1"] * MEGABYTE) + b"\n",
    "an unclosed quote": SOUND.replace("2025-03-02 05:00,", '"2025-03-02 05:00,').encode(),
    "NULs in cells": SOUND.replace("20.3", "20\x003").encode(),
    "separators of other ages": SOUND.replace("20.3", "20\x1e3\x1f\x1c\x0b\x0c").encode(),
    "invalid bytes in cells": SOUND.encode().replace(b"20.3", b"20\xff3"),
    "line separators of Unicode": SOUND.replace("20.3", "20.3\u2028\x85").encode(),
    "half a surrogate": "Time,RH\n2025-03-01 10:00,50\n".encode("utf-16-le") + b"\x00\xd8",
    "an odd number of UTF-16 bytes": ("Time,RH\n" + "2025-03-01 10:00,50\n" * 9).encode("utf-16") + b"\x00",
    "huge numbers": SOUND.replace("20.3", "1e308").replace("48.2", "9" * 400).encode(),
    "years before our era": SOUND.replace("2025-03-02 05", "-025-03-02 05").encode(),
    "times beyond all calendars": SOUND.replace("2025-03-02", "9999-99-99").encode(),
    "epochs that overflow": b"epoch,RH,T\n" + b"".join(b"%d,50,20\n" % (10**9 + 10 ** (n % 40)) for n in range(99)),
    "markup and formulas": SOUND.replace("Time,RH,T", "=cmd|' /C calc'!A0,RH <script>,T").encode(),
    "a heading of a megabyte": b"Time," + b"R" * MEGABYTE + b"\n" + SOUND.encode(),
    "a million rows of rubbish": SOUND.encode() + b"rubbish\n" * MEGABYTE,
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(HOSTILE))
def test_hostile_file_is_read_or_refused(name: str) -> None:
    content = HOSTILE[name]
    outcome = read(content)
    if isinstance(outcome, LoggerFileError):
        assert len(str(outcome)) < 1000
        return
    (reading,) = outcome
    ledger = reading.ledger
    assert ledger.lines_in_file == ledger.in_file + sum(ledger.other_lines.values())


def test_damage_in_one_line_costs_only_that_line() -> None:
    for name in ("an unclosed quote", "NULs in cells", "rows and then one long line", "a million rows of rubbish"):
        outcome = read(HOSTILE[name])
        assert not isinstance(outcome, LoggerFileError), name
        assert outcome[0].ledger.kept >= 95, name


mutations = st.lists(
    st.tuples(st.integers(0, len(SOUND) - 1), st.integers(0, 60), st.binary(max_size=12)), min_size=1, max_size=6
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(mutations)
def test_mutated_bytes_never_end_in_a_traceback(changes: list[tuple[int, int, bytes]]) -> None:
    content = bytearray(SOUND.encode())
    for start, length, new in changes:
        content[start : start + length] = new
    outcome = read(bytes(content))
    if not isinstance(outcome, LoggerFileError):
        for reading in outcome:
            assert reading.ledger.lines_in_file == reading.ledger.in_file + sum(reading.ledger.other_lines.values())


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    read(content)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.text(st.sampled_from("0123456789.,;:-/ \t\"'#TRH°%Z+\n"), max_size=40), max_size=30))
def test_any_lines_of_logger_characters_are_read_or_refused(lines: list[str]) -> None:
    read("\n".join(lines).encode())
