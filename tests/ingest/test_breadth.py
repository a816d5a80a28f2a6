"""One known record written in many layouts, composed of independent dimensions, each read back to the truth."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from isohume.ingest.reading import read_source

N_LAYOUTS = 240
BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 24, tzinfo=UTC)
# Three weeks across the autumn clock change, with days before and after the 12th: everything a file should settle.
START, N_ROWS = datetime(2025, 10, 14, 9, 30, tzinfo=UTC), 420


@dataclass(frozen=True)
class Reading:
    utc: datetime
    rh: float
    celsius: float


def truth(offset: float = 0.0) -> list[Reading]:
    rows = []
    for hour in range(N_ROWS):
        utc = START + timedelta(hours=hour)
        rh = 47.3 + offset + 3 * math.sin(hour / 24 * 2 * math.pi) + 2 * math.sin(hour / 90) + 0.1 * (hour * 7 % 5)
        celsius = 20.4 + 1.3 * math.cos(hour / 24 * 2 * math.pi) + 0.02 * offset + 0.1 * (hour * 3 % 4)
        rows.append(Reading(utc, round(rh, 1), round(celsius, 1)))
    return rows


# --- how a time is written: cells, their headings (one per cell), and whether the zone is told to the reader ---

_GERMAN = "Januar Februar März April Mai Juni Juli August September Oktober November Dezember"
_FRENCH = "janvier février mars avril mai juin juillet août septembre octobre novembre décembre"
_ENGLISH = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"
GERMAN, FRENCH, ENGLISH = _GERMAN.split(), _FRENCH.split(), _ENGLISH.split()
Cells = Callable[[datetime], list[str]]


def local(utc: datetime) -> datetime:
    return utc.astimezone(BERLIN)


def am_pm(t: datetime) -> str:
    return f"{t.hour % 12 or 12}:{t.minute:02}:{t.second:02} {'AM' if t.hour < 12 else 'PM'}"


def hour_24(t: datetime) -> list[str]:
    if t.hour == 0:
        return [f"{(t - timedelta(days=1)):%d.%m.%Y} 24:{t.minute:02}"] if t.minute == 0 else [f"{t:%d.%m.%Y %H:%M}"]
    return [f"{t:%d.%m.%Y %H:%M}"]


def spreadsheet_days(t: datetime) -> float:
    return (t.replace(tzinfo=None) - datetime(1899, 12, 30)) / timedelta(days=1)  # noqa: DTZ001 - wall clock


TIMES: dict[str, Cells] = {
    "iso blank": lambda u: [f"{local(u):%Y-%m-%d %H:%M:%S}"],
    "iso T": lambda u: [f"{local(u):%Y-%m-%dT%H:%M}"],
    "iso Z": lambda u: [f"{u:%Y-%m-%dT%H:%M:%SZ}"],
    "iso offset": lambda u: [local(u).isoformat()],
    "iso fraction": lambda u: [f"{local(u):%Y-%m-%d %H:%M:%S}.000"],
    "year slash": lambda u: [f"{local(u):%Y/%m/%d %H:%M}"],
    "dots": lambda u: [f"{local(u):%d.%m.%Y %H:%M}"],
    "dots seconds": lambda u: [f"{local(u):%d.%m.%Y %H:%M:%S}"],
    "day slash": lambda u: [f"{local(u):%d/%m/%Y %H:%M}"],
    "day dash": lambda u: [f"{local(u):%d-%m-%Y %H:%M:%S}"],
    "unpadded day": lambda u: [f"{local(u).day}/{local(u).month}/{local(u).year} {local(u).hour}:{local(u):%M}"],
    "month slash am pm": lambda u: [f"{local(u):%m/%d/%Y} {am_pm(local(u))}"],
    "month unpadded": lambda u: [f"{local(u).month}/{local(u).day}/{local(u):%y} {am_pm(local(u))}"],
    "two digit year": lambda u: [f"{local(u):%d.%m.%y %H:%M}"],
    "two digit year first": lambda u: [f"{local(u):%y-%m-%d %H:%M}"],
    "english month": lambda u: [f"{local(u).day:02} {ENGLISH[local(u).month - 1]} {local(u):%Y %H:%M}"],
    "english dash month": lambda u: [f"{local(u).day:02}-{ENGLISH[local(u).month - 1]}-{local(u):%y %H:%M:%S}"],
    "german month": lambda u: [f"{local(u).day}. {GERMAN[local(u).month - 1]} {local(u):%Y %H:%M}"],
    "french month": lambda u: [f"{local(u).day} {FRENCH[local(u).month - 1]} {local(u):%Y %H:%M}"],
    "hour 24": lambda u: hour_24(local(u)),
    "epoch s": lambda u: [f"{int(u.timestamp())}"],
    "epoch ms": lambda u: [f"{int(u.timestamp()) * 1000}"],
    "spreadsheet days": lambda u: [f"{spreadsheet_days(local(u)):.9f}"],
    "compact": lambda u: [f"{local(u):%Y%m%d%H%M%S}"],
    "date, clock": lambda u: [f"{local(u):%d.%m.%Y}", f"{local(u):%H:%M:%S}"],
    "iso date, clock": lambda u: [f"{local(u):%Y-%m-%d}", f"{local(u):%H:%M}"],
    "month date, am pm": lambda u: [f"{local(u):%m/%d/%Y}", am_pm(local(u))],
    "compact date, hhmm": lambda u: [f"{local(u):%Y%m%d}", f"{local(u).hour * 100 + local(u).minute}"],
    "year, month, day, clock": lambda u: [
        f"{local(u):%Y}", str(local(u).month), str(local(u).day), f"{local(u):%H:%M}",
    ],
    "year, month, day, hour, minute": lambda u: [str(n) for n in local(u).timetuple()[:5]],
    "year, day of year, hhmm": lambda u: [
        f"{local(u):%Y}", str(local(u).timetuple().tm_yday), f"{local(u).hour * 100 + local(u).minute}",
    ],
}  # fmt: skip

# --- headings: language, by number of time cells (1, 2, date parts), RH, temperature ---

LANGUAGES: dict[str, dict[str, str]] = {
    "English": {"moment": "Date Time", "date": "Date", "clock": "Time", "year": "Year", "month": "Month", "day": "Day",
                "hour": "Hour", "minute": "Minute", "doy": "Day of year", "rh": "Relative humidity",
                "t": "Temperature"},
    "short": {"moment": "timestamp", "date": "date", "clock": "time", "year": "year", "month": "month", "day": "day",
              "hour": "hour", "minute": "minute", "doy": "doy", "rh": "RH", "t": "T"},
    "German": {"moment": "Datum/Zeit", "date": "Datum", "clock": "Uhrzeit", "year": "Jahr", "month": "Monat",
               "day": "Tag", "hour": "Stunde", "minute": "Minute", "doy": "Tag des Jahres",
               "rh": "rel. Luftfeuchtigkeit", "t": "Lufttemperatur"},
    "French": {"moment": "Date et heure", "date": "Date", "clock": "Heure", "year": "Année", "month": "Mois",
               "day": "Jour", "hour": "Heure", "minute": "Minute", "doy": "Jour de l'année",
               "rh": "Humidité relative", "t": "Température"},
    "Dutch": {"moment": "Datum en tijd", "date": "Datum", "clock": "Tijd", "year": "Jaar", "month": "Maand",
              "day": "Dag", "hour": "Uur", "minute": "Minuut", "doy": "Dagnummer",
              "rh": "Relatieve vochtigheid", "t": "Temperatuur"},
    "Spanish": {"moment": "Fecha y hora", "date": "Fecha", "clock": "Hora", "year": "Año", "month": "Mes",
                "day": "Día", "hour": "Hora", "minute": "Minuto", "doy": "Día juliano", "rh": "Humedad relativa",
                "t": "Temperatura"},
    "Italian": {"moment": "Data e ora", "date": "Data", "clock": "Ora", "year": "Anno", "month": "Mese",
                "day": "Giorno", "hour": "Ora", "minute": "Minuto", "doy": "Day of year", "rh": "Umidità relativa",
                "t": "Temperatura"},
    "Danish": {"moment": "Dato og tid", "date": "Dato", "clock": "Klokkeslæt", "year": "År", "month": "Måned",
               "day": "Dag", "hour": "Time", "minute": "Minut", "doy": "Dagnummer", "rh": "Relativ fugtighed",
               "t": "Temperatur"},
    "Norwegian": {"moment": "Tidspunkt", "date": "Dato", "clock": "Klokkeslett", "year": "År", "month": "Måned",
                  "day": "Dag", "hour": "Time", "minute": "Minutt", "doy": "Dagnummer", "rh": "Luftfuktighet",
                  "t": "Temperatur"},
    "Swedish": {"moment": "Tidpunkt", "date": "Datum", "clock": "Klockslag", "year": "År", "month": "Månad",
                "day": "Dag", "hour": "Timme", "minute": "Minut", "doy": "Dagnummer", "rh": "Relativ fuktighet",
                "t": "Lufttemperatur"},
    "Finnish": {"moment": "Aikaleima", "date": "Päivämäärä", "clock": "Kellonaika", "year": "Vuosi",
                "month": "Kuukausi", "day": "Päivä", "hour": "Tunti", "minute": "Minuutti", "doy": "doy",
                "rh": "Suhteellinen kosteus", "t": "Lämpötila"},
}  # fmt: skip
TIME_KEYS: dict[str, Sequence[str]] = {
    "year, month, day, clock": ("year", "month", "day", "clock"),
    "year, month, day, hour, minute": ("year", "month", "day", "hour", "minute"),
    "year, day of year, hhmm": ("year", "doy", "clock"),
}

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1")
DIALECTS = (
    (",", ".", ""), (";", ",", ""), ("\t", ".", ""), ("|", ".", ""), (",", ",", "commas"), (";", ".", ""),
    ("\t", ",", ""), (";", ",", "all"), (",", ".", "all"), ("|", ",", ""),
)  # fmt: skip
UNITS = ("heading", "row", "cells", "none", "fahrenheit", "kelvin", "fraction", "comma in heading")
PREAMBLES: tuple[tuple[str, ...], ...] = (
    (), ("Logger 4711",), ("# exported for the file", "# interval 3600 s"),
    ("Device;name;4711", "Start: 14.10.2025", "", "Readings: 420"), ("", "Serial,4711,,", "Interval,60 min"),
)  # fmt: skip
STRUCTURES = (
    "plain", "two channels", "long", "dew point", "newest first", "no heading", "by quantity", "record number",
    "battery and status", "plain", "temperature first",
)  # fmt: skip
ENDS = ("", "footer", "trailing delimiter", "repeated heading", "blank lines", "no last line end", "comments", "crlf")


@dataclass(frozen=True)
class Layout:
    number: int
    encoding: str
    dialect: tuple[str, str, str]
    time: str
    language: str
    units: str
    preamble: tuple[str, ...]
    structure: str
    end: str

    @property
    def name(self) -> str:
        delimiter, decimal, quotes = self.dialect
        mark = {"\t": "tab"}.get(delimiter, delimiter)
        parts = (
            self.encoding,
            mark + decimal + quotes,
            self.time,
            self.language,
            self.units,
            self.structure,
            self.end,
        )
        return f"{self.number}: {' '.join(parts)}"


def compose(number: int) -> Layout:
    """Turn every dimension at its own pace, so that each meets the values of the others."""

    def turn(options: Sequence[object], pace: int) -> object:
        return options[(number * pace + number // len(options)) % len(options)]

    return Layout(
        number,
        turn(ENCODINGS, 1), turn(DIALECTS, 3), turn(list(TIMES), 1), turn(list(LANGUAGES), 1), turn(UNITS, 3),
        turn(PREAMBLES, 1), turn(STRUCTURES, 1), turn(ENDS, 1),
    )  # type: ignore[arg-type]  # each dimension holds its own type  # fmt: skip


def fahrenheit(celsius: float) -> float:
    return celsius * 1.8 + 32


def dew_point(rh: float, celsius: float) -> float:
    # Magnus form, Alduchov & Eskridge (1996): within 0.4 % of saturation pressure, far below 0.3 %RH here.
    gamma = math.log(rh / 100) + 17.625 * celsius / (243.04 + celsius)
    return 243.04 * gamma / (17.625 - gamma)


class Writer:
    """Writes the record in one layout."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.delimiter, self.decimal, self.quotes = layout.dialect
        self.words = LANGUAGES[layout.language]

    def number(self, value: float, digits: int = 1) -> str:
        return f"{value:.{digits}f}".replace(".", self.decimal)

    def line(self, cells: Sequence[str]) -> str:
        quote = {"all": True, "commas": False}.get(self.quotes)
        if quote is None:
            return self.delimiter.join(cells)
        return self.delimiter.join(f'"{cell}"' if quote or self.delimiter in cell else cell for cell in cells)

    def time_headings(self) -> list[str]:
        keys = TIME_KEYS.get(self.layout.time)
        if keys is None:
            keys = ("date", "clock") if len(TIMES[self.layout.time](START)) == 2 else ("moment",)
        return [self.words[key] for key in keys]

    def rh(self, value: float) -> str:
        if self.layout.units == "fraction":
            return self.number(value / 100, 3)
        return self.number(value) + (" %" if self.layout.units == "cells" else "")

    def temperature(self, celsius: float) -> str:
        if self.layout.units == "fahrenheit":
            return self.number(fahrenheit(celsius), 2)
        if self.layout.units == "kelvin":
            return self.number(celsius + 273.15, 2)
        return self.number(celsius) + (" °C" if self.layout.units == "cells" else "")

    def unit(self, quantity: str) -> str:
        if quantity == "rh":
            return "0-1" if self.layout.units == "fraction" else "%"
        return {"fahrenheit": "°F", "kelvin": "K"}.get(self.layout.units, "°C")

    def heading(self, quantity: str, label: str = "") -> str:
        word = {"rh": self.words["rh"], "t": self.words["t"], "dew": "Taupunkt"}[quantity]
        text = f"{label} {word}".strip()
        style = self.layout.units
        if style in ("heading", "fahrenheit", "kelvin"):
            return f"{text} ({self.unit(quantity)})"
        return f"{text}, {self.unit(quantity)}" if style == "comma in heading" and self.delimiter != "," else text

    def rows(self) -> tuple[list[list[str]], list[str], list[str]]:  # noqa: C901, PLR0911 - one branch per structure
        """Return the rows, their headings and their units."""
        structure = self.layout.structure

        def write_time(utc: datetime) -> list[str]:
            cells = TIMES[self.layout.time](utc)
            return (
                [cell.replace(".", self.decimal) for cell in cells]
                if self.layout.time == "spreadsheet days"
                else cells
            )

        time_headings = self.time_headings()
        blank = [""] * len(time_headings)
        one, other = truth(), truth(-9.0)
        rh_t = [self.heading("rh"), self.heading("t")]
        units = [self.unit("rh"), self.unit("t")]
        pairs = [(r, [self.rh(r.rh), self.temperature(r.celsius)]) for r in one]
        if structure == "two channels":
            headings = [self.heading(q, label) for label in ("Frame 7", "Room") for q in ("rh", "t")]
            rows = [
                [*write_time(r.utc), *cells, self.rh(o.rh), self.temperature(o.celsius)]
                for (r, cells), o in zip(pairs, other, strict=True)
            ]
            return rows, [*time_headings, *headings], [*blank, *units, *units]
        if structure == "long":
            rows = [
                [name, *write_time(r.utc), self.rh(r.rh), self.temperature(r.celsius)]
                for pair in zip(one, other, strict=True)
                for name, r in zip(("Frame 7", "Room"), pair, strict=True)
            ]
            return rows, ["Sensor", *time_headings, *rh_t], ["", *blank, *units]
        if structure == "by quantity":
            rows = []
            for r in one:
                rows.append([*write_time(r.utc), self.words["rh"], self.rh(r.rh), self.unit("rh")])
                rows.append([*write_time(r.utc), self.words["t"], self.temperature(r.celsius), self.unit("t")])
            return rows, [*time_headings, "Parameter", "Value", "Unit"], [*blank, "", "", ""]
        if structure == "dew point":
            rows = [
                [
                    *write_time(r.utc),
                    self.temperature(r.celsius),
                    self.temperature(round(dew_point(r.rh, r.celsius), 3)),
                ]
                for r in one
            ]
            return (
                rows,
                [*time_headings, self.heading("t"), self.heading("dew")],
                [*blank, self.unit("t"), self.unit("t")],
            )
        if structure == "temperature first":
            rows = [[*write_time(r.utc), *reversed(cells)] for r, cells in pairs]
            return rows, [*time_headings, *reversed(rh_t)], [*blank, *reversed(units)]
        rows = [[*write_time(r.utc), *cells] for r, cells in pairs]
        if structure == "record number":
            rows = [[str(number), *row] for number, row in enumerate(rows, start=1)]
            return rows, ["No.", *time_headings, *rh_t], ["", *blank, *units]
        if structure == "battery and status":
            rows = [[*row, self.number(3.6), "OK"] for row in rows]
            return rows, [*time_headings, *rh_t, "Battery (V)", "Status"], [*blank, *units, "V", ""]
        if structure == "newest first":
            rows.reverse()
        return rows, [*time_headings, *rh_t], [*blank, *units]

    def text(self) -> tuple[bytes, int]:
        """Return the file and the number of its data rows."""
        rows, headings, units = self.rows()
        layout = self.layout
        lines = list(layout.preamble)
        has_heading = layout.structure != "no heading"
        tail = [""] if layout.end == "trailing delimiter" else []
        if has_heading:
            lines.append(self.line([*headings, *tail]))
            if layout.units in ("row", "fraction", "fahrenheit", "kelvin"):
                lines.append(self.line([*units, *tail]))
        body = [self.line([*row, *tail]) for row in rows]
        if layout.end == "repeated heading" and has_heading:
            body[150:150] = [self.line(headings)]
        if layout.end == "blank lines":
            body[100:100] = ["", ""]
        if layout.end == "comments":
            body[200:200] = ["# battery changed"]
        if layout.end == "footer":
            body += ["", self.line(["Min", "", "41"]), self.line(["Mean", "", "47"]), "End of data"]
        lines += body
        end = "\r\n" if layout.end == "crlf" else "\n"
        text = end.join(lines) + ("" if layout.end == "no last line end" else end)
        return text.encode(layout.encoding), len(rows)


