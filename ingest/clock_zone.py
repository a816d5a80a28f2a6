"""What the clock of a logger shows: the time of a zone, or an offset that never changes to summer time."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

# Local time is within 15 h of UTC everywhere; a fixed offset beyond that is a slip of the pen.
LARGEST_OFFSET = timedelta(hours=15)
FIXED_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+\-\N{MINUS SIGN}])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ClockZone:
    """What the clock of a logger shows: the time of a zone, or a fixed offset that never changes to summer time.

    Attributes
    ----------
    name : str
        `Europe/Berlin`, `UTC`, or a fixed offset such as `+01:00`.
    fixed_us : int or None [µs]
        Local time minus UTC where it never changes; None for a zone with its own rules.
    """

    name: str
    fixed_us: int | None

    @classmethod
    def parse(cls, text: str) -> ClockZone:
        """Read a zone as a person writes it.

        Raises
        ------
        ValueError
            Neither a zone of the IANA time zone database nor a fixed offset.

        Examples
        --------
        >>> ClockZone.parse("UTC+1").name, ClockZone.parse("Z").name
        ('+01:00', 'UTC')
        """
        name = text.strip()
        if name.upper() in ("UTC", "Z", "GMT"):
            return cls("UTC", 0)
        if fixed := FIXED_OFFSET.fullmatch(name):
            sign, hours, minutes = fixed[1], int(fixed[2]), int(fixed[3] or 0)
            offset = timedelta(hours=hours, minutes=minutes)
            if offset <= LARGEST_OFFSET and minutes < 60:
                sign = "+" if sign == "+" else "-"
                microseconds = offset // timedelta(microseconds=1)
                return cls(f"{sign}{hours:02}:{minutes:02}", microseconds if sign == "+" else -microseconds)
        else:
            try:
                return cls(ZoneInfo(name).key, None)
            except (ZoneInfoNotFoundError, ValueError, OSError):
                pass  # one message for all of them, below
        raise ValueError(
            f'"{text}" is no time zone. Give a zone with its summer time (Europe/Berlin), UTC, '
            "or a fixed offset for a logger that never changes to summer time (+01:00)."
        )

    @property
    def tzinfo(self) -> tzinfo:
        """The zone as the standard library has it."""
        return ZoneInfo(self.name) if self.fixed_us is None else timezone(timedelta(microseconds=self.fixed_us))

    def moment(self, text: str, name: str) -> datetime:
        """Read an instant that somebody states; without an offset it is a time of this clock.

        Raises
        ------
        ValueError
            Not a time; the message starts with the name under which it was stated.
        """
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            raise ValueError(f'{name}: expected a time such as 2025-09-22T17:00+02:00, found "{text}"') from None
        return moment if moment.tzinfo else moment.replace(tzinfo=self.tzinfo)

    def in_words(self) -> str:
        """Return the zone as a sentence part: `Europe/Berlin time with its summer time`."""
        if self.fixed_us is None:
            return f"{self.name} time with its clock changes"
        return "UTC" if self.name == "UTC" else f"UTC{self.name} all year, no summer time"


def offset_text(offset_us: int) -> str:
    """Return local time minus UTC [µs] as it is written: `+01:00`.

    Examples
    --------
    >>> offset_text(-12_600_000_000)
    '-03:30'
    """
    hours, minutes = divmod(abs(offset_us) // 60_000_000, 60)
    return f"{'-' if offset_us < 0 else '+'}{hours:02}:{minutes:02}"
