"""The demonstration tells the stories its files were made from, which the analysis never sees."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from isohume.dashboard.cli import app
from isohume.dashboard.urgency import STANDING_ORDER

ROOT = Path(__file__).parents[1]
TRUTH = tomllib.loads((ROOT / "sample_logs" / "truth.toml").read_text(encoding="utf-8"))["frames"]
COLUMNS = ("Frame", "What it needs", "By", "Record", "Newest", "Why")


@pytest.fixture(scope="module")
def rows() -> dict[str, dict[str, str]]:
    """The table that `isohume demo --no-serve` prints, by frame."""
    outcome = CliRunner().invoke(app, ["demo", "--no-serve"])
    assert outcome.exit_code == 0, outcome.output
    assert "(invented), as of 20 Nov 2026 08:00" in outcome.stderr
    head, *lines = outcome.stdout.splitlines()
    starts = [head.index(column) for column in COLUMNS]
    cells = [
        [line[start:end].strip() for start, end in zip(starts, [*starts[1:], None], strict=True)] for line in lines
    ]
    return {row[0]: dict(zip(COLUMNS, row, strict=True)) for row in cells}


def test_every_frame_is_listed_once(rows: dict[str, dict[str, str]]) -> None:
    assert sorted(rows) == sorted(TRUTH)


@pytest.mark.parametrize("frame", TRUTH)
def test_standing_and_record_are_those_of_the_story(rows: dict[str, dict[str, str]], frame: str) -> None:
    truth, row = TRUTH[frame], rows[frame]
    name, _, direction = row["What it needs"].partition(", ")
    assert name in truth["standing"], f"{truth['story']} {row['Why']}"
    assert direction == truth.get("direction", ""), truth["story"]
    assert row["Record"] in truth["data"], truth["story"]


def test_frames_that_need_hands_come_first(rows: dict[str, dict[str, str]]) -> None:
    names = [row["What it needs"].partition(", ")[0] for row in rows.values()]
    asking = [name for name in names if name in STANDING_ORDER[:4]]
    assert names[: len(asking)] == sorted(asking, key=STANDING_ORDER.index)
    assert names[0] == "damp risk"
