"""A watched folder: files are taken when they are complete, once, and stay where they are."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.watch import Taken, Watch, watch


class Clock:
    """Seconds that go forward when told."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "drop" / "march").mkdir(parents=True)
    return tmp_path / "drop"


def outcomes(taken: list[Taken]) -> list[tuple[str, str]]:
    return [(one.path.name, one.outcome) for one in taken]


def test_a_growing_file_waits_until_it_is_complete(archive: Archive, files: Any, folder: Path) -> None:
    clock, path, data = Clock(), folder / "march" / "inside_1.csv", files.logger_file()
    watching = Watch(archive, folder, settle_seconds=10, clock=clock)
    path.write_bytes(data[:900])
    assert list(watching.look()) == []
    clock.now = 8
    path.write_bytes(data[:2000])
    assert list(watching.look()) == []
    clock.now = 12  # ten seconds after it was first seen, four after it grew
    assert list(watching.look()) == []
    path.write_bytes(data)
    clock.now = 20
    assert list(watching.look()) == []
    clock.now = 30
    (taken,) = watching.look()
    assert (taken.outcome, taken.result.files[0].n_new if taken.result else 0) == ("kept", 96)
    assert path.read_bytes() == data
    clock.now = 60
    assert list(watching.look()) == []


def test_what_was_taken_is_remembered_and_a_changed_file_is_taken_again(
    archive: Archive, files: Any, folder: Path
) -> None:
    path = folder / "inside_1.csv"
    path.write_bytes(files.logger_file(n_rows=96))
    (folder / "letter.txt").write_text("The files follow.")
    (folder / ".inside_2.csv.filepart").write_bytes(files.logger_file())
    (folder / "empty.csv").write_bytes(b"")
    assert outcomes(list(Watch(archive, folder, settle_seconds=0).look())) == [
        ("inside_1.csv", "kept"), ("letter.txt", "refused")
    ]  # fmt: skip
    assert list(Watch(archive, folder, settle_seconds=0).look()) == []  # as after a restart
    path.write_bytes(files.logger_file(n_rows=192))
    (taken,) = Watch(archive, folder, settle_seconds=0).look()
    assert taken.result is not None
    assert [(one.n_new, one.n_equal) for one in taken.result.files] == [(96, 96)]


def test_a_file_that_asks_is_tried_again_once_its_logger_is_known(archive: Archive, files: Any, folder: Path) -> None:
    (folder / "new.csv").write_bytes(files.logger_file(serial="AX-10003"))
    assert outcomes(list(Watch(archive, folder, settle_seconds=0).look())) == [("new.csv", "asks")]
    archive.put("loggers", {"id": "L03", "serial": "AX-10003", "time_zone": "UTC"})
    assert outcomes(list(Watch(archive, folder, settle_seconds=0).look())) == [("new.csv", "waiting")]


def test_trouble_is_told_once_and_watching_goes_on(local_archive: Archive, files: Any, folder: Path) -> None:
    told: list[str] = []
    taken: list[Taken] = []

    def full(_step: str) -> None:
        raise OSError(28, "No space left on device")

    def sleep(_seconds: float) -> None:
        rounds.append(1)
        if len(rounds) == 3:
            local_archive.originals.on_step = lambda _step: None  # space was made
        if len(rounds) == 4:
            raise KeyboardInterrupt

    rounds: list[int] = []
    (folder / "inside_1.csv").write_bytes(files.logger_file())
    local_archive.originals.on_step = full
    with pytest.raises(KeyboardInterrupt):
        watch(Watch(local_archive, folder, settle_seconds=0), taken.append, sleep=sleep, tell_trouble=told.append)
    assert len(told) == 1
    assert "No space left" in told[0]
    assert outcomes(taken) == [("inside_1.csv", "kept")]
