"""The record of a frame: joined over loggers and rooms, corrected on reading, with what the corrections leave open."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.calibration import SaltCheck, from_comparison, from_salts, record_of
from isohume.ingest.archive.corrections import rh_shift
from isohume.ingest.archive.errors import RegisterError

JANUARY = "2026-01-02T00:00"


def test_an_offset_holds_from_its_date_and_what_is_stored_stays(archive: Archive, files: Any) -> None:
    archive.put("calibrations", {"logger": "L01", "date": "2026-01-02T12:00Z", "offset_percent": 2.0,
                                 "temperature_offset_celsius": -0.5, "uncertainty_percent": 1.2})  # fmt: skip
    archive.ingest(files.logger_file(JANUARY, 96, rh=lambda row: 50.0 + row % 3), name="inside_1.csv")
    stored = files.readings(archive)
    record = archive.inside_record("F01")
    assert record is not None
    assert record.rh_percent.iloc[[0, 47, 48, 49]].tolist() == pytest.approx([50.0, 52.0, 52.0, 53.0])
    assert record.temperature_celsius.iloc[48] == pytest.approx(20.0 + 0.1 * (48 % 7) - 0.5)
    assert (record.uncertainty_percent, str(record.calibrated_on)) == (1.2, "2026-01-02 12:00:00+00:00")
    assert files.readings(archive) == stored


def test_points_correct_on_straight_lines_and_do_not_extend(archive: Archive, files: Any) -> None:
    points = [[34.0, 33.0], [76.0, 75.0], [90.0, 91.0]]
    # By hand: half-way between 76 and 90 the shift is half-way between -1 and +1.
    assert rh_shift(np.array([20.0, 34.0, 55.0, 83.0, 95.0]), points).tolist() == [-1.0, -1.0, -1.0, 0.0, 1.0]
    archive.put("calibrations", {"logger": "L01", "date": "2025-01-01", "points": points})
    archive.ingest(files.logger_file(JANUARY, 3, rh=lambda row: (55.0, 83.0, 86.5)[row]), name="inside_1.csv")
    record = archive.inside_record("F01")
    assert record is not None
    assert record.rh_percent.tolist() == pytest.approx([54.0, 83.0, 87.0])
    # The logger's own uncertainty holds where the calibration states none.
    assert record.uncertainty_percent == 2.0


def test_a_slow_clock_is_corrected_before_placements_are_asked(archive: Archive, files: Any) -> None:
    archive.put("clock_corrections", {"logger": "L01", "from": "2025-12-01T00:00Z", "add_seconds": 3600})
    archive.ingest(files.logger_file("2026-01-01T23:00", 8), name="inside_1.csv")  # truly from midnight on
    record = archive.inside_record("F01")
    assert record is not None
    assert record.n_excluded == 0
    assert record.readings.index[0] == pd.Timestamp("2026-01-02T00:00Z")


def test_a_clock_that_ran_fast_is_corrected_evenly(archive: Archive, files: Any) -> None:
    archive.put("clock_corrections", {"logger": "L01", "from": "2026-01-02T00:00Z", "to": "2026-01-12T00:00Z",
                                      "add_seconds": 0, "add_seconds_at_end": -600})  # fmt: skip
    archive.ingest(files.logger_file(JANUARY, 10 * 24, minutes=60), name="inside_1.csv")
    record = archive.inside_record("F01")
    assert record is not None
    # After five of ten days, half of the ten minutes.
    assert pd.Timestamp("2026-01-06T23:55Z") in record.readings.index


def test_loggers_follow_each_other_and_the_change_is_told(archive: Archive, files: Any) -> None:
    archive.put("placements", {"logger": "L01", "from": "2026-01-02T00:00Z", "to": "2026-01-03T00:00Z"})
    archive.put("loggers", {"id": "L03", "serial": "AX-10003", "files": ["spare_*"], "time_zone": "UTC"})
    archive.put("placements", {"logger": "L03", "frame": "F01", "from": "2026-01-03T06:00Z"})
    archive.ingest(files.logger_file(JANUARY, 3 * 96), name="inside_1.csv")
    archive.ingest(files.logger_file("2026-01-03T00:00", 96, serial="AX-10003"), name="spare_1.csv")
    record = archive.inside_record("F01")
    assert record is not None
    assert record.logger_changes == (pd.Timestamp("2026-01-03T06:00Z"),)
    assert len(record.readings) == 96 + 72
    # Two days after the first logger came out, six hours before the second went in.
    assert record.flag_counts["outside placement"] == 2 * 96 + 24
    # The wider of the two uncertainties holds: 2 %RH, and 3 %RH for the spare one, which nobody calibrated.
    assert record.uncertainty_percent == 3.0
    part = archive.inside_record(
        "F01", dt.datetime(2026, 1, 3, 3, tzinfo=dt.UTC), dt.datetime(2026, 1, 3, 9, tzinfo=dt.UTC)
    )
    assert part is not None
    assert (len(part.readings), part.flag_counts["outside placement"]) == (12, 12)


def test_of_two_loggers_at_once_the_first_counts_while_it_has_readings(archive: Archive, files: Any) -> None:
    archive.put("loggers", {"id": "L03", "serial": "AX-10003", "time_zone": "UTC"})
    archive.put("placements", {"logger": "L03", "frame": "F01", "from": "2026-01-02T12:00Z"})
    archive.ingest(files.logger_file(JANUARY, 72), name="inside_1.csv")  # until 18:00
    archive.ingest(files.logger_file(JANUARY, 96, serial="AX-10003", rh=lambda _: 44.0), name="spare.csv")
    record = archive.inside_record("F01")
    assert record is not None
    assert (record.rh_percent.iloc[:72] >= 50.0).all()
    assert (record.rh_percent.iloc[72:] == 44.0).all()
    assert len(record.readings) == 96


def test_the_outside_follows_the_frame_through_its_rooms(archive: Archive, files: Any) -> None:
    archive.put("loggers", {"id": "L03", "serial": "AX-10003", "time_zone": "UTC"})
    archive.put("placements", {"logger": "L03", "room": "R2", "from": "2026-01-01T00:00Z"})
    archive.put("locations", {"frame": "F01", "room": "R2", "from": "2026-01-03T12:00Z"})
    for serial, name, rh in (("AX-10002", "room_1.csv", 40.0), ("AX-10003", "two.csv", 60.0)):
        archive.ingest(files.logger_file(JANUARY, 3 * 96, serial=serial, rh=lambda _, rh=rh: rh), name=name)
    record = archive.outside_record("F01")
    assert record is not None
    moved = pd.Timestamp("2026-01-03T12:00Z")
    assert (record.rh_percent[record.rh_percent.index < moved] == 40.5).all()  # with its calibration
    assert (record.rh_percent[record.rh_percent.index >= moved] == 60.0).all()
    assert record.logger_changes == (moved,)
    assert len(record.readings) == 3 * 96


def test_a_frame_without_logger_has_no_inside(archive: Archive) -> None:
    archive.put("frames", {"id": "F02"})
    assert archive.inside_record("F02") is None
    assert archive.outside_record("F02") is None


def test_channels_of_one_logger_go_to_their_places(archive: Archive) -> None:
    archive.put("loggers", {"id": "L04", "serial": "HUB-77", "time_zone": "UTC"})
    archive.put("placements", {"logger": "L04", "channel": "S1", "room": "R2", "from": "2026-01-01T00:00Z"})
    archive.put("frames", {"id": "F02"})
    archive.put("placements", {"logger": "L04", "channel": "S2", "frame": "F02", "from": "2026-01-01T00:00Z"})
    rows = ["Logger HUB-77", "Time (UTC),Sensor,Relative humidity (%),Temperature (°C)"]
    for row in range(48):
        moment = dt.datetime(2026, 1, 2, tzinfo=dt.UTC) + dt.timedelta(minutes=30 * row)
        rows += [f"{moment:%Y-%m-%dT%H:%M:%SZ},S1,{40 + row % 5}.0,20.{row % 7}",
                 f"{moment:%Y-%m-%dT%H:%M:%SZ},S2,{50 + row % 3}.0,19.{row % 7}"]  # fmt: skip
    result = archive.ingest(("\n".join(rows) + "\n").encode(), name="hub.csv")
    assert {(one.channel, one.place) for one in result.files[0].placed} == {("S1", "room R2"), ("S2", "frame F02")}
    record = archive.inside_record("F02")
    assert record is not None
    assert record.rh_percent.between(50, 52).all()
    assert len(record.readings) == 48


def test_salts_give_points_with_the_published_humidities() -> None:
    # Greenspan (1977), J. Res. NBS 81A:89-96: at 25 °C magnesium chloride 32.78, sodium chloride 75.29 %RH.
    proposal = from_salts(
        [
            SaltCheck(salt="sodium chloride", temperature_celsius=25.0, as_found_percent=77.0),
            SaltCheck(salt="magnesium chloride", temperature_celsius=25.0, as_found_percent=32.0),
        ]
    )
    (low, high) = proposal.fields["points"]
    assert low == [32.0, pytest.approx(32.78, abs=0.01)]
    assert high == [77.0, pytest.approx(75.29, abs=0.01)]
    assert proposal.fields["as_found"]["sodium chloride"]["as_found_percent"] == 77.0
    single = from_salts([SaltCheck(salt="sodium chloride", temperature_celsius=25.0, as_found_percent=77.0)])
    assert single.fields["offset_percent"] == pytest.approx(
        -1.71, abs=0.02
    )  # the polynomial rounds otherwise than the table
    with pytest.raises(RegisterError, match="tabulated from"):
        from_salts([SaltCheck(salt="sodium chloride", temperature_celsius=95.0, as_found_percent=77.0)])
    with pytest.raises(RegisterError, match="readings that rise"):
        from_salts(
            [
                SaltCheck(salt="sodium chloride", temperature_celsius=25.0, as_found_percent=30.0),
                SaltCheck(salt="magnesium chloride", temperature_celsius=25.0, as_found_percent=77.0),
            ]
        )


def test_a_logger_beside_a_better_one_gets_its_difference_and_honest_uncertainty(archive: Archive, files: Any) -> None:
    archive.ingest(files.logger_file(JANUARY, 3 * 96, rh=lambda row: 51.7 + row % 2), name="inside_1.csv")
    archive.ingest(
        files.logger_file(JANUARY, 3 * 96, serial="AX-10002", rh=lambda row: 50.0 + row % 2), name="room_1.csv"
    )
    period = dt.datetime(2026, 1, 2, tzinfo=dt.UTC), dt.datetime(2026, 1, 4, tzinfo=dt.UTC)
    proposal = archive.compare_loggers("L01", "L02", *period)
    # The reference itself is corrected by its certificate: + 0.5.
    assert proposal.fields["offset_percent"] == pytest.approx(-1.2)
    assert proposal.fields["uncertainty_percent"] == pytest.approx(1.5)  # the reference's: the two differ evenly
    archive.put("calibrations", record_of("L01", "", "2026-01-01", proposal))
    record = archive.inside_record("F01")
    assert record is not None
    assert record.rh_percent.iloc[0] == pytest.approx(50.5)
    with pytest.raises(RegisterError, match="at least 24 hours"):
        archive.compare_loggers("L01", "L02", period[0], period[0] + dt.timedelta(hours=5))


def test_the_uncertainty_of_a_comparison_holds_the_true_offset() -> None:
    # Simulation, not a published number: 200 comparisons with 1 %RH of scatter; k = 2 covers about 95 %.
    rng = np.random.default_rng(7)
    start = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    times = [start + dt.timedelta(hours=hour) for hour in range(48)]
    hits = 0
    for _ in range(200):
        reference_error = rng.normal(0, 0.75)
        truth = 50 + 3 * np.sin(np.arange(48) / 8)
        reference = pl.DataFrame({"time_utc": times, "rh_percent": truth + reference_error})
        test = pl.DataFrame({"time_utc": times, "rh_percent": truth + 1.5 + rng.normal(0, 0.2, 48)})
        found = from_comparison(test, reference, reference_uncertainty_percent=1.5).fields
        hits += abs(found["offset_percent"] + 1.5) <= found["uncertainty_percent"]
    assert 0.91 <= hits / 200 <= 1.0
