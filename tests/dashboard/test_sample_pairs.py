"""`isohume assess` on every pair of sample files: hours outside the band against a count of its own, to 0.01 h."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from typer.testing import CliRunner

from isohume.analysis.exchange.fit import CannotTell
from isohume.analysis.readings import AirRecord
from isohume.dashboard.cli import app
from isohume.dashboard.loose_files import read_side
from isohume.ingest.questions import Answers

SAMPLES = Path(__file__).parents[2] / "sample_logs"
REGISTER = tomllib.loads((SAMPLES / "register.toml").read_text(encoding="utf-8"))
LOGGERS = {logger["id"]: logger for logger in REGISTER["loggers"]}


def side(place: str, wanted: str) -> tuple[list[Path], str, str | None]:
    """Files, time zone and channel of the logger that measured a place."""
    placement = next(one for one in REGISTER["placements"] if one.get(place) == wanted)
    logger = LOGGERS[placement["logger"]]
    files = sorted(path for pattern in logger["files"] for path in (SAMPLES / "logs").glob(pattern))
    return files, logger["time_zone"], placement["channel"] or None


def measured_frames() -> list[dict[str, Any]]:
    inside = {placement.get("frame") for placement in REGISTER["placements"]}
    return [frame for frame in REGISTER["frames"] if frame["id"] in inside]


@pytest.mark.parametrize("frame", measured_frames(), ids=lambda frame: str(frame["id"]))
def test_hours_outside_equal_an_independent_count(frame: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    unknown = CannotTell(why="Left out in this test.")
    monkeypatch.setattr("isohume.analysis.assess.fit_exchange", lambda *_sides, **_facts: unknown)
    inside, room = side("frame", frame["id"]), side("room", frame["locations"][-1]["room"])
    low, high = frame["band"]
    arguments = ["assess", "--json", "--band", str(low), str(high)]
    for name, (files, zone, channel) in (("inside", inside), ("outside", room)):
        arguments += [f"--{name}", *map(str, files), f"--{name}-tz", zone]
        arguments += [f"--{name}-channel", channel] if channel else []
    outcome = CliRunner().invoke(app, arguments)
    assert outcome.exit_code == 0, outcome.output
    band = json.loads(outcome.stdout)["band"]
    files, zone, channel = inside
    record = read_side(files, side="inside", time_zone=zone, channel=channel, answers=Answers()).record
    below, above = counted(record, low, high)
    assert band["hours_below"] == pytest.approx(below, abs=0.01)
    assert band["hours_above"] == pytest.approx(above, abs=0.01)


def counted(record: AirRecord, low: float, high: float) -> tuple[float, float]:
    """Count hours outside stretch by stretch: the share of each straight line beyond the limit."""
    usable = record.rh_percent.dropna()
    hours = (usable.index - record.rh_percent.index[0]) / pd.Timedelta(hours=1)
    steps = np.diff((record.rh_percent.index - record.rh_percent.index[0]) / pd.Timedelta(hours=1))
    values, counts = np.unique(steps.round(6), return_counts=True)
    covered = np.diff(hours) <= 1.01 * max(1.0, 3 * values[counts.argmax()])
    start, end = usable.to_numpy()[:-1][covered], usable.to_numpy()[1:][covered]
    length = np.diff(hours)[covered]
    span = np.where(start == end, 1.0, np.abs(end - start))
    lower, upper = np.minimum(start, end), np.maximum(start, end)
    level = start == end
    under = np.where(level, start < low, np.clip((low - lower) / span, 0, 1))
    over = np.where(level, start > high, np.clip((upper - high) / span, 0, 1))
    return float((under * length).sum()), float((over * length).sum())
