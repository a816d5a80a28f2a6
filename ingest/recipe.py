"""How a logger's files are read, as a record of its own: found once, shown in words, corrected, saved, used again.

The saved form is a small TOML file::

    format = "isohume.recipe.1"

    [text]
    encoding = "utf-8"
    delimiter = "semicolon"      # comma, semicolon, tab, pipe or whitespace
    decimal = "comma"            # or point
    header = ["Datum", "Zeit", "Feuchte", "Temp"]   # headings as written; [] where the file has none
    first_row = 3                # line of the first row; with a heading: the one below it and its units

    [time]
    columns = [1, 2]             # counted from 1, joined by a blank
    parts = ["date", "clock"]    # what each holds: moment, date, clock, year, month, day, hour, minute, second, …
    form = "text"                # or epoch s, epoch ms, epoch us, spreadsheet days
    order = "day-first"          # or month-first, year-first
    zone = "Europe/Berlin"       # zone of the clock; +01:00 never changes to summer time; "written" beside each time
    date_once = true             # optional: a blank date means the one above

    [[values]]
    column = 3
    quantity = "relative humidity"   # or temperature, dew point
    unit = "%"                       # %, fraction, °C, °F, K
    channel = ""

A long layout names its channel in a column (`[long] sensor = 2`), and may name the quantity there, too.
"""

from __future__ import annotations

import json
import tomllib
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from isohume.ingest.clock_zone import ClockZone
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.lines import WHITESPACE
from isohume.ingest.moments import ORDERS, DateOrder
from isohume.ingest.recipe_words import recipe_in_words

FORMAT = "isohume.recipe.1"
WRITTEN_ZONE = "written"
DELIMITER_OF_NAME = {"tab": "\t", "semicolon": ";", "pipe": "|", "comma": ",", "whitespace": WHITESPACE}
NAME_OF_DELIMITER = {delimiter: name for name, delimiter in DELIMITER_OF_NAME.items()}

TimeForm = Literal["text", "epoch s", "epoch ms", "epoch us", "spreadsheet days"]
TIME_FORMS: tuple[TimeForm, ...] = ("text", "epoch s", "epoch ms", "epoch us", "spreadsheet days")
ValueQuantity = Literal["relative humidity", "temperature", "dew point"]
VALUE_UNITS: dict[str, tuple[str, ...]] = {
    "relative humidity": ("%", "fraction"),
    "temperature": ("°C", "°F", "K"),
    "dew point": ("°C", "°F", "K"),
}
PARTS = (
    "moment", "date", "clock", "year", "month", "day", "hour", "minute", "second", "day of year", "hhmm",
    "hhmmss", "day number", "day fraction",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeRecipe:
    """Where the time stands and how it is written.

    Attributes
    ----------
    columns : tuple of int
        Counted from 1.
    parts : tuple of str
        What each column holds, one of `PARTS`.
    form : TimeForm
        Written as text, or as a number of a unit since a start.
    order : DateOrder
        Order of day, month and year where all are numbers.
    zone : str
        Zone of the clock as `ClockZone.parse` reads it; "written" where each time carries its offset; "" unsettled.
    date_once : bool
        The date stands only in the first row of each day: a blank one means the date above.
    """

    columns: tuple[int, ...]
    parts: tuple[str, ...] = ("moment",)
    form: TimeForm = "text"
    order: DateOrder = "year-first"
    zone: str = ""
    date_once: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueColumn:
    """One column of values; where rows name their quantity, those rows whose name is `series`."""

    column: int
    quantity: ValueQuantity
    unit: str
    channel: str = ""
    heading: str = ""
    series: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LongLayout:
    """Columns that name what a row holds, counted from 1; 0 where there is none.

    Attributes
    ----------
    sensor : int
        Names the channel of the row.
    quantity : int
        Names the quantity of the row; then `values` holds one entry for each text in it (`series`).
    """

    sensor: int = 0
    quantity: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """The full interpretation of a logger's files.

    Attributes
    ----------
    encoding, delimiter, decimal : str
        How bytes become cells; the decimal mark is "." or ",".
    header : tuple of str
        Headings as written; empty where the file has none.
    first_row : int
        Line of the first row, from 1.
    width : int
        Cells of a row.
    time : TimeRecipe
        Where the time stands.
    values : tuple of ValueColumn
        Where the values stand.
    long : LongLayout
        For files that name the channel or the quantity in each row.
    sheet : str
        Sheet of a workbook.
    """

    encoding: str
    delimiter: str
    decimal: str
    header: tuple[str, ...] = ()
    first_row: int = 1
    width: int
    time: TimeRecipe
    values: tuple[ValueColumn, ...]
    long: LongLayout = field(default_factory=LongLayout)
    sheet: str = ""

    def in_words(self) -> str:
        """Return the interpretation in two or three plain sentences."""
        return recipe_in_words(self)

    def in_zone(self, zone: str) -> Recipe:
        """Return the recipe with the zone of the clock settled."""
        return replace(self, time=replace(self.time, zone=zone))

    def heading_of(self, column: int) -> str:
        """Return what a column is called in messages, the column counted from 1."""
        heading = self.header[column - 1] if 0 < column <= len(self.header) else ""
        return heading or f"column {column}"

    def as_dict(self) -> dict[str, Any]:
        """Return the recipe as plain JSON values, in the shape of the TOML form."""
        text = {
            "encoding": self.encoding,
            "delimiter": NAME_OF_DELIMITER[self.delimiter],
            "decimal": "comma" if self.decimal == "," else "point",
            "header": list(self.header),
            "first_row": self.first_row,
            "width": self.width,
            **({"sheet": self.sheet} if self.sheet else {}),
        }
        time = {name: list(part) if isinstance(part, tuple) else part for name, part in asdict(self.time).items()}
        if not self.time.date_once:
            del time["date_once"]
        values = [{name: part for name, part in asdict(value).items() if part != ""} for value in self.values]
        for value in values:
            value.setdefault("channel", "")
        document: dict[str, Any] = {"format": FORMAT, "text": text, "time": time, "values": values}
        if self.long != LongLayout():
            document["long"] = {name: number for name, number in asdict(self.long).items() if number}
        return document

    def to_toml(self) -> str:
        """Return the recipe in its saved form."""
        document = self.as_dict()
        lines = [f"format = {_toml(FORMAT)}"]
        for name in ("text", "time", "long"):
            if name in document:
                lines += ["", f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in document[name].items())]
        for value in document["values"]:
            lines += ["", "[[values]]", *(f"{key} = {_toml(part)}" for key, part in value.items())]
        return "\n".join(lines) + "\n"

    @classmethod
    def from_toml(cls, text: str, *, file: str = "recipe") -> Recipe:
        """Read a saved recipe.

        Raises
        ------
        LoggerFileError
            It is no recipe, or says something that cannot be.
        """
        try:
            document = tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise _wrong(file, str(error), "TOML") from None
        if document.get("format") != FORMAT:
            raise _wrong(file, f"format {document.get('format')!r}", f'format = "{FORMAT}"')
        try:
            recipe = _from_document(document)
        except (KeyError, TypeError, ValueError) as error:
            raise _wrong(file, str(error), "the keys and values that a saved recipe has") from None
        _check(recipe, file)
        return recipe

    @classmethod
    def load(cls, path: Path) -> Recipe:
        """Read a recipe file."""
        try:
            return cls.from_toml(path.read_text(encoding="utf-8"), file=path.name)
        except (OSError, UnicodeDecodeError) as error:
            raise _wrong(path.name, str(error), "a recipe file") from None


