"""The store over a real archive: findings are computed once, and again only where their inputs changed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from flask import g

from isohume.analysis.assess import assess
from isohume.dashboard import assessing
from isohume.dashboard.access.people import AT_THIS_MACHINE
from isohume.dashboard.app import create_app, page_at
from isohume.dashboard.store import Store
from isohume.dashboard.views import UnknownFrameError
from isohume.ingest.archive.archive import Archive

REGISTER = """
[collection]
name = "Lantern House (invented)"
time_zone = "Europe/Berlin"
invented = true

[[rooms]]
id = "R1"
name = "Hall"

[[loggers]]
id = "L1"
uncertainty_percent = 2.0
files = ["hall*.csv"]

[[placements]]
logger = "L1"
channel = ""
room = "R1"
from = 2026-01-01T00:00:00+01:00
""" + "".join(
    f"""
[[loggers]]
id = "L{frame}2"
files = ["{frame}*.csv"]
expect_every_days = 400

[[placements]]
logger = "L{frame}2"
channel = ""
frame = "{frame}"
from = 2026-01-01T00:00:00+01:00

[[frames]]
id = "{frame}"
painting = "{painting}"
band = [45, 55]
conditioned_percent = 50
conditioned_on = 2025-06-01

[[frames.locations]]
room = "R1"
from = 2026-01-01T00:00:00+01:00
"""
    for frame, painting in (("FA", "Steady Lamp"), ("FB", "Dry Lamp"), ("FC", "Lamp without Logger"))
)
NOW = pd.Timestamp("2026-02-20T12:00Z")
N_HOURS = 49 * 24


def csv(rh_percent: np.ndarray, *, start: str = "2026-01-02T00:00:00Z") -> bytes:
    times = pd.date_range(start, periods=rh_percent.size, freq="h")
    rows = [f"{time:%Y-%m-%dT%H:%M:%SZ},{rh:.1f},20.0" for time, rh in zip(times, rh_percent, strict=True)]
    return "\n".join(["time,relative humidity [%],temperature [°C]", *rows, ""]).encode()


def following(room_percent: np.ndarray, *, level: float, half_time_hours: float = 240.0) -> np.ndarray:
    """Return the humidity of a sealed frame that follows its room."""
    share = 1 - 0.5 ** (1 / half_time_hours)
    inside = np.empty_like(room_percent)
    for hour, room in enumerate(room_percent):
        level += share * (room - level)
        inside[hour] = level
    return inside


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    folder: Path = tmp_path_factory.mktemp("lantern")
    description = folder / "register.toml"
    description.write_text(REGISTER, encoding="utf-8")
    hours = np.arange(N_HOURS)
    noise = np.random.default_rng(7).normal(0, 0.2, (3, N_HOURS))
    with Archive.create(folder / "archive") as made:
        made.load_register(description)
        room = 50 + 6 * np.sin(hours / 40)
        made.ingest(csv(room + noise[0]), name="hall.csv")
        made.ingest(csv(following(room, level=50.0) + noise[1]), name="FA.csv")
        made.ingest(csv(following(room - 12, level=41.0) + noise[2]), name="FB.csv")
        yield made


@pytest.fixture
def assessed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Count which frames are assessed anew."""
    names: list[str] = []

    def counting(*records: object, **given: object) -> object:
        names.append(given["frame"].frame_id)
        return assess(*records, **given)

    monkeypatch.setattr(assessing, "assess", counting)
    return names


def at(archive: Archive, now: pd.Timestamp = NOW) -> Store:
    return Store(archive, now=lambda: now)


def test_findings_are_computed_once_and_found_again(archive: Archive, assessed: list[str]) -> None:
    first = at(archive).summaries()
    assert first[0].frame_id == "FB", "the one that is too dry comes first"
    assert first[0].standing.name == "needs reconditioning"
    computed = sorted(assessed)
    assert computed in ([], ["FA", "FB", "FC"])  # [] where another test of this module came first
    again = at(archive)
    rows = again.summaries()
    view = again.frame("FB")
    assert sorted(assessed) == computed, "another store, another process: nothing is computed twice"
    assert [row.standing for row in rows] == [row.standing for row in first]
    assert view.assessment.standing == rows[0].standing
    # The kept assessment equals a fresh one on the same records.
    inside, outside = archive.inside_record("FB"), archive.outside_record("FB")
    fresh = assess(inside, outside, frame=archive.frame_facts("FB"), as_of=NOW)
    assert view.assessment.band == fresh.band
    assert view.assessment.buffering == fresh.buffering


def test_a_new_file_concerns_only_its_frame(archive: Archive, assessed: list[str]) -> None:
    running = at(archive)
    running.summaries()
    assessed.clear()
    archive.ingest(csv(np.full(5, 50.0), start="2026-02-20T02:00:00Z"), name="FA_later.csv")
    newest = {row.frame_id: row.newest_utc for row in running.summaries()}
    assert assessed == ["FA"]
    assert newest["FA"] == pd.Timestamp("2026-02-20T06:00Z")
    assert running.frame("FA").files[0].file == "FA_later.csv"


