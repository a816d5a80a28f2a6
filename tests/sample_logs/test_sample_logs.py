"""The committed logs are what the generator writes, the register fits them, and the stories are true."""

from __future__ import annotations

import datetime as dt
import tomllib
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.frame import Construction, Event, EventKind, FrameFacts, Limits, Panel
from isohume.analysis.results import DataName, StandingName
from isohume.sample_logs.generate import main, sample_files
from isohume.sample_logs.layouts import LAYOUTS
from isohume.sample_logs.physics import true_half_times
from isohume.sample_logs.sorption import FloatArray
from isohume.sample_logs.stories import HERE, Collection, TrueAir, load_collection, true_air

LOGS = HERE / "logs"
MOST_BYTES = 8_000_000


@pytest.fixture(scope="module")
def collection() -> Collection:
    return load_collection()


@pytest.fixture(scope="module")
def air(collection: Collection) -> TrueAir:
    return true_air(collection)


@pytest.fixture(scope="module")
def files(collection: Collection, air: TrueAir) -> dict[str, bytes]:
    return sample_files(collection, air)


def inside(air: TrueAir, frame: str, first: str, last: str) -> FloatArray:
    """True inside humidity of a frame between two dates (UTC)."""
    start, end = (pd.Timestamp(day, tz="UTC").timestamp() for day in (first, last))
    return air.frames[frame].rh_percent[(air.time_s >= start) & (air.time_s < end)]


def monthly_means(air: TrueAir, frame: str) -> pd.Series[float]:
    index = pd.to_datetime(air.time_s, unit="s", utc=True)
    return pd.Series(air.frames[frame].rh_percent, index=index).resample("MS").mean()


def frame_of(collection: Collection, frame_id: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in collection.register["frames"] if one["id"] == frame_id)
    return found


def test_generator_writes_the_committed_bytes(files: dict[str, bytes]) -> None:
    assert sorted(files) == sorted(path.name for path in LOGS.iterdir())
    changed = [name for name, content in files.items() if (LOGS / name).read_bytes() != content]
    assert not changed, "run: python -m isohume.sample_logs.generate"


def test_the_logs_stay_small() -> None:
    assert sum(path.stat().st_size for path in LOGS.iterdir()) < MOST_BYTES


def test_command_writes_register_truth_and_logs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, air: TrueAir, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("isohume.sample_logs.generate.true_air", lambda _collection: air)  # simulated once is enough
    assert main(["--out", str(tmp_path)]) == 0
    assert (tmp_path / "register.toml").read_bytes() == (HERE / "register.toml").read_bytes()
    assert len(list((tmp_path / "logs").iterdir())) == len(list(LOGS.iterdir()))
    assert "MB" in capsys.readouterr().out


def test_every_file_belongs_to_exactly_one_logger(collection: Collection) -> None:
    for path in LOGS.iterdir():
        owners = [
            logger["id"]
            for logger in collection.register["loggers"]
            if any(fnmatchcase(path.name, pattern) for pattern in logger["files"])
        ]
        assert len(owners) == 1, f"{path.name}: {owners}"


def test_register_and_truth_speak_of_the_same_things(collection: Collection) -> None:
    register, truth = collection.register, collection.truth
    assert {frame["id"] for frame in register["frames"]} == set(truth["frames"])
    assert {logger["id"] for logger in register["loggers"]} == set(truth["loggers"])
    rooms = {room["id"] for room in register["rooms"]}
    assert rooms | {"desk"} == set(truth["rooms"])
    assert {stay["room"] for frame in register["frames"] for stay in frame["locations"]} == rooms
    placed = {placement["logger"] for placement in register["placements"]}
    assert placed == set(truth["loggers"])
    assert {facts["layout"] for facts in truth["loggers"].values()} == set(LAYOUTS)


def test_frames_fit_the_shapes_that_analysis_takes(collection: Collection) -> None:
    for frame in collection.register["frames"]:
        events = tuple(
            Event(time_utc=pd.Timestamp(event.pop("time")).tz_convert("UTC"), **event)
            for event in ({**one} for one in frame["events"])
        )
        facts = FrameFacts(
            frame_id=frame["id"],
            band=(frame["band"][0], frame["band"][1]),
            panel=Panel(**frame["panel"]),
            construction=Construction(**frame["construction"]),
            events=events,
            limits=Limits(**frame.get("limits", {})),
        )
        assert all(event.kind in get_args(EventKind) for event in facts.events)
        assert list(facts.events) == sorted(facts.events, key=lambda event: event.time_utc)
        assert "invented" in frame["painting"]


