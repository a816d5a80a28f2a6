"""Evidence of an invented frame, made without an archive, and the pack of it."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import version
from typing import Any

import numpy as np
import polars as pl
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from isohume.dashboard.papers.evidence import PARAMETERS_SCHEMA, SOFTWARE, Evidence, readings_table
from isohume.dashboard.papers.keys import SigningKey
from isohume.dashboard.papers.make_pack import make_pack
from isohume.ingest.archive.archive import Archive
from isohume.ingest.flags import Flag

DAYS = 45
START_US = 1_767_225_600_000_000  # 2026-01-01T00:00Z
HOUR_US = 3_600_000_000


def signing(seed: int) -> SigningKey:
    return SigningKey(Ed25519PrivateKey.from_private_bytes(bytes([seed]) * 32))


def logged(level: float, swing: float, seed: int) -> pl.DataFrame:
    """A normalised table: a slow fall, a daily wave, noise; a gap of two days and one flagged spike."""
    rng = np.random.default_rng(seed)
    hours = np.arange(24 * DAYS)
    rh = level - 8 * hours / hours.size + swing * np.sin(2 * np.pi * hours / 24) + rng.normal(0, 0.2, hours.size)
    flags = np.zeros(hours.size, dtype=np.uint32)
    rh[200], flags[200] = 99.0, int(Flag.RH_SPIKE)
    table = pl.DataFrame(
        {
            "time_utc": pl.Series(START_US + HOUR_US * hours).cast(pl.Datetime("us", "UTC")),
            "rh_percent": rh,
            "temperature_celsius": 20 + np.sin(2 * np.pi * hours / 24),
            "flags": flags,
        }
    )
    return table.filter((pl.int_range(pl.len()) < 500) | (pl.int_range(pl.len()) >= 548))


def invented_evidence(**changed: Any) -> Evidence:
    readings = readings_table([("inside", "L01", logged(52, 0.3, 1)), ("room", "L02", logged(46, 5, 2))])
    clauses = [
        {"air": "inside", "quantity": "rh_percent", "kind": "range", "low": 45.0, "high": 58.0,
         "averaging_hours": 0.0, "notice": "Tell the lender within a day."},
        {"air": "inside", "quantity": "rh_percent", "kind": "swing in 24 h", "low": None, "high": 5.0,
         "averaging_hours": 0.0, "notice": ""},
        {"air": "room", "quantity": "temperature_celsius", "kind": "range", "low": 16.0, "high": 25.0,
         "averaging_hours": 0.0, "notice": ""},
    ]  # fmt: skip
    side = {"calibrated_on": "2025-08-01T00:00:00Z", "logger_changes": []}
    placement = {"serial": "S", "channel": "", "first_utc": "2026-01-01T00:00:00Z", "n_readings": 24 * DAYS - 48}
    parameters: dict[str, Any] = {
        "schema": PARAMETERS_SCHEMA,
        "isohume_version": version("isohume"),
        "software": {name: version(name) for name in SOFTWARE},
        "collection": {"name": "Invented Museum", "time_zone": "Europe/Berlin", "invented": True},
        "frame": {
            "frame_id": "F01", "painting": "Two Herons (invented)", "band": [45.0, 58.0],
            "conditioned_percent": 50.0, "conditioned_on": "2025-12-01T00:00:00Z", "panel": None,
            "construction": {}, "lifecycle": "on loan", "limits": {},
        },
        "period": {"start_utc": "2026-01-01T00:00:00Z", "end_utc": "2026-02-15T00:00:00Z"},
        "rooms": [
            {"id": "R1", "name": "Hall", "from_utc": "2026-01-01T00:00:00Z", "to_utc": "2026-02-15T00:00:00Z"}
        ],
        "placements": [
            {**placement, "side": "inside", "place": "inside the frame", "logger": "L01",
             "last_utc": "2026-02-14T23:00:00Z"},
            {**placement, "side": "room", "place": "Hall", "logger": "L02", "last_utc": "2026-02-14T23:00:00Z"},
        ],
        "sides": {
            "inside": {**side, "uncertainty_percent": 1.5}, "room": {**side, "uncertainty_percent": 2.0},
        },
        "terms": [
            {"name": "Loan 7 (invented)", "source": "contract", "status": "agreed", "note": "", "clauses": clauses}
        ],
        "seed": 0,
        "paper": "a4",
        **changed,
    }  # fmt: skip
    calibration = {
        "channel": "", "date": "2025-08-01T00:00:00Z", "valid_until": None, "method": "salts", "offset_percent": 0.4,
        "points": None, "temperature_offset_celsius": None, "as_found": None,
    }  # fmt: skip
    return Evidence(
        readings=readings,
        parameters=parameters,
        calibrations=[
            {**calibration, "logger": "L01", "uncertainty_percent": 1.5, "certificate": "K-1"},
            {**calibration, "logger": "L02", "uncertainty_percent": 2.0, "certificate": "K-2"},
        ],
        events=[
            {"time_utc": "2026-01-10T09:00:00Z", "kind": "warp measured", "rh_percent": None, "water_g": None,
             "board_kg": None, "warp_mm": 2.5, "warp_where": "left edge", "warp_how": "steel rule"}
        ],
        originals=[
            {"file": "=inside.csv", "sha256": "ab" * 32, "bytes": 9000, "received_utc": "2026-02-16T08:00:00Z",
             "read_by": "isohume 0.1.0", "logger": "L01", "used": {"inside": 24 * DAYS - 48, "room": 0},
             "rows": {"lines_in_file": 1100, "in_file": 1090, "kept": 1080, "flagged": 1, "duplicate": 0,
                      "conflicting": 0, "rejected": 10}},
        ],
    )  # fmt: skip


@pytest.fixture(scope="session")
def evidence() -> Evidence:
    return invented_evidence()


@pytest.fixture(scope="session")
def key() -> SigningKey:
    return signing(7)


@pytest.fixture(scope="session")
def pack(evidence: Evidence, key: SigningKey) -> bytes:
    return make_pack(evidence, key)


REGISTER = """
[collection]
name = "Invented Museum"
time_zone = "Europe/Berlin"
invented = true
as_of = 2026-02-16T08:00:00+01:00

