"""Written times: the reference parser against independent ones, the fast path against the reference."""

# ruff: noqa: DTZ001 - loggers write wall clocks, without a zone
from __future__ import annotations

import calendar
import email.utils
from datetime import UTC, date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.date_order import possible_orders, settle_order
from isohume.ingest.moments import ORDERS, DateOrder, parse_date, parse_moment, parse_time
from isohume.ingest.times import chrono_format, parse_times

moments = st.datetimes(datetime(1990, 1, 1), datetime(2068, 12, 31)).map(lambda t: t.replace(microsecond=0))
FORMATS: dict[str, DateOrder] = {
    "%Y-%m-%d %H:%M:%S": "year-first", "%Y/%m/%d %H:%M:%S": "year-first", "%Y-%m-%dT%H:%M:%S": "year-first",
    "%d.%m.%Y %H:%M:%S": "day-first", "%d/%m/%y %H:%M:%S": "day-first", "%m/%d/%Y %I:%M:%S %p": "month-first",
    "%d %b %Y %H:%M:%S": "day-first", "%B %d, %Y %H:%M:%S": "day-first", "%d-%b-%y %H:%M:%S": "day-first",
    "%Y%m%d%H%M%S": "year-first", "%Y%m%dT%H%M%S": "year-first", "%H:%M:%S %d/%m/%Y": "day-first",
    "%a %d.%m.%Y %H:%M:%S": "day-first", "%Y-%j %H:%M:%S": "year-first", "%y-%m-%d %H:%M:%S": "year-first",
}  # fmt: skip


@given(moments, st.sampled_from(sorted(FORMATS)))
def test_reference_parser_inverts_strftime(moment: datetime, written: str) -> None:
    found = parse_moment(moment.strftime(written), FORMATS[written])
    assert found is not None
    assert found.day == moment.date()
    assert found.time_us == (moment - datetime.combine(moment.date(), datetime.min.time())) / timedelta(microseconds=1)


@given(moments)
def test_internet_dates_carry_their_offset(moment: datetime) -> None:
    # RFC 5322 by Python's own writer.
    found = parse_moment(email.utils.format_datetime(moment.replace(tzinfo=UTC), usegmt=True), "day-first")
    assert found is not None
    assert (found.day, found.offset_minutes) == (moment.date(), 0)


@settings(max_examples=60, deadline=None)
@given(st.lists(moments, min_size=1, max_size=8), st.sampled_from(sorted(FORMATS)), st.data())
def test_fast_path_agrees_with_the_reference(times: list[datetime], written: str, data: st.DataObject) -> None:
    order = FORMATS[written]
    texts = [time.strftime(written) for time in times]
    spoiled = data.draw(
        st.sampled_from(["", "x", "24:00", "31.02.2025 10:00", "2025-13-01 00:00:00", "01/02/24 1:00"])
    )
    texts.insert(data.draw(st.integers(0, len(texts))), spoiled)
    local = parse_times(pl.Series(texts, dtype=pl.String), order, with_offset=False).local
    for text, fast in zip(texts, local.to_list(), strict=True):
        slow = parse_moment(text, order)
        if slow is None or slow.day is None or slow.time_us is None:
            assert fast is None
        else:
            assert fast == datetime.combine(slow.day, datetime.min.time()) + timedelta(microseconds=slow.time_us)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5. März 2024 24:00", datetime(2024, 3, 6)),
        ("1er janvier 2024 00h15", datetime(2024, 1, 1, 0, 15)),
        ("3 de marzo de 2024 10:30", datetime(2024, 3, 3, 10, 30)),
        ("5 maaliskuuta 2024 klo 10.30", datetime(2024, 3, 5, 10, 30)),
        ("05.03.2024, 10:30 Uhr", datetime(2024, 3, 5, 10, 30)),
        ("12/8/2024 12:05 a. m.", datetime(2024, 8, 12, 0, 5)),
        ("12/8/2024 12:05 PM", datetime(2024, 8, 12, 12, 5)),
        ("2024-03-05 10:30:15,250", datetime(2024, 3, 5, 10, 30, 15, 250_000)),
        ("Mo 04.03.2024 10:30", datetime(2024, 3, 4, 10, 30)),
    ],
)
def test_awkward_times(text: str, expected: datetime) -> None:
    local = parse_times(pl.Series([text]), "day-first", with_offset=False).local
    assert local.to_list() == [expected]


@pytest.mark.parametrize(
    "text",
    ["", "x", "45.2", "2024-02-30 10:00", "32.01.2024 10:00", "10:61", "25:00", "24:01", "13:00 PM",
     "garbage 2024-03-05 10:00",
     "2024-03-05 10:00 x7", "99999999", "1850-01-01 00:00"],
)  # fmt: skip
def test_what_is_no_time_stays_none(text: str) -> None:
    assert all((found := parse_moment(text, order)) is None or found.day is None for order in ORDERS)


