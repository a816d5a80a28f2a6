"""What is recognised, what is asked, what is refused: one small file per decision."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from isohume.ingest.errors import LoggerFileError
from isohume.ingest.questions import Answers
from isohume.ingest.reading import FileReading, read_source

NOW = datetime(2026, 11, 24, tzinfo=UTC)
NO_ANSWERS = Answers()
Row = tuple[str, float, float]


def rows(
    n: int = 200,
    *,
    rh: float = 48.0,
    celsius: float = 20.5,
    step: timedelta = timedelta(hours=1),
    start: datetime = datetime(2025, 3, 1, 8),  # noqa: DTZ001 - a wall clock
    write: str | Callable[[datetime], str] = "%Y-%m-%d %H:%M",
) -> list[Row]:
    result: list[Row] = []
    for number in range(n):
        moment = start + number * step
        time = write(moment) if callable(write) else moment.strftime(write)
        wave = number / 24 * 2 * math.pi
        humid = rh + 2 * math.sin(wave) + 0.1 * (number * 7 % 9)
        result.append((time, round(humid, 1), round(celsius + math.cos(wave) + 0.1 * (number * 3 % 4), 1)))
    return result


def file(readings: list[Row], *, heading: str = "", sep: str = ",", line: str = "{0}{sep}{1}{sep}{2}") -> bytes:
    body = "\n".join(line.format(*row, sep=sep) for row in readings)
    return f"{heading}\n{body}\n".lstrip("\n").encode()


def read(content: bytes, *, zone: str | None = "UTC", answers: Answers = NO_ANSWERS) -> FileReading:
    (reading,) = read_source(content, name="file.csv", time_zone=zone, answers=answers, now=NOW)
    return reading


def means(reading: FileReading) -> dict[str, tuple[float | None, float | None]]:
    def rounded(value: float | None) -> float | None:
        return None if value is None else round(value)

    return {c.name: (rounded(c.rh_percent.mean), rounded(c.temperature_celsius.mean)) for c in reading.channels}


# --- without headings ---


@pytest.mark.parametrize("line", ["{0},{1},{2}", "{0},{2},{1}"])
def test_columns_without_heading_are_told_by_their_values(line: str) -> None:
    reading = read(file(rows(), line=line))
    assert means(reading) == {"": (48, 21)}
    assert any(note.startswith("No heading says so, but only column") for note in reading.notes)


@pytest.mark.parametrize(("rh", "celsius"), [(27.0, 22.0), (70.0, 21.0)])
def test_columns_that_could_be_either_are_asked_about(rh: float, celsius: float) -> None:
    # 22 to 29 may be °C or %; 70 and 21 may be 70 % at 21 °C, or 21 % at 70 °F.
    content = file(rows(rh=rh, celsius=celsius))
    asked = read(content)
    assert [question.id for question in asked.questions] == ["rh_column"]
    assert {choice.value for choice in asked.questions[0].choices} == {"2", "3"}
    answered = read(content, answers=Answers({"rh_column": "2"}))
    assert answered.is_settled
    assert means(answered)[""][0] == round(rh + 0.4)


def test_a_single_column_without_heading_is_asked_about() -> None:
    content = file(rows(), line="{0},{1}")
    assert [question.id for question in read(content).questions] == ["quantity"]
    assert means(read(content, answers=Answers({"quantity": "humidity"}))) == {"": (48, None)}


def test_a_record_number_is_no_air() -> None:
    body = "\n".join(f"{n},{row[0]},{row[1]},{row[2]}" for n, row in enumerate(rows(), start=20))
    assert means(read(body.encode())) == {"": (48, 21)}


# --- units ---


@pytest.mark.parametrize(
    ("heading", "convert", "unit"),
    [
        ("Temp", lambda c: c, "°C"),
        ("Temp", lambda c: c * 1.8 + 32, "°F"),
        ("Temp", lambda c: c + 273.15, "K"),
        ("Temp (°F)", lambda c: c * 1.8 + 32, "°F"),
        ("Temp [deg F]", lambda c: c * 1.8 + 32, "°F"),
        ("Temperature_K", lambda c: c + 273.15, "K"),
    ],
)
def test_unit_of_temperature(heading: str, convert: Callable[[float], float], unit: str) -> None:
    changed = [(time, rh, round(convert(celsius), 2)) for time, rh, celsius in rows()]
    reading = read(file(changed, heading=f"Time,RH,{heading}"))
    assert [value.unit for value in reading.recipe.values if value.quantity == "temperature"] == [unit]
    assert reading.table["temperature_celsius"].to_list() == pytest.approx([row[2] for row in rows()], abs=0.006)


@pytest.mark.parametrize(("heading", "celsius"), [("Temp", 43.0), ("Temp (°C)", 70.0)])
def test_a_unit_that_fits_ill_is_asked_about(heading: str, celsius: float) -> None:
    content = file(rows(celsius=celsius), heading=f"Time,RH,{heading}")
    asked = read(content)
    assert [question.id for question in asked.questions] == ["temperature_unit"]
    answered = read(content, answers=Answers({"temperature_unit": "fahrenheit"}))
    assert means(answered)[""][1] == round((celsius + 0.15 - 32) / 1.8)


def test_humidity_as_a_fraction() -> None:
    changed = [(time, round(rh / 100, 3), celsius) for time, rh, celsius in rows()]
    reading = read(file(changed, heading="Time,RH (%),T"))
    assert reading.table["rh_percent"].to_list() == pytest.approx([row[1] for row in rows()])
    assert any("as a fraction of 1" in note for note in reading.notes)


# --- channels ---


def test_channels_by_number_by_repeated_headings_and_by_a_row_above() -> None:
    line = "{0},{1},{2},{1},{2}"
    for heading, names in (
        ("Time,RH1,T1,RH2,T2", ["1", "2"]),
        ("Time,RH,T,RH,T", ["1", "2"]),
        (",Inside,,Room,\nTime,RH,T,RH,T", ["Inside", "Room"]),
        ("Time,Inside RH,Inside T,Room RH,Room T", ["Inside", "Room"]),
        ("Time,rhFrame,tFrame,rhRoom,tRoom", ["Frame", "Room"]),
        ("Zeit,Innenfeuchte,Innentemperatur,Raumfeuchte,Raumtemperatur", ["Innen", "Raum"]),
    ):
        reading = read(file(rows(), heading=heading, line=line))
        assert [channel.name for channel in reading.channels] == names, heading
        assert set(means(reading).values()) == {(48, 21)}


def test_one_humidity_among_two_thermometers() -> None:
    reading = read(file(rows(), heading="Time,RH,Temp internal,Temp external", line="{0},{1},{2},{2}"))
    assert means(reading) == {"internal": (48, 21), "external": (None, 21)}


def test_extremes_beside_a_mean_are_left_out() -> None:
    line = "{0},9,{1},99,{2}"
    reading = read(file(rows(), heading="Time,RH min,RH avg,RH max,T", line=line))
    assert means(reading) == {"": (48, 21)}


def test_dew_point_in_place_of_humidity() -> None:
    # Dew point of air at 20 °C and 50 %: 9.3 °C (from memory of any psychrometric table).
    body = "\n".join(f"{time},20.0,9.3" for time, _, _ in rows())
    reading = read(f"Time,Temp (°C),Dew point (°C)\n{body}\n".encode())
    assert reading.table["rh_percent"].to_list() == pytest.approx([50.0] * 200, abs=0.3)


# --- headings and rows that do not match ---


@pytest.mark.parametrize(
    ("heading", "line"),
    [
        ("RH,T", "{0},{1},{2}"),
        ("Time,RH,T", "{0},{1},{2},7"),
        ("# Time,RH,T", "{0},{1},{2}"),
        ("Time,RH,T,,", "{0},{1},{2},,"),
        ("Time,RH,T,Remark", "{0},{1},{2}"),
    ],
)
def test_headings_of_another_width(heading: str, line: str) -> None:
    assert means(read(file(rows(), heading=heading, line=line))) == {"": (48, 21)}


def test_one_heading_over_date_and_clock() -> None:
    content = file(rows(write="%d.%m.%Y;%H:%M"), heading="Datum/Zeit;rF;T", sep=";")
    reading = read(content, answers=Answers({"date_order": "day-first"}))
    assert reading.recipe.time.parts == ("date", "clock")
    assert means(reading) == {"": (48, 21)}


def test_a_second_table_is_refused() -> None:
    content = file(rows(50), heading="Time,RH,T") + file(rows(50), heading="Time,T,RH", line="{0},{2},{1}")
    with pytest.raises(LoggerFileError) as refusal:
        read(content)
    assert str(refusal.value) == (
        "file.csv, line 52: expected rows as under the first heading, Time | RH | T, found Time,T,RH. "
        "A second table begins here: save each table as a file of its own."
    )


def test_commas_for_cells_and_decimals_alike_are_refused() -> None:
    body = "\n".join(f"{time},{rh},{celsius}".replace(".", ",") for time, rh, celsius in rows())
    with pytest.raises(LoggerFileError, match="a decimal mark that differs from the comma between the cells"):
        read(f"Time,RH,T\n{body}\n".encode())


# --- times ---


@pytest.mark.parametrize(
    ("heading", "write", "sep"),
    [
        ("Jahr;Monat;Tag;Stunde;rF;T", "%Y;%m;%d;%H", ";"),
        ("", "%Y;%m;%d;%H", ";"),
        ("Time;RH;T", lambda t: f"{t:%b %d}, {t:%Y %H:%M}", ";"),
        ("Time,RH,T", lambda t: f"{t:%b %d}, {t:%Y %H:%M}", ","),
        ("Time,RH,T", lambda t: f'"{t:%b %d}, {t:%Y %H:%M}"', ","),
        ("Time;RH;T", lambda t: f"{t:%Y-%m-%d} 00:00:00;{t:%H:%M}", ";"),
        ("Time|RH|T", lambda t: f"{t:%Y-%m-%d}" if t.hour == 0 else f"{t:%Y-%m-%d %H:%M}", "|"),
        ("Time  RH  T", "%Y-%m-%d %H:%M", "   "),
    ],
)
def test_forms_of_time(heading: str, write: str | Callable[[datetime], str], sep: str) -> None:
    reading = read(file(rows(write=write), heading=heading, sep=sep))
    assert reading.table["time_utc"][0] == datetime(2025, 3, 1, 8, tzinfo=UTC)
    assert means(reading) == {"": (48, 21)}
    assert reading.channels[0].step_s == 3600


@pytest.mark.parametrize(
    ("heading", "zone"),
    [
        ('#,"Date Time, GMT+01:00","RH, %","Temp, °C"', "+01:00"),
        ("n,Time (UTC),RH,T", "UTC"),
        ("Time zone: Europe/Paris\n\nn,Time,RH,T", "Europe/Paris"),
        ("UTC offset: +02:00\nn,Time,RH,T", "+02:00"),
    ],
)
def test_a_zone_that_the_file_states_outweighs_the_one_given(heading: str, zone: str) -> None:
    reading = read(file(rows(), heading=heading, line="1,{0},{1},{2}"), zone="Asia/Tokyo")
    assert reading.recipe.time.zone == zone
    assert f"The file says that its clock shows {zone}; Asia/Tokyo was not used." in reading.notes


def test_a_clock_that_never_changes_is_recognised_and_said() -> None:
    content = file(rows(n=24 * 60), heading="Time,RH,T")  # March and April 2025, every hour there
    reading = read(content, zone="Europe/Berlin")
    assert reading.recipe.time.zone == "+01:00"
    assert reading.ledger.kept == 24 * 60
    (told,) = [note for note in reading.notes if note.startswith("The logger's clock never changes to summer time")]
    assert "02:00 to 03:00 on 2025-03-30 does not exist in Europe/Berlin" in told
    assert told.endswith(
        "It is read as UTC+01:00 all year; if it showed another time, answer --answer time_zone=ZONE."
    )
    insisted = read(content, zone=None, answers=Answers({"time_zone": "Europe/Berlin"}))
    assert insisted.recipe.time.zone == "Europe/Berlin"
    assert insisted.ledger.n_rejected == 1


def test_values_that_stand_for_nothing_are_no_readings() -> None:
    content = file(rows(40), heading="Time,RH,T").replace(b"20.5", b"-999").replace(b"48.0", b"---")
    table = read(content).table
    assert table["temperature_celsius"].min() > 0
    assert table["rh_percent"].null_count() + table["temperature_celsius"].null_count() > 0


# --- refusals ---


PROSE = b"Dear colleague,\nthe loggers are back.\n"
REFUSALS = {
    "prose": (
        "file.csv, line 1: expected rows with a time and at least one number, separated by tab, semicolon, pipe, "
        "comma, whitespace, found Dear colleague,. Is it the file that the logger's software exports as text, CSV "
        "or .xlsx?"
    ),
    "no humidity": (
        "file.csv, line 2: expected relative humidity, temperature or dew point, found columns Time, Pressure, "
        "Voltage. Export these columns, or say in a recipe which column holds which."
    ),
    "no time": (
        "file.csv, line 2: expected a column with the time of each reading, found 0 | 48.0 | 21.5. Export the file "
        "with date and time, or say in a recipe which columns hold them."
    ),
    "empty": "file.csv: expected readings, found an empty file. Export the readings again, or leave it out.",
}


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (PROSE, "prose"),
        (file(rows(), heading="Time,Pressure,Voltage"), "no humidity"),
        (file([(str(n), *row[1:]) for n, row in enumerate(rows())], heading="n,RH,T"), "no time"),
        (b"", "empty"),
    ],
    ids=["prose", "no humidity", "no time", "empty"],
)
def test_refusals_say_what_to_do(content: bytes, kind: str) -> None:
    with pytest.raises(LoggerFileError) as refusal:
        read(content)
    assert str(refusal.value) == REFUSALS[kind]


def test_a_wrong_zone_is_refused() -> None:
    with pytest.raises(LoggerFileError, match='"Berlin" is no time zone'):
        read(file(rows(), heading="Time,RH,T"), zone="Berlin")


# --- less usual tables ---


def test_columns_that_seem_swapped_are_asked_about() -> None:
    content = file(rows(), heading="Time,Temp (°C),Humidity (%)")
    asked = read(content)
    assert [question.id for question in asked.questions] == ["columns"]
    assert means(read(content, answers=Answers({"columns": "swapped"}))) == {"": (48, 21)}
    assert means(read(content, answers=Answers({"columns": "as-headed"}))) == {"": (21, 48)}


@pytest.mark.parametrize(
    ("heading", "line"),
    [
        ("Time,RH,Temp (°C),Temp (°F)", "{0},{1},{2},69"),
        ("Time,Humidity (g/m³),Humidity (%),Temp", "{0},8.5,{1},{2}"),
        ("Time,Serial,RH,T", "{0},L7,{1},{2}"),
        ("", "{0},{1},{2},OK"),
        ("Time,RH,RH status,T,T status", "{0},{1},ok,{2},ok"),
        ("Time,Humidity[%RH],Temperature[C],Pressure[kPa],Battery[V]", "{0},{1},{2},101.3,3.1"),
        (",Time,RH,T", ",{0},{1},{2}"),
        ("Time,%,°C", "{0},{1},{2}"),
        ('"Time","RH\n(%)","Temp\n(°C)"', "{0},{1},{2}"),
        ("sep=,\nTime,RH,T", "{0},{1},{2}"),
        ("\n".join(f"setting {n}: on" for n in range(400)) + "\nTime,RH,T", "{0},{1},{2}"),
    ],
)
def test_columns_beside_humidity_and_temperature_do_no_harm(heading: str, line: str) -> None:
    assert means(read(file(rows(), heading=heading, line=line))) == {"": (48, 21)}


def test_names_above_and_units_below() -> None:
    reading = read(file(rows(), heading="Time,Frame 7,Frame 7,Room,Room\n,%RH,°C,%RH,°C", line="{0},{1},{2},{1},{2}"))
    assert means(reading) == {"Frame 7": (48, 21), "Room": (48, 21)}


def test_seconds_since_1970_leave_no_zone_to_ask_for() -> None:
    start = datetime(2025, 3, 1, 8, tzinfo=UTC).timestamp()
    body = "\n".join(f"{start + 3600 * n:.0f},{t},{rh},{c}" for n, (t, rh, c) in enumerate(rows()))
    reading = read(f"unix,local time,RH,T\n{body}\n".encode(), zone=None)
    assert reading.is_settled
    assert reading.table["time_utc"][0] == datetime(2025, 3, 1, 8, tzinfo=UTC)


def test_a_last_row_that_breaks_off_is_rejected() -> None:
    reading = read(file(rows(50), heading="Time,RH,T") + b"2025-04-01 00:00,4")
    assert [(row.line, row.reason) for row in reading.ledger.rejected_rows()] == [
        (52, "cut short: the file ends within this row")
    ]


def test_a_heading_repeated_in_other_quotes_is_a_heading() -> None:
    content = file(rows(50), heading="Time,RH,T") + b'"Time","RH","T",\n' + file(rows(20, start=datetime(2025, 4, 1)))  # noqa: DTZ001 - a wall clock
    assert read(content).ledger.other_lines == {"heading": 1, "repeated heading": 1}
