"""Venue records are read and never imported; a trial says what it reckons, and why where it cannot."""

from __future__ import annotations

import gzip
import io
import time
import zipfile

import pandas as pd
import pytest

from isohume.analysis.readings import AirRecord
from isohume.dashboard import loan_trial, loan_venues
from isohume.dashboard.ahead import Ahead
from isohume.dashboard.loan_record import AskedError, loan_of
from isohume.dashboard.loan_trial import VenueTrial, trial_of, trial_table
from isohume.dashboard.loan_venues import FOLDER, KEPT_DAYS, NoVenueRecordError, VenueRecords
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

DAYS = 40


def venue_file(*, date_format: str = "%Y-%m-%d", level: float = 30.0, first: str = "2025-01-01") -> bytes:
    """A dry venue, a reading an hour, its clock in its own zone."""
    times = pd.date_range(first, periods=DAYS * 24, freq="h")
    rows = [f"{time:{date_format} %H:%M:%S},20.0,{level + place % 24 / 8:.1f}" for place, time in enumerate(times)]
    return "\n".join(["Time,Temperature (°C),Humidity (%RH)", *rows, ""]).encode()


def uploaded(archive: Archive, name: str, data: bytes, *, zone: str = "UTC") -> tuple[VenueRecords, str]:
    records = VenueRecords(archive)
    record_id = records.take(name, io.BytesIO(data), loan="7/a", by="the registrar")
    records.say(record_id, {"time_zone": zone})
    records.read(record_id)
    return records, record_id


def tried(archive: Archive, site: Site, **asked: str) -> VenueTrial:
    query = {"frame": "F01", "days": "30", **asked}
    return trial_of(archive, loan_of(archive, "7/a"), query, site, lambda _done, _total: None)


def test_a_venue_record_is_understood_and_stays_out_of_the_archive(archive: Archive) -> None:
    before = archive.imports(), archive.history()
    records, record_id = uploaded(archive, "../venue <b>1</b>.csv", venue_file())
    held = records.one(record_id)
    assert (held["state"], held["name"]) == ("settled", "b>.csv")  # a label: the part after the last slash
    assert held["found"]["files"][0]["kept"] == DAYS * 24
    assert len(held["found"]["files"][0]["daily"]) == DAYS
    assert len(records.record(record_id, "").readings) == DAYS * 24
    assert (archive.imports(), archive.history()) == before
    assert archive.audit(deep=False).is_clean
    assert records.of_loan("another") == []
    records.remove(record_id)
    assert list((archive.folder / FOLDER).glob("[0-9a-f]*")) == []
    with pytest.raises(NoVenueRecordError, match="Upload it again"):
        records.record(record_id, "")


def test_an_old_venue_record_is_removed_by_itself(archive: Archive) -> None:
    records, record_id = uploaded(archive, "venue.csv", venue_file())
    records.forget_old(time.time() + (KEPT_DAYS - 1) * 86_400)
    assert records.one(record_id)["state"] == "settled"
    records.forget_old(time.time() + (KEPT_DAYS + 1) * 86_400)
    assert records.of_loan("7/a") == []


def test_a_question_is_asked_and_its_answer_used(archive: Archive) -> None:
    ambiguous = venue_file(date_format="%d/%m/%Y", first="2025-01-01").splitlines(keepends=True)
    data = b"".join(ambiguous[: 1 + 6 * 24])  # six days: either order is possible
    records, record_id = uploaded(archive, "venue.csv", data)
    held = records.one(record_id)
    if held["state"] == "asks":
        assert held["found"]["questions"][0]["id"] == "date_order"
        with pytest.raises(NoVenueRecordError, match="Answer its questions"):
            records.record(record_id, "")
        records.say(record_id, {"answers": {"date_order": "day-first"}})
        records.read(record_id)
    assert records.one(record_id)["state"] == "settled"


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("garbage.csv", bytes(range(256)) * 40),
        ("empty.csv", b""),
        ("letter.csv", b"Dear registrar,\nthe climate is fine.\n"),
        ("bomb.csv.gz", gzip.compress(b"0" * 60_000_000)),
        ("warm.csv", b"Time,Temperature (\xc2\xb0C)\n" + b"".join(b"2025-01-01 %02d:00,20\n" % h for h in range(24))),
    ],
)
def test_what_is_no_climate_record_gets_a_sentence(archive: Archive, name: str, data: bytes) -> None:
    records, record_id = uploaded(archive, name, data)
    held = records.one(record_id)
    assert held["state"] == "refused"
    assert len(held["told"]) > 20
    assert "Traceback" not in held["told"]


