"""The workbench: its numbers are those of the functions and commands, refusals say why, nothing typed breaks it."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dash.development.base_component import Component
from flask import g
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from isohume.analysis.build_up import BuildUp, build_up
from isohume.analysis.conditioning_water import water_to_move
from isohume.analysis.frame import Construction, FrameFacts, Panel
from isohume.analysis.plate import plate_step_response
from isohume.analysis.salts import salt_point
from isohume.dashboard.access.people import AT_THIS_MACHINE, Person, add_person
from isohume.dashboard.addresses import page_at
from isohume.dashboard.app import create_app
from isohume.dashboard.background import Background
from isohume.dashboard.cli import app as command
from isohume.dashboard.figures.section_drawing import section_svg
from isohume.dashboard.pages import methods
from isohume.dashboard.pages.workbench import keep_calibration
from isohume.dashboard.papers.failure import failure_of, failure_table, scenario
from isohume.dashboard.store import Store
from isohume.dashboard.workbench import before_built, plant_failure, reconditioning, salts
from isohume.dashboard.workbench.fields import Number, read
from isohume.dashboard.workbench.panel_time import share_reached
from isohume.dashboard.workbench.part import CannotReckonError, Context, texts_of
from isohume.dashboard.workbench.tools import TOOLS, tool_at
from isohume.ingest.archive.archive import Archive

PASSWORD = "a long walk along the weir"  # noqa: S105 - of an invented person in a temporary archive
DAYS, DAYS_INSIDE = 310, 75
REGISTER = """[collection]
name = "Invented"
time_zone = "Europe/Berlin"
invented = true
as_of = 2026-03-20T08:00:00+01:00
[[rooms]]
id = "R1"
name = "Hall"
[[rooms]]
id = "R2"
name = "Never measured"
[[loggers]]
id = "L1"
files = ["hall_*.csv"]
time_zone = "+00:00"
[[loggers]]
id = "L2"
files = ["inside_*.csv"]
time_zone = "+00:00"
uncertainty_percent = 2.0
[[placements]]
logger = "L1"
room = "R1"
from = 2025-01-01T00:00:00+00:00
[[placements]]
logger = "L2"
frame = "F1"
from = 2025-01-01T00:00:00+00:00
[[frames]]
id = "F1"
painting = "=Two Herons <b>(invented)</b>"
band = [40, 60]
conditioned_percent = 55
conditioned_on = 2025-04-01
opened_by = "A. Sommer"
panel = { support = "solid wood", width_mm = 300, thickness_mm = 9, mass_kg = 0.8 }
construction = { board_kg = 0.3, wood_lining_kg = 0.1 }
[[frames.locations]]
room = "R1"
from = 2025-01-01
[[frames]]
id = "F2"
painting = "No logger inside (invented)"
band = [40, 60]
[[frames.locations]]
room = "R1"
from = 2025-01-01
"""


def logged(seed: int, mean: float, swing: float, days: int) -> bytes:
    """Part of a year's course with some weather, hourly, to 20 March 2026."""
    times = np.datetime64("2026-03-20T06:00") - np.arange(24 * days)[::-1].astype("timedelta64[h]")
    rng = np.random.default_rng(seed)
    phase = 2 * np.pi * np.arange(times.size) / (24 * 365)
    rh = mean + swing * np.sin(phase) + 0.3 * swing * np.sin(phase * 60) + rng.normal(0, 0.2, times.size)
    celsius = 20 + 0.5 * np.sin(2 * np.pi * np.arange(times.size) / 24) + rng.normal(0, 0.05, times.size)
    rows = [
        f"{str(time).replace('T', ' ')}:00,{warm:.2f},{percent:.2f}"
        for time, warm, percent in zip(times, celsius, rh, strict=True)
    ]
    return "\n".join(["Time,Temperature (°C),RH (%)", *rows, ""]).encode()


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    folder = tmp_path_factory.mktemp("workbench")
    (folder / "register.toml").write_text(REGISTER, encoding="utf-8")
    (folder / "hall_1.csv").write_bytes(logged(1, 48, 12, DAYS))
    with Archive.create(folder / "archive") as made:
        made.load_register(folder / "register.toml")
        made.ingest(folder / "hall_1.csv")
        made.ingest(logged(2, 48, 3, DAYS_INSIDE), name="inside_1.csv")
        yield made


