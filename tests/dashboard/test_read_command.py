"""`isohume read` as a person or a script uses it."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from typer.testing import CliRunner, Result

from isohume.dashboard.commands.read import app

ROOM = "Zeit;r.F. %;Temp. °C\n" + "".join(
    f"{1 + hour // 24:02}.03.2025 {hour % 24:02}:00;{45 + hour % 4},5;{20 + hour % 3},1\n" for hour in range(400)
)
ONE_DAY = "Time,RH,T\n" + "".join(f"03/04/2025 {hour:02}:00,45.{hour % 9},20.1\n" for hour in range(20))


def run(*arguments: str | Path, stdin: bytes | None = None) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments], input=stdin)


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "room.csv"
    path.write_text(ROOM, encoding="cp1252")
    return path


@pytest.fixture
def one_day(tmp_path: Path) -> Path:
    path = tmp_path / "one_day.csv"
    path.write_text(ONE_DAY, encoding="utf-8")
    return path


def document(result: Result) -> dict[str, Any]:
    parsed: dict[str, Any] = json.loads(result.stdout)
    return parsed


def test_json_has_its_fixed_shape(room: Path) -> None:
    result = run(room, "--tz", "Europe/Berlin", "--json")
    assert result.exit_code == 0, result.stderr
    (file,) = document(result)["files"]
    assert set(file) >= {"file", "sha256", "recipe", "rows", "channels", "rejected_rows", "questions", "notes"}
    assert set(file["rows"]) == {"in_file", "kept", "flagged", "duplicate", "conflicting", "rejected"}
    assert file["rows"]["in_file"] == file["rows"]["kept"] == 400
    assert file["lines"]["in_file"] == file["rows"]["in_file"] + sum(file["lines"]["other"].values())
    (channel,) = file["channels"]
    assert set(channel) >= {
        "name",
        "rows_kept",
        "first_utc",
        "last_utc",
        "step_s",
        "rh_percent",
        "temperature_celsius",
    }
    assert (channel["name"], channel["first_utc"], channel["step_s"]) == ("", "2025-02-28T23:00:00Z", 3600.0)
    assert channel["rh_percent"] == {"min": 45.5, "mean": 47.0, "max": 48.5}
    assert (file["questions"], file["rejected_rows"]) == ([], [])


def test_words_say_how_the_file_is_read(room: Path) -> None:
    result = run(room, "--tz", "Europe/Berlin")
    assert result.exit_code == 0
    assert "Semicolon-separated, decimal comma, Windows Western (cp1252)" in result.stdout
    assert "400 data rows in the file: 400 kept" in result.stdout
    assert "RH 45.5 to 48.5 %, mean 47.0 %" in result.stdout


@pytest.mark.parametrize("answer", ["date_ordre=day-first", "date_order=american", "=x"])
def test_an_answer_to_no_question_is_refused_with_the_known_ones(one_day: Path, answer: str) -> None:
    refused = run(one_day, "--answer", answer)
    assert refused.exit_code == 2
    assert "date_order" in refused.stderr
    assert refused.stdout == ""


def test_a_question_ends_with_3_and_is_answered_by_option(one_day: Path) -> None:
    asked = run(one_day, "--tz", "UTC", "--json")
    assert asked.exit_code == 3
    (file,) = document(asked)["files"]
    assert file["rows"]["kept"] == 0
    (question,) = file["questions"]
    assert question == (
        'In which order does "03/04/2025 00:00" give day and month? All dates of the file fit both. Answer with '
        "--answer date_order=…: day-first (day, month, year); month-first (month, day, year)."
    )
    assert question in asked.stderr
    for option, first in (
        (["--answer", "date_order=day-first"], "2025-04-03T00:00:00Z"),
        (["--date-order", "month-first"], "2025-03-04T00:00:00Z"),
    ):
        answered = run(one_day, "--tz", "UTC", "--json", *option)
        assert answered.exit_code == 0
        assert document(answered)["files"][0]["channels"][0]["first_utc"] == first


def test_without_a_zone_it_is_asked_for(room: Path) -> None:
    asked = run(room)
    assert asked.exit_code == 3
    assert "Which time did the logger's clock show?" in asked.stderr
    assert "--tz ZONE" in asked.stderr
    assert run(room, "--answer", "time_zone=Europe/Berlin").exit_code == 0


def test_recipe_is_saved_and_used(room: Path, one_day: Path, tmp_path: Path) -> None:
    recipe = tmp_path / "recipe.toml"
    assert run(room, "--tz", "Europe/Berlin", "--save-recipe", recipe).exit_code == 0
    again = run(room, "--recipe", recipe, "--json")
    assert again.exit_code == 0
    assert document(again)["files"][0]["rows"]["kept"] == 400
    other = run(one_day, "--recipe", recipe)
    assert other.exit_code == 3
    assert "This recipe is for another kind of file" in other.stderr


def test_out_as_csv_and_parquet(room: Path, tmp_path: Path) -> None:
    csv, parquet = tmp_path / "out.csv", tmp_path / "out.parquet"
    assert run(room, "--tz", "Europe/Berlin", "--out", csv).exit_code == 0
    assert run(room, "--tz", "Europe/Berlin", "--out", parquet).exit_code == 0
    columns = ["time_utc", "channel", "rh_percent", "temperature_celsius", "flags"]
    first = csv.read_text(encoding="utf-8").splitlines()[:2]
    assert first == [",".join(columns), '2025-02-28T23:00:00Z,"",45.5,20.1,""']
    table = pl.read_parquet(parquet)
    assert table.columns == columns
    assert table["rh_percent"].to_list() == pl.read_csv(csv)["rh_percent"].to_list()


def test_several_files_keep_their_names_and_formulas_are_text(room: Path, tmp_path: Path) -> None:
    other = tmp_path / "=1+2.csv"
    other.write_text(ROOM, encoding="utf-8")
    out = tmp_path / "out.csv"
    assert run(other, room, "--tz", "UTC", "--out", out).exit_code == 0
    assert set(pl.read_csv(out)["channel"]) == {"'=1+2.csv", "room.csv"}


def test_some_refused_is_1_all_refused_is_3_usage_is_2(room: Path, tmp_path: Path) -> None:
    prose = tmp_path / "prose.txt"
    prose.write_text("Dear colleague,\nthe loggers are back.\n", encoding="utf-8")
    some = run(room, prose, "--tz", "UTC", "--json")
    assert some.exit_code == 1
    assert [file["file"] for file in document(some)["refused"]] == [str(prose)]
    none = run(prose, tmp_path / "missing.csv", "--tz", "UTC")
    assert none.exit_code == 3
    assert "no such file" in none.stderr
    assert "Traceback" not in none.output
    for wrong in (["--tz", "Berlin"], ["--answer", "date_order"], ["--out", "x.xls"], ["--recipe", str(prose)]):
        assert run(room, *wrong).exit_code == 2, wrong


def test_standard_input() -> None:
    result = run("-", "--tz", "UTC", "--json", stdin=ROOM.encode("utf-8"))
    assert result.exit_code == 0
    assert document(result)["files"][0]["file"] == "standard input"
    assert io.StringIO(result.stdout).readline().startswith("{")