def test_files_that_follow_one_another_are_one_series(archive: Archive) -> None:
    bundle = io.BytesIO()
    with zipfile.ZipFile(bundle, "w", zipfile.ZIP_DEFLATED) as pack:
        pack.writestr("a.csv", venue_file(first="2025-01-01"))
        pack.writestr("b.csv", venue_file(first="2025-03-01"))
    records, record_id = uploaded(archive, "venue.zip", bundle.getvalue())
    assert records.one(record_id)["found"]["places"][0][0] == loan_venues.JOINED
    assert len(records.record(record_id, "").readings) == 2 * DAYS * 24
    with pytest.raises(NoVenueRecordError, match="Choose one"):
        records.record(record_id, "9:none")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"frame": "F02"}, "not part of this loan"),
        ({"days": "9"}, "choose 30"),
        ({"where": "record:../../register.sqlite3"}, "no longer here"),
        ({"where": "room:R9"}, "No logger measured"),
        ({"where": "climate:paradise"}, "No climate named"),
        ({"where": ""}, "Choose the climate"),
        ({"where": "room:R1", "since": "soon"}, "expected a date"),
        ({"where": "room:R1", "since": "2019-01-01"}, "lies outside it"),
        ({"where": "room:R1", "days": "365"}, "shorter stay"),
        ({"frame": "F01", "where": "room:R2"}, "No logger measured"),
    ],
)
def test_what_cannot_be_tried_says_why(archive: Archive, site: Site, asked: dict[str, str], said: str) -> None:
    with pytest.raises(AskedError, match=said):
        tried(archive, site, **asked)


def test_a_trial_says_when_the_terms_are_passed_and_what_the_venue_s_air_is(
    archive: Archive, site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: dict[str, AirRecord] = {}

    def fitted(_archive: Archive, frame_id: str, *, days: int, venue: AirRecord, climate: str | None) -> Ahead:
        assert (frame_id, days, climate) == ("F01", 30, None)
        given["venue"] = venue
        falling = pd.Series([50 - 0.5 * day for day in range(days + 1)],
                            index=pd.date_range(site.now, periods=days + 1, freq="D"))  # fmt: skip
        series = pd.DataFrame({"median": falling, "low10": falling - 1, "high90": falling + 1})
        return Ahead(
            frame=archive.frame_facts("F01"), room="the venue", is_trial=True, series=series, leave_by=None,
            earliest_plausible=None, expected_back_by=None, chance_outside_at_end=0.5, sentences=(),
        )  # fmt: skip

    monkeypatch.setattr(loan_trial, "trial", fitted)
    _, record_id = uploaded(archive, "venue.csv", venue_file(level=20))
    found = tried(archive, site, where=f"record:{record_id}", since="2025-01-03")
    assert given["venue"].readings.index[0] == pd.Timestamp("2025-01-03T00:00+01:00")  # the site's midnight
    # Median 50 − day/2, fan ±1, limit 45: below it from the first day after day 10, and after day 8 for one in ten.
    assert "One course in ten is past this limit by day 9 (25 Feb 2026), half of them by day 11" in found.sentences[0]
    assert [(one.clause.quantity, one.verdict) for one in found.room] == [("temperature_celsius", "met")]
    heads, rows = trial_table(found)
    assert "NOT EVIDENCE" in heads[1]
    assert len(rows) == 31


def test_the_same_season_is_taken_where_the_record_holds_it(archive: Archive, site: Site) -> None:
    times = pd.date_range("2024-06-01", "2025-05-01", freq="6h", tz="UTC")
    readings = pd.DataFrame({"rh_percent": 50.0, "temperature_celsius": 20.0}, index=times)
    record = AirRecord(readings=readings, n_readings=len(times))
    loan = loan_of(archive, "7/a")
    since = loan_trial.since_when(record, "", loan, 30, site.time_zone)
    assert since == loan.legs[1].start - pd.DateOffset(years=1)
    assert loan_trial.usual_days(loan) == 30  # of the lengths on offer the nearest to 44 days