def test_rooms_serve_several_frames_and_the_layouts_are_many(collection: Collection) -> None:
    homes = [frame["locations"][-1]["room"] for frame in collection.register["frames"]]
    assert len(homes) >= 12
    assert max(homes.count(room) for room in homes) >= 3
    assert len({layout.encoding for layout in LAYOUTS.values()}) >= 4
    assert len({layout.delimiter for layout in LAYOUTS.values()}) >= 4
    assert len({layout.times for layout in LAYOUTS.values()}) >= 8


def test_every_standing_and_every_data_word_has_a_story(collection: Collection) -> None:
    frames = collection.truth["frames"].values()
    assert {frame["standing"][0] for frame in frames} == set(get_args(StandingName))
    assert {frame["data"][0] for frame in frames} == set(get_args(DataName))


def test_frames_have_their_true_half_times(collection: Collection, air: TrueAir) -> None:
    wanted = [collection.truth["frames"][frame]["half_time_days"] for frame in air.physics]
    np.testing.assert_allclose(true_half_times(list(air.physics.values()), longest_days=400), wanted, rtol=0.01)


@pytest.mark.parametrize("frame", ["F01", "F06", "F12", "F13", "F14"])
def test_the_steady_frames_are_steady(air: TrueAir, collection: Collection, frame: str) -> None:
    low, high = frame_of(collection, frame)["band"]
    year = inside(air, frame, "2025-09-15", "2026-11-21")
    assert low + 2 < year.min()
    assert year.max() < high - 2


def test_winter_drift_goes_from_50_to_40_and_rebounds(air: TrueAir, collection: Collection) -> None:
    months = monthly_means(air, "F02")
    assert months["2025-10"].iloc[0] == pytest.approx(51, abs=2)
    assert months["2026-03"].iloc[0] == pytest.approx(40, abs=2)
    assert months["2026-09"].iloc[0] > 51
    low, high = frame_of(collection, "F02")["band"]
    assert low < inside(air, "F02", "2025-09-15", "2026-11-21").min()
    assert inside(air, "F02", "2025-09-15", "2026-11-21").max() < high


def test_the_seal_fails_in_its_week_only(air: TrueAir) -> None:
    def follows(first: str, last: str) -> float:
        """Return the slope of the inside's change in a day on its distance to the room [1/day]."""
        own, room = inside(air, "F03", first, last), air.rooms["R3"].rh_percent
        start, end = (pd.Timestamp(day, tz="UTC").timestamp() for day in (first, last))
        gap = (room[(air.time_s >= start) & (air.time_s < end)] - own).reshape(-1, 48).mean(axis=1)
        change = np.diff(own.reshape(-1, 48).mean(axis=1))
        return float(np.polyfit(gap[:-1], change, 1)[0])

    assert follows("2026-05-18", "2026-08-18") > 4 * follows("2026-02-10", "2026-05-11")


def test_one_frame_is_too_dry_now_beyond_doubt(air: TrueAir, collection: Collection) -> None:
    low, _ = frame_of(collection, "F04")["band"]
    month = inside(air, "F04", "2026-10-21", "2026-11-21")
    assert (month < low - 2).sum() / 2 > 100  # hours; the logger's uncertainty is 2 %RH


def test_reconditioning_lifts_the_frame_and_the_next_winter_takes_it_out_again(
    air: TrueAir, collection: Collection
) -> None:
    low, high = frame_of(collection, "F05")["band"]
    assert inside(air, "F05", "2026-02-10", "2026-02-16").mean() < low - 5
    assert inside(air, "F05", "2026-03-04", "2026-03-06").mean() == pytest.approx(52, abs=2)
    now = inside(air, "F05", "2026-11-13", "2026-11-21").mean()
    assert low + 2 < now < high - 2
    assert air.rooms["R3"].rh_percent[-48 * 7 :].mean() < low


def test_one_frame_is_below_its_band_within_the_uncertainty(air: TrueAir, collection: Collection) -> None:
    low, _ = frame_of(collection, "F07")["band"]
    assert low - 1.5 < inside(air, "F07", "2026-11-13", "2026-11-21").mean() < low


def test_the_loan_made_its_frame_damp(air: TrueAir) -> None:
    assert inside(air, "F10", "2026-07-01", "2026-08-01").max() < 60
    assert (inside(air, "F10", "2026-10-21", "2026-11-21") >= 75).sum() / 2 > 48


