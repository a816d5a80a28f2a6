"""The lines of a text: counted once, sampled for detection, and split into cells by one rule for all.

A logger writes one row per line, so a quotation mark never spans lines here; an unclosed one spoils its own line only.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

HEAD_LINES = 100
TAIL_LINES = 40
PROBES = 20
LINES_PER_PROBE = 4
HEAD_BYTES = 1 << 18
PROBE_BYTES = 1 << 13
LONGEST_SAMPLE_LINE = 1 << 15

# Cells separated by runs of blanks, or with quoted delimiters, are rewritten with this separator before reading.
UNIT_SEPARATOR = "\x1f"
WHITESPACE = "whitespace"
# A heading such as "Temp\n(°C)", as spreadsheets write it, takes a few lines at most.
MOST_HEADING_LINES = 6
QUOTE, NEWLINE = ord('"'), ord("\n")
FLATTEN_BLOCK = 1 << 21


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleLine:
    """A line of the sample; `number` counts from 1, and is None in the middle of the file."""

    number: int | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TextLines:
    """The text of a file as UTF-8 with plain line ends, and the number of its lines."""

    utf8: bytes
    n_lines: int

    @classmethod
    def of(cls, utf8: bytes) -> TextLines:
        """Count the lines; the last one counts even without a line end."""
        return cls(utf8=utf8, n_lines=utf8.count(b"\n") + (not utf8.endswith(b"\n")))

    def sample(self, *, head_lines: int = HEAD_LINES) -> list[SampleLine]:
        """Return lines from the head, spread over the middle, and from the tail, in file order."""
        head = self.utf8[:HEAD_BYTES].split(b"\n", head_lines)
        complete = head[:-1] if len(head) > 1 else head
        lines = [SampleLine(number=number, text=_text(line)) for number, line in enumerate(complete, start=1)]
        covered = sum(len(line) + 1 for line in complete)
        if covered >= len(self.utf8):
            return lines
        tail = self.utf8[max(covered, len(self.utf8) - HEAD_BYTES) :].split(b"\n")
        ends_with_newline = tail[-1] == b""
        tail = tail[:-1] if ends_with_newline else tail
        whole = tail[-TAIL_LINES:] if len(tail) > TAIL_LINES else tail
        tail_starts = len(self.utf8) - sum(len(line) + 1 for line in whole) + (not ends_with_newline)
        for start in np.linspace(covered, tail_starts, PROBES + 2, dtype=np.int64)[1:-1].tolist():
            probe = self.utf8[start : start + PROBE_BYTES].split(b"\n")[1 : 1 + LINES_PER_PROBE]
            if start + PROBE_BYTES < tail_starts:
                lines += [SampleLine(number=None, text=_text(line)) for line in probe]
        if tail_starts >= covered:
            first = self.n_lines - len(whole) + 1
            lines += [SampleLine(number=first + index, text=_text(line)) for index, line in enumerate(whole)]
        return lines

    def head(self, n_lines: int) -> list[str]:
        """Return the first lines, long ones cut."""
        end = self.offset_of_line(n_lines + 1)
        lines = self.utf8[:end].split(b"\n")
        return [_text(line) for line in (lines[:-1] if lines[-1] == b"" else lines)[:n_lines]]

    def offset_of_line(self, number: int) -> int:
        """Return the byte at which a line starts, the line counted from 1; the length of the text if beyond it."""
        offset = 0
        for _ in range(number - 1):
            found = self.utf8.find(b"\n", offset)
            if found < 0:
                return len(self.utf8)
            offset = found + 1
        return offset


def _text(line: bytes) -> str:
    return line[:LONGEST_SAMPLE_LINE].decode("utf-8", errors="replace")


def split_line(text: str, delimiter: str) -> list[str]:
    """Split one line into cells without surrounding blanks; quoted delimiters stay, quotation marks go.

    Examples
    --------
    >>> split_line('12:00,"45,2", 20', ",")
    ['12:00', '45,2', '20']
    """
    if delimiter == WHITESPACE:
        return text.split()
    if '"' not in text or text.count('"') % 2:
        return [cell.strip() for cell in text.split(delimiter)]
    parts = text.split('"')
    parts[0::2] = [part.replace(delimiter, UNIT_SEPARATOR) for part in parts[0::2]]
    return [cell.strip() for cell in "".join(parts).split(UNIT_SEPARATOR)]


def whole_lines(lines: Sequence[str]) -> list[tuple[int, int, str]]:
    """Return the lines of a head, a quoted heading of several lines as one: first and last number from 1, and text.

    Examples
    --------
    >>> whole_lines(['Time,"RH', '(%)"', "10:00,50"])
    [(1, 2, 'Time,"RH (%)"'), (3, 3, '10:00,50')]
    """
    result: list[tuple[int, int, str]] = []
    start = 0
    while start < len(lines):
        end, text = start + 1, lines[start]
        if text.count('"') % 2:
            for more in range(start + 1, min(start + MOST_HEADING_LINES, len(lines))):
                text += f" {lines[more]}"
                if text.count('"') % 2 == 0:
                    end = more + 1
                    break
            else:
                text = lines[start]
        result.append((start + 1, end, text))
        start = end
    return result


def flatten(utf8: bytes, delimiter: str) -> tuple[bytes, str]:
    """Return the text with every true delimiter as one separator and no quotation marks, and that separator.

    The rule is that of `split_line`, on the whole text at once; lines stay where they are.
    """
    if delimiter == WHITESPACE:
        return re.sub(rb"[ \t]+", b"\x1f", re.sub(rb"(?m)^[ \t]+|[ \t]+$", b"", utf8)), UNIT_SEPARATOR
    if b'"' not in utf8:
        return utf8, delimiter
    blocks: list[bytes] = []
    start = 0
    while start < len(utf8):
        end = utf8.find(b"\n", min(start + FLATTEN_BLOCK, len(utf8) - 1)) + 1 or len(utf8)
        blocks.append(_flatten_block(utf8[start:end], ord(delimiter)))
        start = end
    return b"".join(blocks), UNIT_SEPARATOR


def _flatten_block(block: bytes, delimiter: int) -> bytes:
    chars = np.frombuffer(block, dtype=np.uint8)
    is_quote = chars == QUOTE
    inside = np.bitwise_xor.accumulate(is_quote.view(np.uint8))
    ends = np.flatnonzero(chars == NEWLINE)
    starts = np.concatenate(([0], ends + 1))
    starts = starts[starts < chars.size]
    lengths = np.diff(np.append(starts, chars.size))
    parity_before = np.concatenate(([0], inside[starts[1:] - 1])).astype(np.uint8)
    parity_after = np.append(inside[starts[1:] - 1], inside[-1])
    inside ^= np.repeat(parity_before, lengths)
    is_open = np.repeat((parity_before ^ parity_after).astype(bool), lengths)
    flat = chars.copy()
    flat[(chars == delimiter) & ((inside == 0) | is_open)] = ord(UNIT_SEPARATOR)
    return bytes(flat[~is_quote | is_open])