@pytest.fixture(scope="module")
def server(archive: Archive) -> Any:
    return create_app(Store(archive)).server


@pytest.fixture
def asked(server: Any) -> Iterator[Context]:
    """A request by somebody at this machine, and where it stands."""
    with server.test_request_context("/workbench", base_url="http://127.0.0.1/"):
        g.person = AT_THIS_MACHINE
        yield Context.now()


@pytest.fixture
def get(server: Any) -> Callable[[str], Any]:
    return lambda address: server.test_client().get(address, base_url="http://127.0.0.1/")


def words(content: Any) -> str:
    if isinstance(content, str):
        return content
    if isinstance(content, (list, tuple)):
        return " ".join(words(one) for one in content)
    return words(content.children) if isinstance(content, Component) and hasattr(content, "children") else ""


def page(address: str, query: str = "") -> str:
    return words(page_at(address, query)[0])


def table_of(answer: Any) -> list[list[str]]:
    assert answer.status_code == 200
    return list(csv.reader(io.StringIO(answer.get_data().decode("utf-8-sig"))))


def test_the_plan_on_the_page_is_that_of_the_command(asked: Context, archive: Archive) -> None:
    part = TOOLS[0].parts[0]
    texts = before_built.example(asked) | {"conditioned": "50"}
    assert texts["room"] == "R1"
    year = before_built.worked(asked, part.read(asked, texts)).planned.year
    assert year is not None
    wanted = f"{year.lowest7d_percent + 0.4:.2f}"
    typed = part.read(asked, texts | {"minimum": wanted})
    figures = {name: value for name, value, _ in part.sheets(asked, typed)["figures"][1]}  # type: ignore[misc]
    told = [
        "plan", "--air-volume", "3", "--air-exchange", "0.3", "--board", "0.4:cotton paper or board",
        "--board", "0.9:wood in practice", "--sheet", "polycarbonate sheet:4:0.15", "--panel-thickness", "9",
        "--outside", str(archive.folder.parent / "hall_1.csv"), "--tz", "UTC", "--conditioned", "50",
        "--winter-minimum", wanted, "--json",
    ]  # fmt: skip
    answer = CliRunner().invoke(command, told)
    assert answer.exit_code == 0, answer.output
    plan = json.loads(answer.stdout)
    assert plan["extra_board_kg"] > 0
    assert figures["half-time"] == pytest.approx(plan["half_time_days"])
    assert figures["lowest 7-day mean"] == pytest.approx(plan["year"]["lowest7d_percent"])
    assert figures["more board for it"] == pytest.approx(plan["extra_board_kg"])
    assert figures["loosest air exchange for it"] == pytest.approx(plan["loosest_air_exchange_per_day"])
    shown = words(part.result(asked, typed, ""))
    assert f"{plan['extra_board_kg']:.2f} kg" in shown
    assert f"{plan['year']['lowest7d_percent']:.1f} %RH" in shown
    assert "of its hours measured" in shown


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"panel_mm": "60", "exchange": "5"}, "three times the panel"),
        ({"exchange": "0", "backing": ""}, "No frame is hermetic"),
        ({"backing_mm": ""}, "backing needs its thickness"),
        ({"low": "60", "high": "50"}, "must lie below"),
        ({"room": "typed", "rh_swing": "50", "rh_mean": "80"}, "leaves 0 to 100"),
        ({"room": "typed", "t_mean": ""}, "needs its four figures"),
        ({"air": "-3"}, "Put right what is marked"),
        ({"species": ""}, "it needs the species"),
    ],
)
def test_what_cannot_be_reckoned_says_why(asked: Context, changed: dict[str, str], said: str) -> None:
    texts = before_built.example(asked) | changed
    shown = page("/workbench/before-it-is-built", "?" + "&".join(f"{k}={v}" for k, v in texts.items()))
    assert said in shown
    assert "Climate" in shown
    assert asked.archive is not None


def test_a_typed_climate_is_a_year_that_nobody_measured(asked: Context) -> None:
    part = TOOLS[0].parts[0]
    texts = before_built.example(asked) | {"room": "typed", "rh_mean": "45", "rh_swing": "10", "celsius": "20"}
    found = before_built.worked(asked, part.read(asked, texts))
    year = found.planned.year
    assert year is not None
    # First order: the settled year swings by 1/√(1+(ωτ)²) of the room's.
    tau = year.half_time_days / math.log(2)
    gain = 1 / math.hypot(1, 2 * math.pi * tau / 365)
    assert (year.rh_percent.max() - year.rh_percent.min()) / 2 == pytest.approx(10 * gain, rel=0.02)
    shown = words(part.result(asked, part.read(asked, texts), ""))
    assert "no record: a smooth year" in shown
    assert "of its hours measured" not in shown


