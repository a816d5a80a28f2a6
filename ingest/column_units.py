"""The numbers of one column as the sample shows them, and the unit they can only be in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl

from isohume.ingest.errors import shorten
from isohume.ingest.headings import Heading
from isohume.ingest.numbers import parse_numbers
from isohume.ingest.questions import Answers, Choice, Question
from isohume.ingest.recipe import ValueQuantity
from isohume.ingest.units import unit_after

# The air around a painting, as wide as it can plausibly be (common practice): what a whole column must show for a
# reading of it to be possible, by its 5th and 95th percentile.
CELSIUS = (-15.0, 42.0)
FAHRENHEIT = (5.0, 108.0)
KELVIN = (258.0, 315.0)
RH_PERCENT = (0.0, 105.0)
RH_FRACTION = (0.0, 1.05)
# Means: below 35 an unlabelled temperature is °C (35 °F is 2 °C), above 50 it is °F (50 °C is an oven).
SURELY_CELSIUS, SURELY_FAHRENHEIT = 35.0, 50.0
AS_CELSIUS = "read as °C"
TEMPERATURE_ANSWERS = {"celsius": "°C", "fahrenheit": "°F", "kelvin": "K"}


@dataclass(frozen=True, kw_only=True)  # without slots: its percentiles are computed once
class Numbers:
    """What the sample shows of one column of numbers: its place, heading, values and the unit in its cells."""

    column: int
    heading: Heading
    values: np.ndarray[tuple[int], np.dtype[np.float64]]
    cell_unit: str = ""

    @cached_property
    def low(self) -> float:
        """5th percentile."""
        return float(np.percentile(self.values, 5))

    @cached_property
    def high(self) -> float:
        """95th percentile."""
        return float(np.percentile(self.values, 95))

    @cached_property
    def mean(self) -> float:
        """Median: a few wild values do not move it."""
        return float(np.median(self.values))

    def within(self, bounds: tuple[float, float]) -> bool:
        """Whether next to all values lie between two bounds."""
        return bounds[0] <= self.low and self.high <= bounds[1]

    @cached_property
    def is_counter(self) -> bool:
        """Whether it counts the rows: whole numbers that only rise."""
        steps = np.diff(self.values)
        return bool(self.values.size > 2 and (self.values == np.round(self.values)).all() and (steps > 0).all())

    @cached_property
    def is_constant(self) -> bool:
        """Whether it never changes: a setting or a status, not air."""
        return bool(self.values.size > 2 and np.ptp(self.values) == 0)

    @property
    def name(self) -> str:
        """What the column is called in questions."""
        return f'"{shorten(self.heading.text)}"' if self.heading.text else f"column {self.column}"


def numbers_of(rows: Sequence[Sequence[str]], column: int, heading: Heading, decimal: str) -> Numbers:
    """Return what the sample shows of one column, counted from 1."""
    texts = pl.Series([row[column - 1] for row in rows if column <= len(row)], dtype=pl.String)
    values = parse_numbers(texts, decimal_comma=decimal == ",").drop_nulls().to_numpy()
    units = Counter(unit for text in texts if text and (unit := unit_after(text)))
    common = units.most_common(1)
    unit = common[0][0] if common and common[0][1] >= len(texts) / 2 else ""
    return Numbers(column=column, heading=heading, values=values, cell_unit=unit)


def unit_of_column(column: Numbers, quantity: ValueQuantity, answers: Answers) -> tuple[str, Question | None, str]:
    """Return the unit of a column, the question that it leaves open, and a note on how it was settled."""
    written = column.heading.unit or column.cell_unit
    if quantity == "relative humidity":
        return _rh_unit(column, written, answers)
    answer = TEMPERATURE_ANSWERS.get((answers.get("temperature_unit") or "").lower())
    if answer:
        return answer, None, ""
    return _stated_unit(column, quantity, written) if written in ("°C", "°F", "K") else _unit_by_values(column)


def _stated_unit(column: Numbers, quantity: ValueQuantity, written: str) -> tuple[str, Question | None, str]:
    """Take the unit the file states, unless it says °C and the values would be an oven's."""
    is_fahrenheit = column.within(FAHRENHEIT) and column.mean > SURELY_FAHRENHEIT
    if quantity == "temperature" and written == "°C" and (is_fahrenheit or column.within(KELVIN)):
        return written, _temperature_question(column, f"{column.name} says °C, but"), ""
    return written, None, ""


def _unit_by_values(column: Numbers) -> tuple[str, Question | None, str]:
    if column.within(KELVIN):
        return "K", None, f"{column.name} names no unit; its values can only be kelvin."
    if column.mean < SURELY_CELSIUS:
        return "°C", None, AS_CELSIUS
    if column.mean > SURELY_FAHRENHEIT:
        return "°F", None, f"{column.name} names no unit; its values can only be °F."
    return "°C", _temperature_question(column, f"{column.name} names no unit, and"), ""


def _temperature_question(column: Numbers, because: str) -> Question:
    return Question(
        id="temperature_unit",
        text=f"{because} its values are {column.low:g} to {column.high:g}: in which unit are they?",
        choices=(
            Choice(value="fahrenheit", label="°F"),
            Choice(value="celsius", label="°C"),
            Choice(value="kelvin", label="K"),
        ),
    )


def _rh_unit(column: Numbers, written: str, answers: Answers) -> tuple[str, Question | None, str]:
    if answer := answers.get("humidity_unit"):
        unit = {"percent": "%", "fraction": "fraction"}.get(answer.lower())
        if unit:
            return unit, None, ""
    if not column.within(RH_FRACTION):
        return "%", None, ""
    if column.high == 0 or (column.values == np.round(column.values)).all():
        # All 0 or 1: a dead sensor in %, or saturated air as a fraction.
        if written == "fraction":
            return "fraction", None, ""
        question = Question(
            id="humidity_unit",
            text=f"{column.name} holds only 0 and 1: is that percent, or a fraction of 1?",
            choices=(Choice(value="percent", label="0 to 100 %"), Choice(value="fraction", label="0 to 1")),
        )
        return "%", question, ""
    note = f"{column.name} holds relative humidity as a fraction of 1; it is read as percent."
    return "fraction", None, note
