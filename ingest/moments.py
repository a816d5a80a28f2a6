"""One written date or time, understood: the reference against which the fast path of `times` is tested."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date
from typing import Literal

DateOrder = Literal["day-first", "month-first", "year-first"]
ORDERS: tuple[DateOrder, ...] = ("day-first", "month-first", "year-first")

MICROSECONDS = 1_000_000
DAY_US = 86_400 * MICROSECONDS
# Two-digit years: POSIX strptime puts 69-99 into the 1900s; a logger file from then is unlikely, but not wrong.
CENTURY_PIVOT = 69
# Years beyond these are misreadings, not dates.
FIRST_YEAR, LAST_YEAR = 1900, 2199

_MONTHS = """
january jan januar januari janvier janv enero ene gennaio gen tammikuu tammikuuta tammi jaenner
february feb februar februari fevrier fevr fev febrero febbraio febr helmikuu helmikuuta helmi
march mar marz maerz mrz mars maart mrt marzo marts maaliskuu maaliskuuta maalis
april apr avril avr abril abr aprile huhtikuu huhtikuuta huhti
may mai mei mayo maggio mag maj toukokuu toukokuuta touko
june jun juni juin junio giugno giu kesakuu kesakuuta kesa
july jul juli juillet juil julio luglio lug heinakuu heinakuuta heina
august aug aout aou augustus agosto ago augusti elokuu elokuuta elo
september sep sept septembre septiembre set settembre syyskuu syyskuuta syys
october oct oktober okt octobre octubre ottobre ott lokakuu lokakuuta loka
november nov novembre noviembre marraskuu marraskuuta marras
december dec dezember dez decembre diciembre dic dicembre desember des joulukuu joulukuuta joulu
"""
MONTHS = {word: number for number, line in enumerate(_MONTHS.split("\n")[1:-1], start=1) for word in line.split()}

_WEEKDAYS = """
mon tue wed thu fri sat sun monday tuesday wednesday thursday friday saturday sunday tues thur thurs
mo di mi do fr sa so montag dienstag mittwoch donnerstag freitag samstag sonnabend sonntag
lun mer jeu ven sam dim lundi mardi mercredi jeudi vendredi samedi dimanche
ma wo vr za zo maandag dinsdag woensdag donderdag vrijdag zaterdag zondag
mie jue vie sab dom lunes martes miercoles jueves viernes sabado domingo
gio lunedi martedi mercoledi giovedi venerdi sabato domenica
man tir ons tor fre lor son mandag tirsdag onsdag torsdag fredag lordag sondag tis tisdag lordag
ke to pe su maanantai tiistai keskiviikko torstai perjantai lauantai sunnuntai
"""
WEEKDAYS = frozenset(_WEEKDAYS.split())

# Zone words that may follow a time; the summer word of each is its own offset [min].
ZONE_WORDS = {
    "z": 0, "utc": 0, "gmt": 0, "wet": 0, "west": 60, "cet": 60, "cest": 120, "mez": 60, "mesz": 120,
    "eet": 120, "eest": 180,
}  # fmt: skip

_WORD = r"[^\W\d_]+"
_SEPARATOR = r"\s*[-/.\s,]\s*"
DATE_FORMS = (
    re.compile(r"(?P<y>\d{4})(?P<s>[-/.\s])(?P<m>\d{1,2})(?P=s)(?P<d>\d{1,2})(?!\d)"),
    re.compile(r"(?P<a>\d{1,2})(?P<s>\s?[-/.]\s?|\s)(?P<b>\d{1,2})(?P=s)(?P<c>\d{4}|\d{2})(?!\d)"),
    re.compile(rf"(?P<d>\d{{1,2}})\.?(?:st|nd|rd|th|er)?[-/.\s]*(?:de\s+)?(?P<n>{_WORD})\.?(?:\s+de)?"
               r"[-/.,\s]*(?P<y>\d{4}|\d{2})(?!\d)"),
    re.compile(rf"(?P<n>{_WORD})\.?[-/\s]*(?P<d>\d{{1,2}})(?:st|nd|rd|th)?(?:\s*,\s*|[-/\s]+)(?P<y>\d{{4}})(?!\d)"),
    re.compile(rf"(?P<y>\d{{4}}){_SEPARATOR}(?P<n>{_WORD})\.?{_SEPARATOR}(?P<d>\d{{1,2}})(?!\d)"),
    re.compile(r"(?P<c8>\d{8})(?!\d{1,3}(?!\d)|\d{5}(?!\d)|\d{7})"),
    re.compile(r"(?P<c6>\d{6})(?!\d)"),
)  # fmt: skip
DAY_OF_YEAR = re.compile(r"(?P<y>\d{4})[-/\s](?P<j>\d{1,3})(?!\d)")
TIME_FORMS = (
    re.compile(
        r"(?P<h>\d{1,2})\s?(?:[:.hH]|\s?Uhr\s?)\s?(?P<m>\d{2})(?:\s?[:.m']\s?(?P<s>\d{2})(?:[.,:](?P<f>\d{1,9}))?)?"
        r"(?:\s*(?P<ap>[aApP])\.?\s?[mM]\.?)?(?:\s*(?:Uhr|uhr|h|s)\.?)?\s*(?P<z>[+\-−]\d{1,2}(?::?\d{2})?|[A-Za-z]{1,4}"
        r"(?:[+\-−]\d{1,2}(?::?\d{2})?)?)?"
    ),
    re.compile(r"(?P<h>\d{1,2})\s*(?P<ap>[aApP])\.?\s?[mM]\.?(?P<z>)"),
    re.compile(r"(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2})?(?:\s?(?P<z>Z|[+\-−]\d{2}(?::?\d{2})?))?"),
    re.compile(r"(?P<h>\d{1,2})\s?[hH]?(?P<z>)"),
)
WEEKDAY = re.compile(rf"({_WORD})\.?,?\s+")
BETWEEN = re.compile(r"^(?:[\s,;T_/.-]|(?:klo|kl|um|at|om|alle|a las|à|ore)\b)+|^$", re.IGNORECASE)
OFFSET = re.compile(r"([A-Za-z]*)(?:([+\-−])(\d{1,2}):?(\d{2})?)?")


@dataclass(frozen=True, slots=True)
class Moment:
    """A written moment: the date, the time of day, and the offset to UTC if it was written.

    A part that was not written is None; the time of day may be 24 h.
    """

    day: date | None
    time_us: int | None
    offset_minutes: int | None = None


def plain(text: str) -> str:
    """Return the text in lower case without accents: `Août` becomes `aout`."""
    lowered = text.lower().replace("ß", "ss").replace("ø", "o").replace("æ", "ae").replace("œ", "oe")
    return "".join(char for char in unicodedata.normalize("NFKD", lowered) if not unicodedata.combining(char))


def parse_moment(text: str, order: DateOrder) -> Moment | None:
    """Understand a date, a time, or both, in whichever order they stand; None if it is neither.

    Examples
    --------
    >>> parse_moment("5. März 2024 24:00", "day-first")
    Moment(day=datetime.date(2024, 3, 5), time_us=86400000000, offset_minutes=None)
    """
    text = text.strip()
    if len(text) > 60 or not any(char.isdigit() for char in text):
        return None
    text = _without_weekday(text)
    for day, rest in _dates_at_start(text, order):
        clock = BETWEEN.sub("", rest).rstrip() if rest[:1].isdigit() or BETWEEN.match(rest) else rest
        if not clock:
            return Moment(day, None)
        if found := parse_time(clock):
            return Moment(day, found[0], found[1])
    time = TIME_FORMS[0].match(text) or TIME_FORMS[1].match(text)
    if time:
        if time.end() == len(text):
            found = parse_time(text)
            return Moment(None, found[0], found[1]) if found else None
        head, rest = text[: time.end()].strip(), BETWEEN.sub("", text[time.end() :])
        clock_found, day_found = parse_time(head), parse_date(rest, order)
        if clock_found and day_found:
            return Moment(day_found, clock_found[0], clock_found[1])
    return None


def parse_date(text: str, order: DateOrder) -> date | None:
    """Understand a date that stands alone; None if it is none."""
    text = _without_weekday(text.strip())
    return next((day for day, rest in _dates_at_start(text, order) if not rest.strip(" .,")), None)


def parse_time(text: str) -> tuple[int, int | None] | None:
    """Understand a time of day that stands alone: microseconds since midnight, and the offset [min] if written."""
    text = text.strip()
    for form in TIME_FORMS:
        if not (found := form.fullmatch(text)):
            continue
        parts = found.groupdict()
        hour, minute, second = (int(parts.get(name) or 0) for name in "hms")
        if half := parts.get("ap"):
            if not 1 <= hour <= 12:
                return None
            hour = hour % 12 + (12 if half in "pP" else 0)
        fraction = int((parts.get("f") or "0").ljust(6, "0")[:6])
        time_us = ((hour * 60 + minute) * 60 + second) * MICROSECONDS + fraction
        if minute > 59 or second > 59 or time_us > DAY_US:
            return None
        if not parts.get("z"):
            return time_us, None
        offset = parse_offset(parts["z"])
        return None if offset is None else (time_us, offset)
    return None


def parse_offset(text: str) -> int | None:
    """Understand what follows a time: `Z`, `+01:00`, `UTC+1`, `CEST`; minutes east of UTC."""
    found = OFFSET.fullmatch(text.strip())
    if not found or not text.strip():
        return None
    base = ZONE_WORDS.get(plain(found[1])) if found[1] else 0
    if base is None:
        return None
    hours, minutes = int(found[3] or 0), int(found[4] or 0)
    written = (hours * 60 + minutes) * (1 if found[2] == "+" else -1)
    return base + written if hours <= 15 and minutes < 60 else None


def _without_weekday(text: str) -> str:
    # "mar" is March in English and Tuesday in French: a month keeps its word.
    weekday = WEEKDAY.match(text)
    if weekday and (word := plain(weekday[1])) in WEEKDAYS and word not in MONTHS:
        return text[weekday.end() :]
    return text


def _dates_at_start(text: str, order: DateOrder) -> list[tuple[date, str]]:
    found: list[tuple[date, str]] = []
    for form in DATE_FORMS:
        match = form.match(text)
        if match and (day := _day_of(match.groupdict(), order)):
            found.append((day, text[match.end() :]))
    if not found and (match := DAY_OF_YEAR.match(text)) and (day := _day_of_year(int(match["y"]), int(match["j"]))):
        found.append((day, text[match.end() :]))
    return found


def _day_of(parts: dict[str, str | None], order: DateOrder) -> date | None:
    if name := parts.get("n"):
        named = MONTHS.get(plain(name))
        return None if named is None else _date(_year(parts["y"] or ""), named, int(parts["d"] or 0))
    if "m" in parts:
        return _date(_year(parts["y"] or ""), int(parts["m"] or 0), int(parts["d"] or 0))
    if "a" in parts:
        first, second, third = parts["a"] or "", parts["b"] or "", parts["c"] or ""
    else:
        first, second, third = _cut(parts.get("c8") or parts.get("c6") or "", order)
    if len(first) == 4:
        return _date(int(first), int(second), int(third))
    if order == "year-first":
        return None if len(third) == 4 else _date(_year(first), int(second), int(third))
    day, month = (first, second) if order == "day-first" else (second, first)
    return _date(_year(third), int(month), int(day))


def _cut(digits: str, order: DateOrder) -> tuple[str, str, str]:
    """Cut a run of six or eight digits into three parts; a year of four digits may come first or last."""
    is_year_first = len(digits) == 8 and (order == "year-first" or FIRST_YEAR <= int(digits[:4]) <= LAST_YEAR)
    first, second = (4, 6) if is_year_first else (2, 4)
    return digits[:first], digits[first:second], digits[second:]


def _year(text: str) -> int:
    year = int(text or 0)
    return year if len(text) > 2 else year + (1900 if year >= CENTURY_PIVOT else 2000)


def _date(year: int, month: int, day: int) -> date | None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return None
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _day_of_year(year: int, number: int) -> date | None:
    if not (FIRST_YEAR <= year <= LAST_YEAR and 1 <= number <= 366):
        return None
    day = date.fromordinal(date(year, 1, 1).toordinal() + number - 1)
    return day if day.year == year else None