def test_the_build_up_is_that_of_the_function_and_is_drawn_to_scale(asked: Context) -> None:
    part = TOOLS[0].parts[1]
    design = BuildUp(
        rebate_mm=14, frame_mm=32, glazing_mm=4.4, spacer_mm=8, panel_mm=9, backing_mm=3, face_cushion_mm=1,
        remaining_warp_mm=1.5, board_mm=4, board_compression=0.25,
    )  # fmt: skip
    depths = build_up(design)
    figures = dict(part.sheets(asked, part.read(asked, part.example(asked)))["build-up"][1])  # type: ignore[misc]
    assert figures["collar"] == pytest.approx(depths.collar_mm)
    assert figures["longest screw, through the backing"] == pytest.approx(depths.longest_screw_mm)
    svg = section_svg(design, depths)
    widths = [float(piece.split('"')[0]) for piece in svg.split('width="')[1:] if "." in piece.split('"')[0]]
    scale = 408 / (32 + depths.collar_mm + 3)
    assert any(width == pytest.approx(9 * scale, abs=0.1) for width in widths)  # the panel
    assert "<text" in svg
    assert "http://www.w3.org/2000/svg" in svg


def test_water_is_that_of_the_function_part_by_part(asked: Context) -> None:
    part = tool_at("reconditioning").parts[0]  # type: ignore[union-attr]
    typed = part.read(asked, reconditioning.example(asked) | {"lining": "0.2"})
    frame = FrameFacts(panel=Panel(mass_kg=0.9), construction=Construction(board_kg=0.4, wood_lining_kg=0.2))
    whole = water_to_move(frame, rh_percent=41.5, target_percent=50, temperature_celsius=20, uncertainty_percent=2)
    assert not isinstance(whole, str)
    rows = part.sheets(asked, typed)["water"][1]  # type: ignore[misc]
    assert rows[-1][2:] == [pytest.approx(whole.low_g, abs=0.005), pytest.approx(whole.high_g, abs=0.005), "add"]
    assert sum(row[2] for row in rows[:-1]) == pytest.approx(whole.low_g, abs=0.02)  # type: ignore[misc]
    assert f"{whole.low_g:.1f} to {whole.high_g:.1f} g" in words(part.result(asked, typed, ""))
    unknown = words(part.result(asked, part.read(asked, reconditioning.example(asked) | {"board": ""}), ""))
    assert "the mass of the board is not recorded" in unknown


def test_half_of_a_change_has_come_when_the_plate_says_so() -> None:
    for faces in (1, 2):
        days = share_reached(9, faces, 0.5)
        assert plate_step_response(np.array([days]), thickness_mm=9, faces_open=faces)[0] == pytest.approx(
            0.5, abs=1e-3
        )
    assert share_reached(9, 1, 0.5) == pytest.approx(4 * share_reached(9, 2, 0.5), rel=1e-3)


def test_a_frame_fills_the_fields_with_its_masses_and_its_last_week(asked: Context) -> None:
    tool = tool_at("reconditioning")
    assert tool is not None
    texts, picked = texts_of(tool.parts[0], tool, asked, {"frame": "F1"})
    assert picked == "F1"
    assert (texts["panel"], texts["board"], texts["lining"], texts["wanted"]) == ("0.8", "0.3", "0.1", "55")
    week = asked.archive.inside_record("F1").rh_percent.iloc[-168:].mean()  # type: ignore[union-attr]
    assert float(texts["now"]) == pytest.approx(week, abs=0.15)
    assert float(texts["u"]) == pytest.approx(2.0)
    shown = page("/workbench/reconditioning", "?frame=F1")
    assert "A. Sommer" in shown
    assert "100 % covered" in shown
    without, _ = texts_of(tool.parts[0], tool, asked, {"frame": "F2"})
    assert without["now"] == without["panel"] == ""
    assert texts_of(tool.parts[0], tool, asked, {"frame": "../F1"})[1] == ""


