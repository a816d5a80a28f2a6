"""A wrong guess set right by hand: the recipe says what the person said, or the correction is refused."""

from __future__ import annotations

import pytest

from isohume.ingest.corrections import Correction, head_of, role_of, roles
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_source
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile

CSV = "Time,A,B\n" + "".join(
    f"0{1 + h // 24}/02/2025 {h % 24:02d}:00,{20 + h % 5 / 10:.1f},{48 + h % 7 / 10:.1f}\n" for h in range(72)
)


def read(recipe: Recipe | None = None, **answers: str) -> FileReading:
    (reading,) = read_source(CSV.encode(), name="a.csv", time_zone="UTC", recipe=recipe, answers=Answers(answers))
    return reading


def found() -> Recipe:
    return read(date_order="day-first").recipe


def test_columns_and_order_can_be_turned_round() -> None:
    recipe = found()
    assert [role_of(recipe, column) for column in (1, 2, 3)] == [
        "time: moment",
        "temperature, °C",
        "relative humidity, %",
    ]
    turned = Correction(
        order="month-first", columns={1: "time: moment", 2: "relative humidity, %", 3: "temperature, °C"}
    ).applied_to(recipe)
    before, after = read(recipe).table, read(turned).table
    assert after["rh_percent"].to_list() == before["temperature_celsius"].to_list()
    assert [str(time)[:10] for time in after["time_utc"][:1]] == ["2025-01-02"]
    assert [str(time)[:10] for time in before["time_utc"][:1]] == ["2025-02-01"]


def test_a_zone_moves_every_reading() -> None:
    moved = read(Correction(zone="+01:00").applied_to(found())).table["time_utc"]
    assert ((read(found()).table["time_utc"] - moved).dt.total_minutes() == 60).all()


def test_two_columns_of_humidity_are_two_channels() -> None:
    both = Correction(columns={1: "time: moment", 2: "relative humidity, %", 3: "relative humidity, %"})
    table = read(both.applied_to(found())).table
    assert table["channel"].n_unique() == 2


@pytest.mark.parametrize(
    "correction",
    [
        Correction(columns={1: "not used", 2: "temperature, °C", 3: "relative humidity, %"}),
        Correction(columns={1: "time: moment", 2: "not used", 3: "not used"}),
        Correction(columns={1: "time: clock", 2: "not used", 3: "relative humidity, %"}),
        Correction(columns={1: "time: moment", 2: "=cmd()", 3: "relative humidity, %"}),
        Correction(zone="Atlantis/Nowhere"),
    ],
)
def test_what_cannot_be_is_refused(correction: Correction) -> None:
    with pytest.raises(LoggerFileError):
        correction.applied_to(found())


def test_the_first_lines_are_shown_around_the_first_row() -> None:
    member = SourceFile(name="a.csv", content=b"A long preamble\n" * 30 + CSV.encode(), digest=lambda: "")
    (reading,) = read_source(
        member.content, name="a.csv", time_zone="UTC", answers=Answers({"date_order": "day-first"})
    )
    lines = head_of(member, reading.recipe)
    assert len(lines) <= 12
    assert (31, ["Time", "A", "B"]) in lines
    assert any(number == reading.recipe.first_row for number, _ in lines)


def test_every_role_can_be_read_back() -> None:
    assert len(set(roles())) == len(roles())


def test_an_answer_to_no_question_is_refused_with_the_known_ones() -> None:
    with pytest.raises(LoggerFileError, match="known are date_order, time_zone"):
        read(date_ordre="day-first")
    with pytest.raises(LoggerFileError, match="none of day-first, month-first"):
        read(date_order="american")
