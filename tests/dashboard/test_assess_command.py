"""`isohume assess` on loose files: what it prints where, and what it says of input it cannot use."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner, Result

from isohume.analysis.exchange.fit import CannotTell
from isohume.dashboard.cli import app
from isohume.dashboard.commands.assess import repeated
from isohume.dashboard.moments import moment_of, zone_of

HOURS = np.arange(50 * 24)
# The room swings by the day and by the fortnight; the frame softens it.
ROOM = 48 + 6 * np.sin(2 * np.pi * HOURS / 24) + 8 * np.sin(2 * np.pi * HOURS / 360)
INSIDE = 48 + 2 * np.sin(2 * np.pi * HOURS / 360 - 1)
WriteLog = Callable[..., str]


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, ["assess", *arguments])


@pytest.fixture
def log(tmp_path: Path) -> WriteLog:
    def write(name: str, percent: np.ndarray, *, start: str = "2026-01-01T00:00Z", suffix: str = "Z") -> str:
        times = pd.date_range(start, periods=len(percent), freq="h")
        rows = [
            f"{time:%Y-%m-%dT%H:%M:%S}{suffix},{value:.2f},{20 + np.sin(time.day_of_year + time.hour / 4):.2f}"
            for time, value in zip(times, percent, strict=True)
        ]
        path = tmp_path / name
        path.write_text("\n".join(["time,RH (%),temperature (°C)", *rows, ""]), encoding="utf-8")
        return str(path)

    return write


@pytest.fixture(autouse=True)
def quick_model(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out the fit of the exchange model, which has tests of its own and takes seconds."""
    unknown = CannotTell(why="Left out in this test.")
    monkeypatch.setattr("isohume.analysis.assess.fit_exchange", lambda *_sides, **_facts: unknown)


def assert_refused(outcome: Result, *words: str, code: int = 3) -> None:
    assert outcome.exit_code == code, outcome.output
    assert outcome.stdout == ""
    assert "Traceback" not in outcome.stderr
    for word in words:
        assert word in outcome.stderr


def test_findings_are_printed_as_sentences(log: WriteLog) -> None:
    outcome = run("--inside", log("in.csv", INSIDE), "--outside", log("out.csv", ROOM), "--band", "45", "55")
    assert outcome.exit_code == 0, outcome.output
    for heading in ("What it needs", "Hours outside the band", "Buffering", "Dew point and damp"):
        assert heading in outcome.stdout
    assert "45–55 %RH" in outcome.stdout
    assert "qualified conservator" in outcome.stdout


def test_json_is_one_document_and_hours_equal_an_independent_count(log: WriteLog) -> None:
    outcome = run("--inside", log("in.csv", INSIDE), "--outside", log("out.csv", ROOM), "--band", "47", "49", "--json")
    assert outcome.exit_code == 0, outcome.output
    found = json.loads(outcome.stdout)
    written = np.round(INSIDE, 2)
    # The straight lines between readings, sampled a thousand times an hour.
    fine = np.interp(np.arange(0, HOURS[-1], 1e-3) + 5e-4, HOURS, written)
    assert found["band"]["hours_below"] == pytest.approx((fine < 47).sum() * 1e-3, abs=0.01)
    assert found["band"]["hours_above"] == pytest.approx((fine > 49).sum() * 1e-3, abs=0.01)
    assert found["inputs"]["parameters"]["band"] == [47.0, 49.0]
    assert [file["side"] for file in found["inputs"]["files"]] == ["inside", "outside"]
    assert all(len(file["sha256"]) == 64 for file in found["inputs"]["files"])
    assert "NaN" not in outcome.stdout


def test_several_files_of_a_side_are_joined(log: WriteLog) -> None:
    half = len(HOURS) // 2
    early = log("a.csv", INSIDE[: half + 10])
    late = log("b.csv", INSIDE[half:], start=str(pd.Timestamp("2026-01-01") + pd.Timedelta(hours=half)) + "Z")
    outcome = run("--inside", early, late, "--outside", log("out.csv", ROOM), "--json")
    assert outcome.exit_code == 0, outcome.output
    assert json.loads(outcome.stdout)["period"]["hours_inside_covered"] == pytest.approx(HOURS[-1])


def test_as_of_hides_what_came_later(log: WriteLog) -> None:
    sides = ("--inside", log("in.csv", INSIDE), "--outside", log("out.csv", ROOM))
    found = json.loads(run(*sides, "--as-of", "2026-01-31", "--tz", "Europe/Berlin", "--json").stdout)
    assert found["as_of"] == "2026-01-30T23:00:00Z"
    assert found["period"]["end_utc"] == "2026-01-30T23:00:00Z"


def test_swapped_sides_are_recognised(log: WriteLog) -> None:
    hours = np.arange(200 * 24)
    weather = np.random.default_rng(1).standard_normal(len(hours)).cumsum()
    lively = 50 + 8 * (weather - pd.Series(weather).rolling(500, 1, center=True).mean().to_numpy()) / weather.std()
    calm = 50 + (lively - 50) / 5
    outcome = run("--inside", log("in.csv", lively), "--outside", log("out.csv", calm))
    assert outcome.exit_code == 0, outcome.output
    assert "look swapped" in outcome.stderr
    assert "Cannot tell" in outcome.stdout