def test_salts_say_offset_slope_and_their_uncertainty(asked: Context) -> None:
    part = salts.PART
    typed = part.read(asked, part.example(asked))
    proposal, points, checks = salts.proposal_of(typed)
    dry, damp = (salt_point(name, 20) for name in ("magnesium chloride", "sodium chloride"))
    assert proposal.fields["points"] == [[34.6, round(dry.rh_percent, 2)], [76.3, round(damp.rh_percent, 2)]]
    slope = salts.slope_of(points, checks)
    assert slope is not None
    assert slope.slope == pytest.approx((76.3 - 34.6) / (damp.rh_percent - dry.rh_percent))
    assert not slope.differs
    flat = salts.slope_of(points, [checks[0], replace(checks[1], as_found_percent=70.0)])
    assert flat is not None
    assert flat.differs
    assert "too flat" in salts.slope_words(flat, 2)
    one = part.read(asked, {"celsius": "20", "salt1": "Sodium chloride", "salt1_read": "76,3"})
    assert salts.proposal_of(one)[0].fields["offset_percent"] == pytest.approx(damp.rh_percent - 76.3, abs=0.005)
    assert "says nothing of the slope" in words(part.result(asked, one, ""))


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        ({"celsius": "20"}, "Enter what the logger showed"),
        ({"celsius": "20", "salt1_read": "50"}, "stands beside no salt"),
        ({"celsius": "60", "salt1": "Sodium chloride", "salt1_read": "75"}, "tabulated from 0 to 40"),
        (
            {"celsius": "20", "salt1": "Sodium chloride", "salt1_read": "40", "salt2": "Magnesium chloride",
             "salt2_read": "60"}, "rise with the humidity",
        ),
        (
            {"celsius": "20", "salt1": "Sodium chloride", "salt1_read": "75", "salt2": "Sodium chloride",
             "salt2_read": "76"}, "stands twice",
        ),
    ],
)  # fmt: skip
def test_a_check_that_makes_no_calibration_says_why(asked: Context, texts: dict[str, str], said: str) -> None:
    assert said in words(salts.PART.result(asked, salts.PART.read(asked, texts), ""))


def test_a_calibration_is_kept_once_and_in_somebodys_name(asked: Context, archive: Archive) -> None:
    g.person = Person(name="carla", full_name="", role="contributor")
    texts = salts.example(asked) | {"logger": "L1", "certificate": "K-9", "date": "2026-03-01"}
    said = words(keep_calibration(asked, salts.PART.read(asked, texts)))
    assert "Kept as a calibration of logger L1 from 1 Mar 2026" in said
    kept = next(row for row in archive.records("calibrations") if row["certificate"] == "K-9")
    assert kept["method"] == "salts"
    assert kept["as_found"]["Sodium chloride"]["as_found_percent"] == 76.3
    assert kept["points"] == salts.proposal_of(salts.PART.read(asked, texts))[0].fields["points"]
    again = words(keep_calibration(asked, salts.PART.read(asked, texts | {"certificate": "K-10"})))
    assert "has a calibration of that date already" in again
    for changed, why in (({"logger": ""}, "Choose the logger"), ({"date": "2026-12-01"}, "lies ahead"),
                         ({"date": "soon"}, "the date it was done")):  # fmt: skip
        assert why in words(keep_calibration(asked, salts.PART.read(asked, texts | changed)))
    assert len(archive.records("calibrations")) == 1
    archive.remove("calibrations", {"logger": "L1", "channel": "", "date": kept["date"]})


def test_a_viewer_sees_no_way_to_keep_and_is_refused_on_the_server(tmp_path: Path) -> None:
    (tmp_path / "register.toml").write_text(REGISTER, encoding="utf-8")
    with Archive.create(tmp_path / "archive") as held:
        held.load_register(tmp_path / "register.toml")
        add_person(held, "vera", PASSWORD, role="viewer")
        app = create_app(Store(held), people=held)
        client = app.server.test_client()
        client.get("/login")
        token = client.get_cookie("_csrf_token")
        assert token is not None
        client.post("/login", data={"name": "vera", "password": PASSWORD, "csrf_token": token.value, "next": "/"})
        output = next(name for name in app.callback_map if name.startswith("workbench-kept.children@"))
        one = {"type": "workbench-field", "part": "check", "name": "logger"}
        sent = {
            "output": output,
            "outputs": {"id": "workbench-kept", "property": output.removeprefix("workbench-kept.")},
            "inputs": [{"id": "workbench-keep", "property": "n_clicks", "value": 1}],
            "state": [
                [{"id": one, "property": "value", "value": "L1"}], [{"id": one, "property": "id", "value": one}],
            ],
            "changedPropIds": ["workbench-keep.n_clicks"],
        }  # fmt: skip
        token = client.get_cookie("_csrf_token")
        assert token is not None
        answer = client.post("/_dash-update-component", json=sent, headers={"X-CSRFToken": token.value})
        assert answer.status_code == 403
        assert held.records("calibrations") == []
        with app.server.test_request_context("/workbench/salts"):
            g.person = Person(name="vera", full_name="", role="viewer")
            shown = page("/workbench/salts")
        assert "needs the role contributor" in shown
        assert "To keep it" not in shown