def test_a_new_day_makes_all_findings_new(archive: Archive, assessed: list[str]) -> None:
    at(archive).summaries()
    assessed.clear()
    at(archive, NOW + pd.Timedelta(hours=2)).summaries()
    assert assessed == [], "the same day in the site's zone"
    late = at(archive, NOW + pd.Timedelta(days=60))
    assert {row.data.name for row in late.summaries() if not row.estimated} == {"stale"}
    assert sorted(assessed) == ["FA", "FB", "FC"]


def test_the_pages_know_at_once_what_is_missing(archive: Archive, assessed: list[str]) -> None:
    held = at(archive, NOW + pd.Timedelta(days=5))
    rows = {row.frame_id: row for row in held.known_summaries()}
    assert assessed == [], "nothing is computed for a list that does not wait"
    assert set(held.unassessed()) == set(rows) == {"FA", "FB", "FC"}
    assert {row.computed for row in rows.values()} <= {"before", "never"}
    assert rows["FB"].painting == "Dry Lamp"
    assert held.known_frame("FB").computed in {"before", "never"}
    told: list[tuple[int, int]] = []
    held.complete(["FB"], progress=lambda done, total: told.append((done, total)))
    assert assessed == ["FB"]
    assert told == [(0, 1), (1, 1)]
    assert held.known_frame("FB").computed == "now"
    assert {row.frame_id: row.computed == "now" for row in held.known_summaries()} == {
        "FA": False, "FB": True, "FC": False,
    }  # fmt: skip
    archive.put("events", {"frame": "FB", "time": "2026-02-19T10:00:00Z", "kind": "note", "note": "looked at"})
    outdated = held.known_frame("FB")
    assert outdated.computed == "before"
    assert outdated.facts.events[-1].note == "looked at", "facts are current, findings those before"
    archive.remove("events", {"frame": "FB", "time": "2026-02-19T10:00:00Z", "kind": "note"})
    held.complete()
    assert held.unassessed() == ()


def test_a_moment_asked_for_sees_nothing_later_and_is_not_kept(archive: Archive, assessed: list[str]) -> None:
    at(archive).summaries()
    assessed.clear()
    past = Store(archive, as_of=pd.Timestamp("2026-02-01T00:00Z"))
    row = next(row for row in past.summaries() if row.frame_id == "FA")
    assert row.newest_utc == pd.Timestamp("2026-02-01T00:00Z")
    assert past.record("FA").span[1] == pd.Timestamp("2026-02-01T00:00Z").timestamp()
    assessed.clear()
    at(archive).summaries()
    assert assessed == [], "looking back does not push out what is kept for today"


def test_a_frame_without_a_logger_is_shown_as_estimated(archive: Archive) -> None:
    held = at(archive)
    view = held.frame("FC")
    assert view.estimated
    assert view.assessment.band is None
    with create_app(held).server.test_request_context():
        g.person = AT_THIS_MACHINE
        content, title = page_at("/frame/FC", "")
    assert title == "Frame FC"
    assert "No estimate" in str(content)


def test_a_frame_that_cannot_be_assessed_does_not_hide_the_others(
    archive: Archive, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def failing(inside: object, outside: object, **given: object) -> object:
        if inside is not None and given["frame"].frame_id == "FB":
            raise ArithmeticError("no figure fits")
        return assess(inside, outside, **given)

    monkeypatch.setattr(assessing, "assess", failing)
    # Another year, so that nothing kept is used.
    rows = {row.frame_id: row for row in at(archive, NOW + pd.Timedelta(days=365)).summaries()}
    assert set(rows) == {"FA", "FB", "FC"}
    assert rows["FB"].standing.name == "cannot tell"
    assert "no figure fits" in rows["FB"].standing.reasons[0].text
    assert rows["FB"].needs_decision
    assert "could not be assessed" in caplog.text


def test_an_unknown_frame_is_refused(archive: Archive) -> None:
    for ask in (at(archive).frame, at(archive).record):
        with pytest.raises(UnknownFrameError, match="FZ"):
            ask("FZ")


def test_records_that_never_met_are_told_apart(tmp_path: Path) -> None:
    description = tmp_path / "register.toml"
    description.write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as made:
        made.load_register(description)
        made.ingest(csv(np.full(48, 50.0)), name="FA.csv")
        made.ingest(csv(np.full(48, 50.0), start="2026-02-10T00:00:00Z"), name="hall.csv")
        view = at(made).frame("FA")
    assert view.assessment.data.name == "too little"
    assert "do not overlap" in view.assessment.data.reasons[0].text


def test_an_empty_archive_says_what_to_do(tmp_path: Path) -> None:
    with Archive.create(tmp_path / "archive") as made:
        held = at(made)
        with create_app(held).server.app_context():
            content, _ = page_at("/", "")
    assert "No frames yet" in str(content)
