"""A recipe says everything: it round-trips, reads the next file alike, and explains itself."""

# ruff: noqa: DTZ001 - loggers write wall clocks, without a zone
from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.reading import FileReading, read_source
from isohume.ingest.recipe import (
    DELIMITER_OF_NAME,
    LongLayout,
    Recipe,
    TimeRecipe,
    ValueColumn,
)

NOW = datetime(2026, 11, 24, tzinfo=UTC)
text = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12)
values = st.builds(
    ValueColumn,
    column=st.integers(1, 9),
    quantity=st.just("temperature"),
    unit=st.sampled_from(["°C", "°F", "K"]),
    channel=text,
    heading=text,
)
recipes = st.builds(
    Recipe,
    encoding=st.sampled_from(["utf-8", "cp1252", "utf-16-le"]),
    delimiter=st.sampled_from(sorted(DELIMITER_OF_NAME.values())),
    decimal=st.sampled_from([".", ","]),
    header=st.lists(text, max_size=4).map(tuple),
    first_row=st.integers(1, 99),
    width=st.just(9),
    time=st.builds(
        TimeRecipe,
        columns=st.just((1, 2)),
        parts=st.just(("date", "clock")),
        order=st.sampled_from(["day-first", "year-first"]),
        zone=st.sampled_from(["Europe/Berlin", "+01:00", "written", ""]),
    ),
    values=st.lists(values, min_size=1, max_size=3).map(tuple),
    long=st.builds(LongLayout, sensor=st.integers(0, 9)),
    sheet=text,
)


@given(recipes)
def test_recipe_round_trips(recipe: Recipe) -> None:
    assert Recipe.from_toml(recipe.to_toml()) == recipe
    assert recipe.in_words()


def test_a_recipe_of_named_quantities_round_trips() -> None:
    rows = [
        f"2025-03-01 {hour:02}:00;{sensor};{name};{value}"
        for hour in range(9)
        for sensor in "AB"
        for name, value in (("RH", 50), ("Temp", 20))
    ]
    content = "\n".join(["Time;Sensor;Parameter;Value", *rows]).encode()
    reading = only(read_source(content, name="x", time_zone="UTC", now=NOW))
    recipe = Recipe.from_toml(reading.recipe.to_toml())
    assert recipe == reading.recipe
    assert (recipe.long.sensor, recipe.long.quantity) == (2, 3)
    again = only(read_source(content, name="x", time_zone=None, recipe=recipe, now=NOW))
    assert again.table.equals(reading.table)
    with pytest.raises(LoggerFileError, match="series"):
        Recipe.from_toml(reading.recipe.to_toml().replace('series = "RH"\n', ""))


def month(first: datetime, n: int, preamble: str) -> bytes:
    rows = [
        f"{first + timedelta(hours=h):%d.%m.%Y;%H:%M};{48 + h % 5 / 10:.1f};{20 + h % 7 / 10:.1f}".replace(".", ",", 0)
        for h in range(n)
    ]
    rows = [";".join([*row.split(";")[:2], *(cell.replace(".", ",") for cell in row.split(";")[2:])]) for row in rows]
    return (preamble + "Datum;Zeit;r.F. %;Temp. °C\n" + "\n".join(rows) + "\n").encode("cp1252")


def only(readings: tuple[FileReading, ...]) -> FileReading:
    (reading,) = readings
    return reading


def test_a_recipe_reads_the_next_file_though_its_preamble_is_longer() -> None:
    first = only(read_source(month(datetime(2025, 3, 1), 500, ""), name="a", time_zone="Europe/Berlin", now=NOW))
    recipe = Recipe.from_toml(first.recipe.to_toml())
    # Three hours of one day, which by themselves would leave day and month open.
    content = month(datetime(2025, 5, 4), 3, "Gerät;7\nneu\n\n")
    second = only(read_source(content, name="b", time_zone=None, recipe=recipe, now=NOW))
    assert second.is_settled
    assert second.table["time_utc"][0] == datetime(2025, 5, 3, 22, tzinfo=UTC)
    assert second.ledger.other_lines == {"preamble": 2, "blank": 1, "heading": 1}


def test_a_recipe_for_another_kind_of_file_is_refused() -> None:
    first = only(read_source(month(datetime(2025, 3, 1), 500, ""), name="a", time_zone="Europe/Berlin", now=NOW))
    with pytest.raises(LoggerFileError) as refusal:
        read_source(b"Time,RH,T\n2025-03-01 10:00,50,20\n", name="b.csv", time_zone=None, recipe=first.recipe, now=NOW)
    assert str(refusal.value) == (
        "b.csv, line 1: expected the heading semicolon-separated: Datum | Zeit | r.F. % | Temp. °C, found Time,RH,T. "
        "This recipe is for another kind of file: read it without the recipe, or save a new one."
    )


def test_in_words() -> None:
    reading = only(read_source(month(datetime(2025, 3, 1), 500, ""), name="a", time_zone="Europe/Berlin", now=NOW))
    assert reading.recipe.in_words() == (
        "Semicolon-separated, decimal comma, Windows Western (cp1252), rows from line 2, below the heading. "
        'Time in columns "Datum" and "Zeit", date and clock, day first; the clock shows Europe/Berlin time with its '
        'clock changes. Relative humidity in % in column "r.F. %" and temperature in °C in column "Temp. °C".'
    )


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("isohume.recipe.1", "other", "format 'other'"),
        ('delimiter = "semicolon"', 'delimiter = "colon"', "colon"),
        ("columns = [1, 2]", "columns = [1, 12]", "columns from 1 to the width, 4"),
        ('order = "day-first"', 'order = "first"', "first"),
        ('unit = "%"', 'unit = "°C"', "'relative humidity' in '°C'"),
        ('zone = "Europe/Berlin"', 'zone = "Berlin"', "time zone"),
        ("[time]", "[time", "TOML"),
        ('encoding = "utf-8"', "nothing = 1", "keys and values"),
    ],
)
def test_a_wrong_recipe_says_what_is_wrong(old: str, new: str, told: str) -> None:
    content = month(datetime(2025, 3, 1), 500, "").decode("cp1252").encode("utf-8")
    saved = only(read_source(content, name="a", time_zone="Europe/Berlin", now=NOW)).recipe.to_toml()
    assert old in saved
    with pytest.raises(LoggerFileError, match="recipe") as refusal:
        Recipe.from_toml(saved.replace(old, new, 1))
    assert told in str(refusal.value)


def test_a_missing_recipe_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LoggerFileError, match=r"none\.toml"):
        Recipe.load(tmp_path / "none.toml")