def test_the_failure_is_reckoned_outside_the_request_and_given_as_files(
    asked: Context, archive: Archive, get: Callable[[str], Any]
) -> None:
    address = "/workbench/plant-failure/failure"
    assert get(f"{address}.pdf?rh=30&room_c=15").status_code == 409
    part = plant_failure.PART
    typed = part.read(asked, {"climate": "fixed", "rh": "30", "room_c": "15"})
    assert "Not reckoned yet" in words(part.result(asked, typed, ""))
    plant_failure.start(asked, typed, by="local")
    server_work: Background = plant_failure.background()
    server_work._pool.submit(lambda: None).result()  # one of two threads is free: the work has begun
    wait_for(server_work, plant_failure.key_of(typed))
    found = plant_failure.reckoned(typed).failure
    own = failure_of(archive, room_rh_percent=30, room_celsius=15)
    assert failure_table(found) == failure_table(own)
    shown = words(part.result(asked, typed, ""))
    assert "All rooms go to 30 %RH and 15 °C" in shown
    assert "cannot tell: no logger inside" in shown
    rows = table_of(get(f"{address}.csv?climate=fixed&rh=30&room_c=15"))
    assert len(rows) == 3
    herons = next(row for row in rows if row[0] == "F1")
    assert herons[1].startswith("'=Two Herons")
    assert get(f"{address}.pdf?rh=30&room_c=15").data.startswith(b"%PDF")
    assert get(f"{address}.xlsx?rh=30&room_c=15").data.startswith(b"PK")


def wait_for(work: Background, key: str) -> None:
    """Let the two threads of the background finish what they have."""
    for _ in range(2):
        work._pool.submit(lambda: None).result()
    task = work.task(key)
    while task is not None and not task.ended:
        work._pool.submit(lambda: None).result()
        task = work.task(key)
    assert task is not None
    assert task.state == "done", task.told


def test_one_frame_that_cannot_be_fitted_leaves_the_others_on_the_sheet(
    archive: Archive, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_given: Any, **_named: Any) -> None:
        raise RuntimeError("broken")

    monkeypatch.setattr("isohume.dashboard.papers.failure.fit_exchange", broken)
    found = failure_of(archive, room_rh_percent=30, room_celsius=15)
    assert ["could not be fitted (RuntimeError)" in one.holds.why for one in found.frames] == [True, False]


def test_a_recorded_climate_can_fail_all_rooms(asked: Context, archive: Archive) -> None:
    part = plant_failure.PART
    typed = part.read(asked, {"climate": "R1", "since": "2026-01-01"})
    room = plant_failure.recorded_room(asked, archive, typed)
    assert room.words.startswith("Hall, 1 Jan 2026 to ")
    assert room.air.readings.index[0].isoformat() == "2025-12-31T23:00:00+00:00"  # the start of the day in Berlin
    found = failure_of(archive, recorded=room)
    assert found.frames[0].holds.horizon_hours == 60 * 24
    assert scenario(found) == f"All rooms take the climate recorded in {room.words}."
    with pytest.raises(CannotReckonError, match="its record runs from"):
        plant_failure.recorded_room(asked, archive, part.read(asked, {"climate": "R1", "since": "2027-01-01"}))
    with pytest.raises(CannotReckonError, match="needs its relative humidity"):
        plant_failure.start(asked, part.read(asked, {"climate": "fixed", "rh": "30"}), by="local")


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/workbench/before-it-is-built/climate.csv", 200),
        ("/workbench/before-it-is-built/climate.xlsx", 200),
        ("/workbench/before-it-is-built/build-up.csv?rebate=a", 409),
        ("/workbench/salts/check.xlsx", 200),
        ("/workbench/reconditioning/water.csv?frame=F1", 200),
        ("/workbench/reconditioning/water.pdf", 404),
        ("/workbench/salts/check.exe", 404),
        ("/workbench/..%2f..%2fregister/check.csv", 404),
        ("/workbench/nothing/check.csv", 404),
    ],
)
def test_files_come_from_known_addresses_only(get: Callable[[str], Any], address: str, status: int) -> None:
    assert get(address).status_code == status