def test_the_moved_frame_calms_down(air: TrueAir) -> None:
    months = monthly_means(air, "F11")
    assert months["2026-02"].iloc[0] < 37
    assert months["2026-07":].min() > 48
    assert months["2026-07":].max() < 54


def test_the_winter_time_clock_shows_itself_in_the_file(files: dict[str, bytes]) -> None:
    text = files["rahmen07_2026-11-20.csv"].decode("cp1252")
    assert text.count("\r\n29.03.26 02:") == 1  # an hour that local time does not have
    assert text.count("\r\n26.10.25 02:") == 1  # an hour that local time has twice
    summer = files["cadre11_2026-11-20.txt"].decode("cp1252")
    assert summer.count("\r\n29/03/2026\t02:") == 0
    assert summer.count("\r\n26/10/2025\t02:") == 2


def test_the_stuck_logger_stands_still_and_spikes(files: dict[str, bytes]) -> None:
    rows = [line.strip('"').split('","') for line in files["marco06_2026-11-20.csv"].decode().splitlines()[1:]]
    humidity = np.array([float(row[1].replace(",", ".")) for row in rows])
    still = np.diff(np.flatnonzero(np.diff(humidity, prepend=-1.0) != 0), append=len(humidity))
    assert still.max() > 45 * 24
    jumps = np.abs(humidity[1:-1] - (humidity[:-2] + humidity[2:]) / 2) > 10
    assert 0.005 < jumps.mean() < 0.03
    # Stuck and spiking together spoil more than a tenth of the record, and less than half of the last month.
    assert (still.max() + jumps.sum()) / len(humidity) > 0.11


def test_swapped_sensors_are_swapped(files: dict[str, bytes]) -> None:
    rows = [line.split(";") for line in files["council_chamber_2026-11-20.csv"].decode().splitlines()[3:]]
    called_inside, called_room = (np.array([float(row[k]) for row in rows]) for k in (1, 3))
    assert called_inside.std() > 1.5 * called_room.std()


def test_the_desk_shows_before_the_logger_went_in(files: dict[str, bytes]) -> None:
    rows = [line.split(";") for line in files["lijst12_2026-11-20.csv"].decode().splitlines()[1:-5]]
    rows.reverse()
    warmth = np.array([float(row[1].replace(",", ".")) for row in rows])
    placed = next(k for k, row in enumerate(rows) if row[0] >= "22-09-2025 15:00" and row[0][3:10] == "09-2025")
    assert warmth[:placed].mean() > warmth[placed : placed + 24 * 7].mean() + 1.5


def test_the_expected_file_did_not_come(collection: Collection) -> None:
    newest = max(path.stem.rsplit("_", 1)[1] for path in LOGS.glob("rahmen14_*"))
    age = collection.as_of.date() - dt.date.fromisoformat(newest)
    assert age > dt.timedelta(days=Limits().stale_days)
    logger = next(one for one in collection.register["loggers"] if one["id"] == "L24")
    assert age > dt.timedelta(days=logger["expect_every_days"])


def test_the_short_record_is_short(files: dict[str, bytes]) -> None:
    n_rows = len(files["frame09_2026-11-20.tsv"].decode().splitlines()) - 2
    assert n_rows / 144 < Limits().shortest_record_days


def test_strip_readings_are_near_the_truth(air: TrueAir, collection: Collection) -> None:
    strips = [event for event in frame_of(collection, "F13")["events"] if event["kind"] == "strip read"]
    assert len(strips) >= 12
    truth = np.interp([event["time"].timestamp() for event in strips], air.time_s, air.frames["F13"].rh_percent)
    error = np.array([event["rh_percent"] for event in strips]) - truth
    # Common practice: a strip's bias has SD 2 %RH, a reading SD 1.5 %RH.
    assert abs(error.mean()) < 2 * 2
    assert error.std() < 2 * 1.5


def test_loggers_are_right_within_their_uncertainty_once_calibrated(collection: Collection) -> None:
    for logger in collection.register["loggers"]:
        errors = collection.truth["loggers"][logger["id"]]["errors_percent"]
        offsets = [one["offset_percent"] for one in logger.get("calibrations", [])] or [0.0] * len(errors)
        assert len(errors) == len(offsets)
        assert all(abs(e + o) < logger["uncertainty_percent"] for e, o in zip(errors, offsets, strict=True))


def test_register_is_read_without_help() -> None:
    text = (HERE / "register.toml").read_text(encoding="utf-8")
    assert text.startswith("#")
    assert tomllib.loads(text)["collection"]["invented"] is True