[[rooms]]
id = "R1"
name = "Hall"
[[rooms]]
id = "R2"
name = "SECRETROOM"

[[loggers]]
id = "L01"
files = ["inside_*.csv"]
time_zone = "UTC"
uncertainty_percent = 2.0
[[loggers.calibrations]]
date = 2025-08-01
offset_percent = 0.4
uncertainty_percent = 1.5
certificate = "K-1"
[[loggers]]
id = "L02"
files = ["room_*.csv"]
time_zone = "UTC"
expect_every_days = 10
[[loggers]]
id = "L03"
files = ["other_*.csv"]
time_zone = "UTC"

[[frames]]
id = "F01"
painting = "=Two Herons (invented)"
band = [45, 58]
conditioned_percent = 50
conditioned_on = 2025-12-01
owner = "SECRETOWNER"
opened_by = "SECRETPERSON"
panel = { support = "solid wood", width_mm = 300, thickness_mm = 9 }
[[frames.locations]]
room = "R2"
from = 2025-10-01
[[frames.locations]]
room = "R1"
from = 2025-12-20
[[frames.events]]
time = 2025-12-20T11:00:00+01:00
kind = "sealed"
note = "SECRETNOTE"
[[frames.events]]
time = 2026-01-10T10:00:00+01:00
kind = "warp measured"
warp_mm = 2.5
warp_where = "left edge"
note = "SECRETNOTE"
[[frames.events]]
time = 2026-01-11T10:00:00+01:00
kind = "note"
note = "SECRETNOTE"

[[frames]]
id = "F02"
painting = "SECRETPAINTING"
[[frames.locations]]
room = "R2"
from = 2025-12-20

[[placements]]
logger = "L01"
frame = "F01"
from = 2025-12-31T00:00:00+00:00
[[placements]]
logger = "L02"
room = "R1"
from = 2025-12-31T00:00:00+00:00
[[placements]]
logger = "L03"
frame = "F02"
from = 2025-12-31T00:00:00+00:00
"""


def file_of(table: pl.DataFrame) -> bytes:
    """Return a logger file: headings, ISO times in UTC."""
    rows = table.drop_nulls().iter_rows(named=True)
    lines = [
        f"{row['time_utc']:%Y-%m-%d %H:%M:%S},{row['temperature_celsius']:.2f},{row['rh_percent']:.2f}" for row in rows
    ]
    return "\n".join(["Time,Temperature (°C),Humidity (%RH)", *lines, ""]).encode()


@pytest.fixture(scope="session")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """An archive of two frames, one of which nobody may hear of."""
    folder = tmp_path_factory.mktemp("papers")
    register = folder / "register.toml"
    register.write_text(REGISTER, encoding="utf-8")
    with Archive.create(folder / "archive") as held:
        held.load_register(register)
        for name, table in (
            ("inside_1.csv", logged(52, 0.3, 1)),
            ("room_1.csv", logged(46, 5, 2)),
            ("other_1.csv", logged(50, 1, 3)),
        ):
            held.ingest(file_of(table), name=name)
        yield held
