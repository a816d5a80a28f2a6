"""How the files of one logger are called: the name of one, with what changes from file to file left open."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fnmatch import fnmatchcase

ANY = "*"
# A date or a number of the download, as it stands in a name: 2026-03, 20260301_0930, 2026-03-01T09-30.
DATED = re.compile(r"(?<!\d)(?:19|20)\d{2}(?:[-_.]?\d{1,2}){0,5}(?:[T_ -]\d{1,2}(?:[-_.:]?\d{2}){1,2})?(?!\d)")
LAST_NUMBER = re.compile(r"\d+(?=\D*$)")
FEWEST_LETTERS = 3


def pattern_of(name: str) -> str:
    """Return the pattern of a logger's file names, "" where nothing of the name would be left.

    Examples
    --------
    >>> pattern_of("north_gallery_2026-03.csv"), pattern_of("frame07 (3).csv"), pattern_of("20260301.csv")
    ('north_gallery_*.csv', 'frame07 (*).csv', '')
    """
    base = name.rsplit("/", 1)[-1]
    stem, dot, ending = base.rpartition(".")
    stem, ending = (stem, dot + ending) if dot and len(ending) <= 5 else (base, "")
    pattern = DATED.sub(ANY, _plain(stem))
    if ANY not in pattern:
        numbers = re.findall(r"\d+", stem)
        # The only number of a name is more often the logger's own than the download's.
        pattern = LAST_NUMBER.sub(ANY, _plain(stem)) if len(numbers) > 1 else f"{_plain(stem)}{ANY}"
    pattern = re.sub(r"\*[\W_]*\*", ANY, pattern)
    kept = re.sub(r"[\W_]", "", pattern)
    return f"{pattern}{ending}" if len(kept) >= FEWEST_LETTERS else ""


def patterns_apart(sides: Sequence[Sequence[str]]) -> list[list[str]]:
    """Return the patterns of several loggers' files; none for those whose patterns would claim another's file.

    Parameters
    ----------
    sides : sequence of sequence of str
        Names of the files of each logger.
    """
    patterns = [list(dict.fromkeys(filter(None, map(pattern_of, names)))) for names in sides]
    apart: list[list[str]] = []
    for place, mine in enumerate(patterns):
        others = [name for other, names in enumerate(sides) if other != place for name in names]
        apart.append([one for one in mine if not any(fits(name, one) for name in others)])
    return apart


def fits(name: str, pattern: str) -> bool:
    """Say whether a name follows a pattern, capitals apart."""
    return fnmatchcase(name.rsplit("/", 1)[-1].casefold(), pattern.casefold())


def _plain(text: str) -> str:
    """Leave open what a pattern would take for a sign of its own."""
    return re.sub(r"[*?\[\]]+", ANY, text)