LAYOUTS = [compose(number) for number in range(N_LAYOUTS)]


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.name)
def test_layout_is_read_back_to_the_truth(layout: Layout) -> None:
    content, n_rows = Writer(layout).text()
    (reading,) = read_source(content, name="layout.csv", time_zone="Europe/Berlin", now=NOW)
    assert reading.questions == ()
    assert reading.ledger.in_file == reading.ledger.kept == n_rows, reading.ledger.reasons()
    expected = {"": truth()}
    if layout.structure in ("two channels", "long"):
        expected = {"Frame 7": truth(), "Room": truth(-9.0)}
    assert {channel.name for channel in reading.channels} == set(expected)
    # Tenths of °F, thousandths of RH and dew points written with one decimal bound what can be recovered.
    rh_tolerance = 0.5 if layout.structure == "dew point" else 0.051
    for name, rows in expected.items():
        table = reading.table.filter(channel=name)
        assert table["time_utc"].to_list() == [row.utc for row in rows]
        assert table["rh_percent"].to_list() == pytest.approx([row.rh for row in rows], abs=rh_tolerance)
        assert table["temperature_celsius"].to_list() == pytest.approx([row.celsius for row in rows], abs=0.03)


def test_every_value_of_every_dimension_occurs() -> None:
    for dimension, values in {
        "encoding": ENCODINGS, "dialect": DIALECTS, "time": TIMES, "language": LANGUAGES, "units": UNITS,
        "preamble": PREAMBLES, "structure": STRUCTURES, "end": ENDS,
    }.items():  # fmt: skip
        assert {getattr(layout, dimension) for layout in LAYOUTS} == set(values)
    assert len({(x.dialect, x.time, x.structure) for x in LAYOUTS}) > N_LAYOUTS / 2
