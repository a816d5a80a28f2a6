"""What is typed into a form of the register is what the archive keeps, in the site's zone and in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest

from isohume.dashboard.components.record_form import record_form
from isohume.dashboard.components.record_values import entry, said, shown
from isohume.dashboard.components.record_words import field_words, flat_names
from isohume.dashboard.current import STORE_KEY
from isohume.dashboard.store import Store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.kinds import KINDS

ZONE = "Europe/Berlin"
REGISTER = """[collection]
name = "Invented"
time_zone = "Europe/Berlin"
[[rooms]]
id = "R1"
name = "Hall"
[[loggers]]
id = "L1"
uncertainty_percent = 2.0
files = ["hall_*.csv", "hall_*.txt"]
battery_changed = 2025-02-01
[[loggers.calibrations]]
date = 2025-08-12
points = [[33.9, 32.8], [76.0, 75.3]]
uncertainty_percent = 1.5
as_found = { at_33 = 34.1, by = "salt" }
[[placements]]
logger = "L1"
frame = "F1"
from = 2025-10-26T02:30:00+01:00
[[frames]]
id = "F1"
painting = "Two Herons"
band = [45, 55]
conditioned_percent = 50
conditioned_on = 2025-07-20
panel = { support = "solid wood", species = "Oak, white (Quercus alba)", cut = "quarter-sawn", width_mm = 320.5, faces_open = 1, restrained = false }
limits = { horizon_days = 60 }
[[frames.locations]]
room = "R1"
from = 2025-07-20
[[frames.events]]
time = 2025-07-20T11:00:17+02:00
kind = "reconditioned"
rh_percent = 50
[[terms]]
id = "T1"
name = "Own"
clauses = [{ air = "inside", quantity = "rh_percent", kind = "range", low = 45.0, high = 55.0, averaging_hours = 24.0 }]
[[venues]]
id = "V1"
[[loans]]
id = "N1"
frames = ["F1"]
[[loans.legs]]
venue = "V1"
from = 2026-01-01
"""  # noqa: E501 - a TOML table stands on one line


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    folder = tmp_path_factory.mktemp("forms")
    (folder / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(folder / "archive") as made:
        made.load_register(folder / "register.toml")
        yield made


def typed(kind: str, record: dict[str, Any]) -> tuple[list[Any], list[str]]:
    """What the controls of a record hold when nobody has touched them."""
    names = flat_names(kind, tuple(record), n_clauses=len(record.get("clauses") or ()) + 2)
    return [shown(kind, name, entry(record, name), ZONE) for name in names], names


@pytest.mark.parametrize("kind", [name for name, about in KINDS.items() if about.described])
def test_a_form_that_nobody_touched_changes_nothing(archive: Archive, kind: str) -> None:
    records = archive.records(kind)
    assert records or kind == "clock_corrections"
    for record in records:
        values, names = typed(kind, record)
        assert archive.put(kind, said(kind, values, names, before=record, zone=ZONE)) == "unchanged"


def test_every_field_has_words_of_its_own() -> None:
    for kind, about in KINDS.items():
        if kind == "reviews":
            continue
        for name in flat_names(kind, tuple(n for n, f in about.fields.items() if not f.secret), n_clauses=1):
            label = field_words(kind, name).label
            assert label
            assert "_" not in label
            assert not (field_words(kind, name).unit and "percent" in label.lower())


def test_moments_are_meant_at_the_site() -> None:
    names = ["frame", "room", "from", "to"]
    put = said("locations", ["F1", "R1", "2026-03-01 09:05", "3.7.2026"], names, zone=ZONE)
    assert put["from"] == dt.datetime(2026, 3, 1, 8, 5, tzinfo=dt.UTC)
    assert put["to"] == dt.datetime(2026, 7, 2, 22, 0, tzinfo=dt.UTC)
    assert said("locations", ["F1", "R1", "2026-03-01", ""], names, zone=ZONE)["to"] is None


def test_a_moment_of_the_repeated_hour_stays_what_it_was(archive: Archive) -> None:
    (record,) = archive.records("placements")
    assert record["from"].startswith("2025-10-26T01:30")
    first = {**record, "from": "2025-10-26T00:30:00.000000Z"}
    values, names = typed("placements", first)
    assert said("placements", values, names, before=first, zone=ZONE)["from"] == first["from"]


@pytest.mark.parametrize(
    ("kind", "name", "value", "told"),
    [
        ("frames", "conditioned_percent", "fifty", ["Conditioned at", "“fifty”", "a number from 0 to 100 [%RH]"]),
        ("frames", "conditioned_percent", "120", ["“120”", "from 0 to 100"]),
        ("frames", "panel:width_mm", "-3", ["Width across the grain", "0 or more [mm]"]),
        ("frames", "panel:cut", "sawn", ["Cut", "flat-sawn, quarter-sawn"]),
        ("events", "time", "yesterday", ["When", "“yesterday”", "2026-03-01 09:00", ZONE]),
        ("events", "time", "2026-03-29 02:30", ["When", "exists in Europe/Berlin"]),
        ("events", "time", "03/04/2026", ["When", "2026-03-01"]),
        ("events", "kind", "", ["What was done", "nothing"]),
        ("calibrations", "points", "33.9", ["Points", "as found, reference"]),
        ("calibrations", "as_found", "no colon", ["As found", "colon"]),
        ("rooms", "id", "  ", ["Short name", "nothing"]),
        ("frames", "band:low", "45", ["Agreed band", "one limit only"]),
    ],
)
def test_a_refusal_says_the_field_what_was_found_and_what_to_write(
    kind: str, name: str, value: str, told: list[str]
) -> None:
    names, values = [name], [value]
    if name == "band:low":
        names, values = [*names, "band:high"], [*values, ""]
    with pytest.raises(ValueError, match=r".") as refused:
        said(kind, values, names, zone=ZONE)
    for part in told:
        assert part in str(refused.value)


def test_a_form_shows_part_of_a_table_and_the_rest_stays(archive: Archive) -> None:
    record = archive.record("frames", {"id": "F1"})
    put = said("frames", ["F1", "300,5"], ["id", "panel:width_mm"], before=record, zone=ZONE)
    assert put["panel"]["width_mm"] == 300.5
    assert put["panel"]["cut"] == "quarter-sawn"


def test_clauses_are_rows_and_an_empty_row_is_none(archive: Archive) -> None:
    record = archive.record("terms", {"id": "T1"})
    assert record is not None
    values, names = typed("terms", record)
    values[names.index("clauses:1:air")] = "room"
    values[names.index("clauses:1:quantity")] = "temperature_celsius"
    values[names.index("clauses:1:kind")] = "range"
    values[names.index("clauses:1:high")] = "25"
    put = said("terms", values, names, before=record, zone=ZONE)
    assert [one["high"] for one in put["clauses"]] == [55.0, 25.0]
    values[names.index("clauses:1:kind")] = ""
    with pytest.raises(ValueError, match="what is limited"):
        said("terms", values, names, before=record, zone=ZONE)


@pytest.mark.parametrize("kind", [name for name in KINDS if name != "reviews"])
def test_every_kind_draws_a_form_without_its_secrets(archive: Archive, kind: str) -> None:
    from flask import Flask

    server = Flask(__name__)
    server.config[STORE_KEY] = Store(archive)
    with server.app_context():
        drawn = record_form("f", kind, next(iter(archive.records(kind)), {}))
    text = str(drawn.to_plotly_json())
    assert "password" not in text
    assert "form-keep" in text