def test_page_is_written_beside_the_result(log: WriteLog, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    sides = ("--inside", log("in.csv", INSIDE), "--outside", log("out.csv", ROOM))
    assert run(*sides, "--html", str(page)).exit_code == 0
    assert "<svg" in page.read_text(encoding="utf-8")
    nowhere = run(*sides, "--html", str(tmp_path / "no" / "page.html"))
    assert nowhere.exit_code == 3
    assert "cannot be written" in nowhere.stderr


def test_missing_file(log: WriteLog, tmp_path: Path) -> None:
    gone = str(tmp_path / "gone.csv")
    assert_refused(run("--inside", gone, "--outside", log("out.csv", ROOM)), "gone.csv", "no such file")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("", ("bad.csv",)),
        ("Dear colleague,\nthe logger is broken.\nKind regards\n", ("bad.csv",)),
        (
            "time,pressure (hPa)\n" + "".join(f"2026-01-{day:02d}T00:00:00Z,1013\n" for day in range(1, 29)),
            ("bad.csv",),
        ),
    ],
    ids=["empty", "prose", "without humidity"],
)
def test_file_that_is_no_logger_file(log: WriteLog, tmp_path: Path, content: str, words: tuple[str, ...]) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text(content, encoding="utf-8")
    assert_refused(run("--inside", str(bad), "--outside", log("out.csv", ROOM)), *words, "expected")


def test_file_with_temperature_only(log: WriteLog, tmp_path: Path) -> None:
    warm = tmp_path / "warm.csv"
    rows = [f"{time:%Y-%m-%dT%H:%M:%S}Z,20.5" for time in pd.date_range("2026-01-01", periods=700, freq="h")]
    warm.write_text("\n".join(["time,temperature (°C)", *rows, ""]), encoding="utf-8")
    assert_refused(run("--inside", str(warm), "--outside", log("out.csv", ROOM)), "warm.csv", "humidity")


def test_sides_that_do_not_overlap(log: WriteLog) -> None:
    later = log("out.csv", ROOM, start="2027-01-01T00:00Z")
    assert_refused(run("--inside", log("in.csv", INSIDE), "--outside", later), "do not overlap", "2026-01-01 to")


def test_some_files_refused(log: WriteLog, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("nothing here", encoding="utf-8")
    outcome = run("--inside", log("in.csv", INSIDE), str(bad), "--outside", log("out.csv", ROOM))
    assert outcome.exit_code == 1
    assert "bad.csv" in outcome.stderr
    assert "What it needs" in outcome.stdout


def test_a_clock_without_a_zone_is_asked_about(log: WriteLog) -> None:
    local = log("in.csv", INSIDE, suffix="")
    assert_refused(run("--inside", local, "--outside", log("out.csv", ROOM)), "in.csv", "--tz")


def test_two_channels_are_asked_about_and_one_file_serves_both_sides(tmp_path: Path) -> None:
    both = tmp_path / "both.csv"
    rows = [
        f"{time:%Y-%m-%dT%H:%M:%S}Z,{inside:.1f},20.1,{room:.1f},20.9"
        for time, inside, room in zip(
            pd.date_range("2026-01-01", periods=len(HOURS), freq="h"), INSIDE, ROOM, strict=True
        )
    ]
    head = "time,A humidity (%),A temperature (°C),B humidity (%),B temperature (°C)"
    both.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    sides = ("--inside", str(both), "--outside", str(both))
    assert_refused(run(*sides), '"A"', '"B"', "--inside-channel")
    outcome = run(*sides, "--inside-channel", "A", "--outside-channel", "B", "--json")
    assert outcome.exit_code == 0, outcome.output
    assert json.loads(outcome.stdout)["buffering"]["daily"]["ratio"] > 2
    assert_refused(run(*sides, "--inside-channel", "C", "--outside-channel", "B"), 'no channel "C"')


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--band", "55", "45"), "low limit"),
        (("--conditioned", "120"), "between 0 and 100"),
        (("--tz", "Europe/Nowhere"), "Europe/Nowhere"),
        (("--as-of", "yesterday"), "yesterday"),
        (("--answer", "day-first"), "date_order=day-first"),
    ],
)
def test_options_that_make_no_sense(log: WriteLog, options: tuple[str, ...], words: str) -> None:
    outcome = run("--inside", log("in.csv", INSIDE), "--outside", log("out.csv", ROOM), *options)
    assert_refused(outcome, words, code=2)


def test_side_options_take_every_word_up_to_the_next_option() -> None:
    typed = ["--inside", "a", "b", "--band", "45", "55", "--outside", "c", "d", "e", "--json"]
    assert repeated(typed) == [
        *("--inside", "a", "--inside", "b", "--band", "45", "55"),
        *("--outside", "c", "--outside", "d", "--outside", "e", "--json"),
    ]
    assert repeated(["--inside=a", "--outside", "-"]) == ["--inside=a", "--outside", "-"]


def test_moments_and_zones() -> None:
    assert moment_of("2026-11-20", "Europe/Berlin") == pd.Timestamp("2026-11-19T23:00Z")
    assert moment_of("2026-11-20T08:00+01:00", "UTC") == pd.Timestamp("2026-11-20T07:00Z")
    with pytest.raises(ValueError, match="that exists"):
        moment_of("2026-03-29T02:30", "Europe/Berlin")
    assert zone_of("+01:00") == "+01:00"
    with pytest.raises(ValueError, match="offset such as"):
        zone_of("+25 h")