def test_an_address_restores_what_was_typed_and_an_empty_one_shows_the_example(asked: Context) -> None:
    for tool in TOOLS:
        for part in tool.parts:
            texts = part.example(asked)
            assert part.read(asked, texts).faults == {}
            assert texts_of(part, tool, asked, {}) == (texts, "")
            assert texts_of(part, tool, asked, {"stray": "1"}) == (texts, "")
            first = next(iter(texts))
            shared, _ = texts_of(part, tool, asked, {first: "7"})
            assert shared[first] == "7"
            assert set(shared) == {one.name for one in part.fields(asked)}
            assert all(text == "" for name, text in shared.items() if name != first)


@pytest.mark.parametrize("text", ["abc", "-1", "1e308", "1e999", "nan", "inf", "--", "1_000", "1,2,3", "٣", "9" * 400])
def test_nonsense_in_a_number_is_a_sentence_at_its_field(text: str) -> None:
    field = Number(name="air", label="Air", unit="litres", low=0.01, high=10_000, needed=True)
    typed = read([field], {"air": text})
    assert typed.number("air") is None
    assert typed.faults["air"].endswith("0.01 to 10\N{NARROW NO-BREAK SPACE}000 litres.")
    assert read([field], {}).faults["air"].startswith("Needed")
    assert read([field], {"air": " 0,5 "}).number("air") == 0.5
    assert read([field], {"air": "1.5e2"}).number("air") == 150


TYPED = st.one_of(
    st.text(max_size=12),
    st.floats(allow_nan=True).map(str),
    st.integers(-5, 120).map(str),
    st.sampled_from(["", "0", "1e308", "-0", "0,1", "50", "typed", "R1", "R2", "Sodium chloride", "2026-02-30"]),
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_nothing_that_is_typed_breaks_a_tool(asked: Context, data: st.DataObject) -> None:
    tool = data.draw(st.sampled_from(TOOLS))
    part = data.draw(st.sampled_from(tool.parts))
    texts = dict(part.example(asked))
    names = [one.name for one in part.fields(asked)]
    for name in data.draw(st.lists(st.sampled_from(names), max_size=4)):
        texts[name] = data.draw(TYPED)
    typed = part.read(asked, texts)
    if typed.faults:
        assert all(fault.endswith(".") for fault in typed.faults.values())
        return
    try:
        shown = part.result(asked, typed, "")
    except CannotReckonError as refused:
        shown = [str(refused)]
    said = words(shown)
    assert said
    assert not {"nan", "inf", "None"} & set(said.replace(",", " ").split())


@pytest.mark.usefixtures("asked")
def test_every_link_to_the_methods_leads_somewhere() -> None:
    anchors = {anchor for tool in TOOLS for anchor, _ in tool.methods}
    standing = set()

    def look(content: Any) -> None:
        for one in content if isinstance(content, (list, tuple)) else [content]:
            if isinstance(one, Component):
                standing.add(getattr(one, "id", None))
                look(getattr(one, "children", None))

    look(methods.layout())
    assert anchors <= standing


@pytest.mark.usefixtures("asked")
def test_the_overview_leads_to_every_tool_and_an_unknown_one_says_so() -> None:
    shown = page("/workbench")
    for tool in TOOLS:
        assert tool.title in shown
        assert "reckoned, not measured" in page(f"/workbench/{tool.slug}") or tool.slug == "plant-failure"
    assert "No such tool" in page("/workbench/elsewhere")


def test_without_an_archive_the_tools_reckon_what_is_typed(store: Any) -> None:
    server = create_app(store).server
    with server.test_request_context("/workbench", base_url="http://127.0.0.1/"):
        g.person = AT_THIS_MACHINE
        assert "no record: a smooth year" in page("/workbench/before-it-is-built")
        assert "There is no archive" in page("/workbench/plant-failure")
        assert "Keep as a calibration" not in page("/workbench/salts")