def test_month_names_of_ten_languages_are_those_of_the_calendar() -> None:
    # English names from Python's own calendar; the others from memory, one day of each month.
    names = {
        "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
        "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
        "nl": "januari februari maart april mei juni juli augustus september oktober november december",
        "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
        "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
        "da": "januar februar marts april maj juni juli august september oktober november december",
        "no": "januar februar mars april mai juni juli august september oktober november desember",
        "sv": "januari februari mars april maj juni juli augusti september oktober november december",
        "fi": "tammikuu helmikuu maaliskuu huhtikuu toukokuu kesäkuu heinäkuu elokuu syyskuu lokakuu marraskuu "
        "joulukuu",
        "en": " ".join(calendar.month_name[1:]),
    }
    for language in names.values():
        for month, name in enumerate(language.split(), start=1):
            assert parse_date(f"17 {name} 2025", "day-first") == date(2025, month, 17)


def test_offsets_are_applied_and_required() -> None:
    texts = pl.Series(
        ["2024-06-01T12:00:00+02:00", "2024-06-01T12:00:00Z", "2024-06-01 12:00:00", "01.06.2024 12:00 CEST"]
    )
    local = parse_times(texts, "day-first", with_offset=True).local
    assert local.to_list() == [
        datetime(2024, 6, 1, 10), datetime(2024, 6, 1, 12), None, datetime(2024, 6, 1, 10),
    ]  # fmt: skip
    assert parse_times(texts, "day-first", with_offset=False).local.to_list()[2] == datetime(2024, 6, 1, 12)


def test_many_distinct_awkward_texts_agree_with_the_reference() -> None:
    start = datetime(2024, 1, 1)
    times = [start + timedelta(seconds=61 * n) for n in range(6000)]
    local = parse_times(pl.Series([f"{t:%d. %B %Y %H:%M:%S}" for t in times]), "day-first", with_offset=False).local
    assert local.to_list() == times


def test_times_alone_are_understood() -> None:
    minute = 60_000_000
    assert parse_time("9:05 PM") == (1265 * minute, None)
    assert parse_time("24:00") == (1440 * minute, None)
    assert parse_time("10:00+02:00") == (600 * minute, 120)
    assert parse_time("24:30") is None


def test_unsettled_formats_have_no_fast_path() -> None:
    assert chrono_format("5. März 2024 10:00", "day-first", with_offset=False) is None
    assert chrono_format("2024-03-05 10:00", "year-first", with_offset=True) is None


# --- day and month: settled by the readings or not at all ---


def series(start: datetime, step: timedelta, n: int, written: str) -> pl.Series:
    return pl.Series([(start + step * k).strftime(written) for k in range(n)])


@settings(max_examples=40, deadline=None)
@given(st.dates(date(2015, 1, 1), date(2030, 12, 31)), st.sampled_from([10, 60, 180]), st.integers(3, 20),
       st.sampled_from(["day-first", "month-first"]))  # fmt: skip
def test_a_record_of_days_settles_its_order_or_is_asked_about(
    start: date, minutes: int, days: int, order: DateOrder
) -> None:
    written = "%d/%m/%Y %H:%M" if order == "day-first" else "%m/%d/%Y %H:%M"
    step = timedelta(minutes=minutes)
    texts = series(datetime.combine(start, datetime.min.time()), step, int(timedelta(days=days) / step), written)
    assert settle_order(texts, ("day-first", "month-first"), with_offset=False) == order


@pytest.mark.parametrize("day", [date(2025, 4, 3), date(2025, 4, 4), date(2025, 12, 11)])
def test_one_ambiguous_day_is_never_guessed(day: date) -> None:
    texts = series(datetime.combine(day, datetime.min.time()), timedelta(minutes=10), 100, "%d/%m/%Y %H:%M")
    settled = settle_order(texts, ("day-first", "month-first"), with_offset=False)
    assert settled is None


def test_newest_first_and_gaps_do_not_mislead() -> None:
    texts = series(datetime(2025, 3, 1), timedelta(hours=1), 260, "%d/%m/%Y %H:%M")
    kept = pl.concat([texts[:50], texts[90:]])
    for record in (texts, kept, kept.reverse()):
        assert settle_order(record, ("day-first", "month-first"), with_offset=False) == "day-first"


def test_how_dates_are_written_limits_the_orders() -> None:
    assert possible_orders(["2024-03-04 10:00"]) == ("year-first",)
    assert possible_orders(["3 Apr 2024 10:00"]) == ("year-first",)
    assert possible_orders(["03.04.24 10:00"]) == ORDERS
    assert possible_orders(["20240304 1000"]) == ("year-first",)
