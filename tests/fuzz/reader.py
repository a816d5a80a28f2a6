"""Damage sample files in bytes and in structure, and read them: never a traceback, a hang or a wrong account.

Every execution starts from a piece of a real sample file, damages it one to six times, reads it, and checks that it is
either refused with a message or accounted for: lines, rows, channels and the table itself agree. What it finds is
written to a folder as the file itself, to become a test.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
import traceback
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.reading import FileReading, read_source

LOGS = Path(__file__).parents[2] / "sample_logs" / "logs"
NOW = datetime(2026, 11, 24, tzinfo=UTC)
LONGEST_PIECE, LONGEST_SECONDS = 12_000, 10.0
SCRAPS = (
    *(b"\x00", b"\xff\xfe", b'"', b";", b",", b"\t", b"\r", b"\n", b"\r\n\r\n", b"%", b"-", b"#", b"\x1a"),
    *(b"NaN", b"inf", b"1e400", b"0.5", b"99999", b"24:00", b"02:30", b"29.02.2025", b"=1+1", b"Time"),
    *(b"\xc2\xa0", b"\xe2\x80\xa8", b"\xb0F"),
)
ZONES = (None, "UTC", "Europe/Berlin", "America/New_York", "+01:00")


def drop_lines(data: bytes, rng: random.Random) -> bytes:
    """Leave some lines out."""
    return b"\n".join(line for line in data.split(b"\n") if rng.random() > 0.1)


def repeat_lines(data: bytes, rng: random.Random) -> bytes:
    """Repeat some lines, now or later."""
    lines = data.split(b"\n")
    for _ in range(rng.randrange(1, 5)):
        lines.insert(rng.randrange(len(lines) + 1), rng.choice(lines))
    return b"\n".join(lines)


def swap_lines(data: bytes, rng: random.Random) -> bytes:
    """Put lines in another order."""
    lines = data.split(b"\n")
    first, second = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[first], lines[second] = lines[second], lines[first]
    return b"\n".join(lines)


def cut(data: bytes, rng: random.Random) -> bytes:
    """Cut a stretch out."""
    start = rng.randrange(len(data) + 1)
    return data[:start] + data[start + rng.randrange(400) :]


def insert(data: bytes, rng: random.Random) -> bytes:
    """Put a scrap in."""
    start = rng.randrange(len(data) + 1)
    return data[:start] + rng.choice(SCRAPS) * rng.choice((1, 1, 1, 3, 500)) + data[start:]


def flip(data: bytes, rng: random.Random) -> bytes:
    """Change single bytes."""
    changed = bytearray(data)
    for _ in range(rng.randrange(1, 12)):
        if changed:
            changed[rng.randrange(len(changed))] = rng.randrange(256)
    return bytes(changed)


def other_delimiter(data: bytes, rng: random.Random) -> bytes:
    """Exchange a delimiter or decimal mark."""
    one, other = rng.choice(((b";", b","), (b",", b"."), (b"\t", b" "), (b":", b"."), (b"/", b"-"), (b".", b",")))
    return data.replace(one, other)


def other_encoding(data: bytes, rng: random.Random) -> bytes:
    """Write the text in another encoding."""
    text = data.decode("latin-1")
    return text.encode(rng.choice(("utf-16", "utf-16-le", "utf-8-sig", "utf-8")))


def join_files(data: bytes, rng: random.Random) -> bytes:
    """Put a piece of another file behind."""
    return data + b"\n" + piece(rng)


DAMAGE: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    drop_lines, repeat_lines, swap_lines, cut, insert, flip, other_delimiter, other_encoding, join_files,
)  # fmt: skip


def piece(rng: random.Random) -> bytes:
    """Return the beginning of a sample file, now and then with its end."""
    data = rng.choice(sorted(LOGS.rglob("*.*"))).read_bytes()
    head = data[: rng.randrange(200, LONGEST_PIECE)]
    return head + data[-600:] if rng.random() < 0.3 else head


def complaint(data: bytes, zone: str | None) -> str:
    """Read damaged bytes; return what is wrong with the answer, "" if nothing."""
    begun = time.monotonic()
    try:
        readings = read_source(data, name="damaged", time_zone=zone, now=NOW)
    except LoggerFileError as error:
        return "" if str(error).strip() else "a refusal without a message"
    except Exception:  # noqa: BLE001 - whatever it is, it is a find
        return traceback.format_exc()
    taken = time.monotonic() - begun
    if taken > LONGEST_SECONDS:
        return f"took {taken:.0f} s"
    return next((wrong for wrong in map(wrong_account, readings) if wrong), "")


def wrong_account(reading: FileReading) -> str:
    """Return what in the account of one reading does not add up, "" if nothing."""
    ledger = reading.ledger
    if ledger.kept + ledger.duplicate + ledger.conflicting + ledger.rejected.height != ledger.in_file:
        return f"rows: {ledger}"
    if ledger.lines_in_file != ledger.in_file + sum(ledger.other_lines.values()):
        return f"lines: {ledger}"
    table = reading.table
    if not reading.questions and table["line"].n_unique() != ledger.kept and len(reading.channels) == 1:
        return f"{ledger.kept} rows kept, {table['line'].n_unique()} lines in the table"
    humidity = table["rh_percent"].drop_nulls().drop_nans()
    return "an infinite humidity" if humidity.is_infinite().any() else ""


def main(arguments: list[str]) -> int:
    """Fuzz for some seconds; 1 if anything was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.reader")
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=None, help="default: a new one each time, printed")
    parser.add_argument("--finds", type=Path, default=Path("build/finds"))
    chosen = parser.parse_args(arguments)
    seed = random.randrange(10**9) if chosen.seed is None else chosen.seed  # noqa: S311 - damage, not secrets
    end = time.monotonic() + chosen.seconds
    executions, finds = 0, Counter[str]()
    while time.monotonic() < end:
        rng = random.Random(f"{seed}-{executions}")  # noqa: S311
        data = piece(rng)
        for _ in range(rng.randrange(1, 7)):
            data = rng.choice(DAMAGE)(data, rng)
        wrong = complaint(data, rng.choice(ZONES))
        executions += 1
        if wrong:
            kind = wrong.strip().splitlines()[-1][:150]
            if not finds[kind]:
                chosen.finds.mkdir(parents=True, exist_ok=True)
                path = chosen.finds / f"{seed}-{executions - 1}.bin"
                path.write_bytes(data)
                print(f"{path}\n{wrong}")
            finds[kind] += 1
    print(f"{executions} executions, seed {seed}: {finds.total()} finds of {len(finds)} kinds")
    return 1 if finds else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