def _toml(value: object) -> str:
    # JSON strings, numbers and lists of these are TOML, too.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _from_document(document: dict[str, Any]) -> Recipe:
    text, time, long = dict(document["text"]), document["time"], document.get("long", {})
    delimiter = DELIMITER_OF_NAME[text.pop("delimiter")]
    decimal = {"comma": ",", "point": "."}[text.pop("decimal")]
    header = tuple(str(heading) for heading in text.pop("header", []))
    values = tuple(ValueColumn(**value) for value in document["values"])
    columns = tuple(int(column) for column in time["columns"])
    width = int(text.pop("width", max([*columns, *(value.column for value in values)])))
    return Recipe(
        **text,
        delimiter=delimiter,
        decimal=decimal,
        header=header,
        width=width,
        time=TimeRecipe(**{**time, "columns": columns, "parts": tuple(time.get("parts", ["moment"]))}),
        values=values,
        long=LongLayout(**long),
    )


def _check(recipe: Recipe, file: str) -> None:
    time = recipe.time
    columns = [*time.columns, *(value.column for value in recipe.values)]
    if not columns or min(columns) < 1 or max(columns) > recipe.width:
        raise _wrong(file, f"columns {columns}", f"columns from 1 to the width, {recipe.width}")
    if not recipe.values:
        raise _wrong(file, "no [[values]]", "at least one column with relative humidity or temperature")
    if len(time.columns) != len(time.parts) or not set(time.parts) <= set(PARTS):
        raise _wrong(file, f"parts {list(time.parts)}", f"one of {', '.join(PARTS)} for each time column")
    if time.form not in TIME_FORMS or time.order not in ORDERS:
        raise _wrong(file, f"form {time.form!r}, order {time.order!r}", f"{TIME_FORMS} and {ORDERS}")
    if max(recipe.long.sensor, recipe.long.quantity) > recipe.width:
        raise _wrong(file, f"long {asdict(recipe.long)}", f"columns from 1 to the width, {recipe.width}")
    _check_values(recipe, file)
    if time.zone not in ("", WRITTEN_ZONE):
        try:
            ClockZone.parse(time.zone)
        except ValueError as error:
            raise _wrong(file, str(error), "a time zone") from None


def _check_values(recipe: Recipe, file: str) -> None:
    for value in recipe.values:
        if bool(value.series) != bool(recipe.long.quantity):
            raise _wrong(file, f"series {value.series!r}", "a series for each of [[values]] where [long] has quantity")
        if value.unit not in VALUE_UNITS.get(value.quantity, ()):
            raise _wrong(file, f"{value.quantity!r} in {value.unit!r}", f"a quantity and unit of {VALUE_UNITS}")


def _wrong(file: str, found: str, expected: str) -> LoggerFileError:
    return LoggerFileError(
        file=file, found=found, expected=expected, remedy="Save a fresh one with isohume read FILE --save-recipe."
    )
