"""Which columns hold humidity and temperature, of which channel: by their headings, then by their values."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from isohume.ingest.column_units import (
    AS_CELSIUS,
    CELSIUS,
    KELVIN,
    RH_FRACTION,
    RH_PERCENT,
    Numbers,
    unit_of_column,
)
from isohume.ingest.moments import plain
from isohume.ingest.questions import Answers, Choice, Question
from isohume.ingest.recipe import ValueColumn, ValueQuantity

# Without headings: a mean indoors; outside it, a column is the other quantity.
INDOOR_CELSIUS, INDOOR_RH = (-5.0, 33.0), (12.0, 100.0)
# 59 to 82 °F is 15 to 28 °C: a column wholly there may be a heated room in °F.
INDOOR_FAHRENHEIT, DRY_RH = (59.0, 82.0), (10.0, 35.0)

# A table of more columns without headings is none of a logger.
MOST_UNNAMED = 40
OWN = ("int", "air", "luft", "in")
QUANTITIES: tuple[ValueQuantity, ...] = ("relative humidity", "temperature", "dew point")


@dataclass(frozen=True, slots=True, kw_only=True)
class ValuesFound:
    """The value columns of a table, with what they leave open."""

    values: tuple[ValueColumn, ...] = ()
    questions: tuple[Question, ...] = ()
    notes: tuple[str, ...] = ()


def find_values(columns: Sequence[Numbers], answers: Answers) -> ValuesFound:
    """Return the columns of values: one for each quantity and channel."""
    filled = [column for column in columns if column.values.size]
    named = [named for column in filled if (named := _by_heading(column)) is not None]
    named = _in_one_unit(_without_extremes(named))
    notes: list[str] = []
    questions: list[Question] = []
    if not any(quantity in {"relative humidity", "dew point"} for _, quantity in named):
        left = [c for c in filled if not c.heading.meanings and all(c is not taken for taken, _ in named)]
        guessed, question, note = _by_values(left, [c for c, _ in named], answers)
        named += guessed
        questions += [question] if question else []
        notes += [note] if note else []
    elif all(quantity != "temperature" for _, quantity in named):
        left = [c for c in filled if not c.heading.meanings and all(c is not taken for taken, _ in named)]
        fits = [c for c in left if not c.is_counter and not c.is_constant and _may_be_temperature(c)]
        if len(fits) == 1:
            named.append((fits[0], "temperature"))
            notes.append(f"No heading says temperature, but only {fits[0].name} can be it.")
    values: list[ValueColumn] = []
    assumed: list[str] = []
    for column, quantity in named:
        unit, question, note = unit_of_column(column, quantity, answers)
        questions += [question] if question and all(question.id != other.id for other in questions) else []
        if note == AS_CELSIUS:
            assumed.append(column.name)
        elif note:
            notes.append(note[0].upper() + note[1:])
        values.append(
            ValueColumn(
                column=column.column,
                quantity=quantity,
                unit=unit,
                channel=column.heading.label,
                heading=column.heading.text,
            )
        )
    if assumed:
        one = len(assumed) == 1
        verb = "names no unit; its values are" if one else "name no unit; their values are"
        text = f"{', '.join(assumed)} {verb} read as °C."
        notes.append(text[0].upper() + text[1:])
    values, swapped = _swapped(values, named, answers)
    questions += [swapped] if swapped else []
    return ValuesFound(values=in_channels(values), questions=tuple(questions), notes=tuple(notes))


def _by_heading(column: Numbers) -> tuple[Numbers, ValueQuantity] | None:
    meanings = column.heading.meanings
    unit = column.heading.unit or column.cell_unit
    for quantity in QUANTITIES:
        if quantity in meanings[:1]:
            # "T" in % would be a mistake of ours; a unit outweighs a short word.
            if quantity == "temperature" and unit == "%":
                return column, "relative humidity"
            return column, quantity
    if "relative humidity" in meanings and not column.is_counter and (unit == "%" or column.within(RH_PERCENT)):
        return column, "relative humidity"
    if not meanings and unit:
        return column, "relative humidity" if unit in ("%", "fraction") else "temperature"
    return None


def _without_extremes(named: list[tuple[Numbers, ValueQuantity]]) -> list[tuple[Numbers, ValueQuantity]]:
    """Leave out minimum and maximum columns where the channel has its mean, and spreads always."""
    plain = {(quantity, c.heading.label) for c, quantity in named if c.heading.statistic in ("", "mean")}
    kept = [
        (c, quantity)
        for c, quantity in named
        if c.heading.statistic in ("", "mean", "summary") or (quantity, c.heading.label) not in plain
    ]
    return [(c, quantity) for c, quantity in kept if c.heading.statistic != "spread"]


def _in_one_unit(named: list[tuple[Numbers, ValueQuantity]]) -> list[tuple[Numbers, ValueQuantity]]:
    """Leave out the °F column of a thermometer that has a °C column, too."""
    celsius = {(quantity, c.heading.label) for c, quantity in named if c.heading.unit == "°C"}
    return [
        (c, quantity) for c, quantity in named
        if c.heading.unit not in ("°F", "K") or (quantity, c.heading.label) not in celsius
    ]  # fmt: skip


def _swapped(
    values: list[ValueColumn], named: Sequence[tuple[Numbers, ValueQuantity]], answers: Answers
) -> tuple[list[ValueColumn], Question | None]:
    """Ask where a heading says °C over what can only be humidity, and the other way round."""
    if [value.quantity for value in values].count("temperature") != 1 or len(values) != 2:
        return values, None
    by_quantity = {quantity: column for column, quantity in named}
    rh, t = by_quantity.get("relative humidity"), by_quantity.get("temperature")
    if rh is None or t is None or t.heading.unit in ("°F", "K") or t.mean <= CELSIUS[1]:
        return values, None
    if not (t.within(RH_PERCENT) and rh.within(CELSIUS) and rh.mean <= INDOOR_CELSIUS[1]):
        return values, None
    answer = answers.get("columns")
    if answer == "swapped":
        other = {rh.column: t.column, t.column: rh.column}
        return [replace(v, column=other[v.column], unit="%" if v.column == t.column else "°C") for v in values], None
    if answer == "as-headed":
        return values, None
    question = Question(
        id="columns",
        text=f"{t.name} holds {t.low:g} to {t.high:g} and {rh.name} {rh.low:g} to {rh.high:g}: were the two swapped?",
        choices=(
            Choice(value="swapped", label=f"{t.name} holds relative humidity, {rh.name} temperature"),
            Choice(value="as-headed", label="the headings are right"),
        ),
    )
    return values, question


Guess = tuple[list[tuple[Numbers, ValueQuantity]], Question | None, str]


def _by_values(left: Sequence[Numbers], named: Sequence[Numbers], answers: Answers) -> Guess:
    """Tell humidity from temperature by their values, or ask."""
    air = [column for column in left if not column.is_counter and not column.is_constant]
    air = (air or [column for column in left if not column.is_counter])[:MOST_UNNAMED]
    answer = answers.get("rh_column")
    answered = next((column for column in air if str(column.column) == answer), None)
    if answered is not None:
        others = [c for c in air if c is not answered and not named and _may_be_temperature(c)]
        return [(answered, "relative humidity"), *((c, "temperature") for c in others[:1])], None, ""
    may_be_rh = [c for c in air if c.within(RH_FRACTION) or (c.within(RH_PERCENT) and _is_indoor_rh(c))]
    if named:  # temperature has its heading; the only other column of air is humidity
        return _only_one(may_be_rh)
    if len(air) == 1 and len(may_be_rh) == 1:
        return _single(air[0], answers)
    pairs = [(rh, t) for rh in may_be_rh for t in air if t is not rh and _may_be_temperature(t)]
    if len(pairs) == 1:
        (rh, t) = pairs[0]
        return [(rh, "relative humidity"), (t, "temperature")], None, _settled_note(rh, t)
    return [], (_rh_question([rh for rh, _ in pairs]) if pairs else None), ""


def _only_one(may_be_rh: Sequence[Numbers]) -> Guess:
    if len(may_be_rh) == 1:
        return [(may_be_rh[0], "relative humidity")], None, _settled_note(may_be_rh[0], None)
    return [], (_rh_question(may_be_rh) if may_be_rh else None), ""


def _is_indoor_rh(column: Numbers) -> bool:
    return INDOOR_RH[0] <= column.mean <= INDOOR_RH[1]


def _may_be_temperature(column: Numbers) -> bool:
    if column.within(RH_FRACTION) and not column.is_constant:
        return False  # air that stays between 0 and 1 °C is rarer than humidity as a fraction
    is_celsius = column.within(CELSIUS) and INDOOR_CELSIUS[0] <= column.mean <= INDOOR_CELSIUS[1]
    return is_celsius or column.within(INDOOR_FAHRENHEIT) or column.within(KELVIN)


def _single(column: Numbers, answers: Answers) -> Guess:
    answer = answers.get("quantity")
    if answer in ("humidity", "temperature") or (column.within(RH_FRACTION) and column.high > 0):
        quantity: ValueQuantity = "temperature" if answer == "temperature" else "relative humidity"
        return [(column, quantity)], None, ""
    question = Question(
        id="quantity",
        text=f"What does {column.name} hold (values {column.low:g} to {column.high:g})? The file does not say.",
        choices=(
            Choice(value="humidity", label="relative humidity"),
            Choice(value="temperature", label="air temperature"),
        ),
    )
    return [(column, "relative humidity")], question, ""


def _rh_question(candidates: Sequence[Numbers]) -> Question:
    distinct = {column.column: column for column in candidates}
    return Question(
        id="rh_column",
        text="Which column holds relative humidity? The headings do not say, and the values fit more than one.",
        choices=tuple(
            Choice(value=str(number), label=f"{column.name}, values {column.low:g} to {column.high:g}")
            for number, column in sorted(distinct.items())
        ),
    )


def _settled_note(rh: Numbers, t: Numbers | None) -> str:
    text = f"No heading says so, but only {rh.name} can be relative humidity (values {rh.low:g} to {rh.high:g})"
    return text + (f" and only {t.name} temperature (values {t.low:g} to {t.high:g})." if t else ".")


def in_channels(values: Sequence[ValueColumn]) -> tuple[ValueColumn, ...]:
    """Name channels so that each has one column of a quantity; a file of one channel names none."""
    chosen = list(values)
    by_quantity = {quantity: [v for v in chosen if v.quantity == quantity] for quantity in QUANTITIES}
    counts = {quantity: len(found) for quantity, found in by_quantity.items() if found}
    if counts and max(counts.values()) == 1:
        return tuple(replace(value, channel="") for value in chosen)
    for quantity, found in by_quantity.items():
        labels = Counter(value.channel for value in found)
        numbers: Counter[str] = Counter()
        for value in found:
            if labels[value.channel] > 1:
                numbers[value.channel] += 1
                label = f"{value.channel} {numbers[value.channel]}".strip()
                chosen[chosen.index(value)] = replace(value, channel=label)
        by_quantity[quantity] = [v for v in chosen if v.quantity == quantity]
    return _paired(chosen, by_quantity)


def _paired(chosen: list[ValueColumn], by_quantity: dict[ValueQuantity, list[ValueColumn]]) -> tuple[ValueColumn, ...]:
    """Pair humidity and temperature by their order in the file where no label is shared."""
    rh, temperature = by_quantity["relative humidity"], by_quantity["temperature"]
    rh_labels, temperature_labels = {v.channel for v in rh}, {v.channel for v in temperature}
    if rh and len(rh) == len(temperature) and not rh_labels & temperature_labels:
        partner = {t.column: h.channel for h, t in zip(rh, temperature, strict=True)}
        return tuple(replace(v, channel=partner.get(v.column, v.channel)) for v in chosen)
    if len(rh) == 1 and temperature and rh[0].channel not in temperature_labels:
        # One humidity sensor among several thermometers sits with the one named like the logger's own, else the first.
        own = next((v for v in temperature if not v.channel or plain(v.channel).startswith(OWN)), temperature[0])
        return tuple(replace(v, channel=own.channel) if v is rh[0] else v for v in chosen)
    return tuple(chosen)
