"""From parsed rows to the normalised table: one row per reading and channel, and what each channel holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from isohume.analysis.psychrometrics import rh_from_dew_point
from isohume.analysis.readings import RH, TEMPERATURE, TIME
from isohume.ingest.cells import LINE
from isohume.ingest.flags import FLAGS
from isohume.ingest.ledger import CellCounts
from isohume.ingest.parse import SENSOR, ParsedFile, value_name
from isohume.ingest.recipe import Recipe

CHANNEL = "channel"
ROW = "row"
# Scratch columns of a channel on its way.
RH_ROUTE, TEMPERATURE_ROUTE, DEW_ROUTE = "relative humidity", "temperature", "dew point"

TABLE_SCHEMA = pl.Schema(
    {
        TIME: pl.Datetime("us", "UTC"),
        CHANNEL: pl.String(),
        RH: pl.Float64(),
        TEMPERATURE: pl.Float64(),
        FLAGS: pl.UInt32(),
        LINE: pl.UInt32(),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """Smallest, mean and largest of one quantity of one channel, over all its values; None where it has none."""

    min: float | None = None
    mean: float | None = None
    max: float | None = None

    @classmethod
    def of(cls, values: pl.Series) -> Extent:
        """Summarise a column."""
        low, mean, high = values.min(), values.mean(), values.max()
        if isinstance(low, float) and isinstance(mean, float) and isinstance(high, float):
            return cls(min=low, mean=mean, max=high)
        return cls()


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSummary:
    """What one channel of a file holds.

    Attributes
    ----------
    name : str
        "" where the file has one channel without a name.
    rows_kept : int
        Its readings in the table.
    first_utc, last_utc : datetime or None
        Its first and last reading.
    step_s : float or None [s]
        Nominal step: the commonest time difference.
    rh_percent, temperature_celsius : Extent [%RH], [°C]
        Of all its values, flagged or not.
    cells : mapping of str to CellCounts
        By quantity as the file holds it.
    """

    name: str
    rows_kept: int
    first_utc: object | None
    last_utc: object | None
    step_s: float | None
    rh_percent: Extent
    temperature_celsius: Extent
    cells: Mapping[str, CellCounts] = field(default_factory=dict)


def normalised(parsed: ParsedFile, utc: pl.Series, recipe: Recipe) -> pl.DataFrame:
    """Return the readings of a file: the columns of `TABLE_SCHEMA`, and `row`, their row in `parsed`.

    Rows stand channel by channel, in file order.
    """
    rows = parsed.rows
    if recipe.long.quantity:
        return _from_named_quantities(parsed, utc, recipe)
    parts: list[pl.DataFrame] = []
    channels = dict.fromkeys(value.channel for value in recipe.values)
    for channel in channels:
        routes: dict[str, pl.Series] = {
            value.quantity: rows[value_name(position)]
            for position, value in enumerate(recipe.values)
            if value.channel == channel
        }
        if recipe.long.sensor:
            names = rows[SENSOR] if len(channels) == 1 else rows[SENSOR] + f" {channel}"
        else:
            names = pl.Series([channel], dtype=pl.String).new_from_index(0, rows.height)
        numbers = pl.int_range(rows.height, eager=True, dtype=pl.UInt32)
        parts.append(_channel_table(utc, names, routes, rows[LINE], numbers))
    return pl.concat(parts) if len(parts) > 1 else parts[0]


def _from_named_quantities(parsed: ParsedFile, utc: pl.Series, recipe: Recipe) -> pl.DataFrame:
    """Bring rows of one quantity each together: those of one channel and instant become one reading."""
    rows = parsed.rows
    long: list[pl.DataFrame] = []
    for position, value in enumerate(recipe.values):
        values = rows[value_name(position)]
        name = pl.lit(value.channel)
        if recipe.long.sensor:
            name = pl.concat_str(pl.col(SENSOR), pl.lit(f" {value.channel}")).str.strip_chars()
        frame = rows.with_columns(utc.alias(TIME)).with_row_index(ROW).filter(values.is_not_null())
        long.append(
            frame.select(
                TIME, name.alias(CHANNEL), pl.lit(value.quantity).alias("quantity"),
                pl.col(value_name(position)).alias("value"), LINE, ROW,
            )
        )  # fmt: skip
    table = pl.concat(long).sort(ROW)
    # The k-th reading of a quantity at an instant goes with the k-th of the others: repeats stay repeats.
    table = table.with_columns(turn=pl.int_range(pl.len()).over(CHANNEL, TIME, "quantity"))
    wide = (
        table.pivot(
            on="quantity",
            index=[CHANNEL, TIME, "turn"],
            values="value",
            on_columns=list(_routes(recipe)),
            aggregate_function="first",
        )
        .join(
            table.group_by(CHANNEL, TIME, "turn").agg(pl.col(LINE).min(), pl.col(ROW).min()),
            on=[CHANNEL, TIME, "turn"],
        )
        .sort(ROW)
    )
    routes = {route: wide[route] for route in _routes(recipe)}
    names = wide[CHANNEL]
    order = {name: number for number, name in enumerate(names.unique(maintain_order=True))}
    made = _channel_table(wide[TIME], names, routes, wide[LINE], wide[ROW].cast(pl.UInt32))
    return made.sort(pl.col(CHANNEL).replace_strict(order, return_dtype=pl.UInt32), pl.col(ROW), maintain_order=True)


def _routes(recipe: Recipe) -> Sequence[str]:
    return tuple(dict.fromkeys(value.quantity for value in recipe.values))


def _channel_table(
    utc: pl.Series, names: pl.Series, routes: Mapping[str, pl.Series], lines: pl.Series, row: pl.Series
) -> pl.DataFrame:
    nothing = pl.Series([None], dtype=pl.Float64).new_from_index(0, len(utc))
    temperature = routes.get(TEMPERATURE_ROUTE, nothing)
    rh = routes.get(RH_ROUTE)
    if rh is None:
        rh = _from_dew_point(routes[DEW_ROUTE], temperature) if DEW_ROUTE in routes else nothing
    return pl.DataFrame(
        [
            utc.alias(TIME),
            names.alias(CHANNEL),
            rh.alias(RH),
            temperature.alias(TEMPERATURE),
            pl.Series([0], dtype=pl.UInt32).new_from_index(0, len(utc)).alias(FLAGS),
            lines.alias(LINE),
            row.alias(ROW),
        ]
    )


def _from_dew_point(dew_point: pl.Series, temperature: pl.Series) -> pl.Series:
    """Compute the relative humidity where the file gives the dew point instead."""
    known = dew_point.is_not_null() & temperature.is_not_null()
    values = np.full(len(dew_point), np.nan)
    mine = known.to_numpy()
    values[mine] = rh_from_dew_point(dew_point.filter(known).to_numpy(), temperature.filter(known).to_numpy())
    return pl.Series(values).fill_nan(None)


def summaries(
    table: pl.DataFrame, cells: Mapping[str, Mapping[str, CellCounts]], *, names: Sequence[str]
) -> tuple[ChannelSummary, ...]:
    """Summarise each channel of a normalised table."""
    result: list[ChannelSummary] = []
    for name in names:
        mine = table if len(names) == 1 else table.filter(pl.col(CHANNEL) == name)
        times = mine[TIME]
        result.append(
            ChannelSummary(
                name=name,
                rows_kept=mine.height,
                first_utc=times.min(),
                last_utc=times.max(),
                step_s=_step_s(times.to_physical().to_numpy()),
                rh_percent=Extent.of(mine[RH]),
                temperature_celsius=Extent.of(mine[TEMPERATURE]),
                cells=cells.get(name, cells.get("", {})),
            )
        )
    return tuple(result)


def _step_s(times_us: np.ndarray[tuple[int], np.dtype[np.int64]]) -> float | None:
    if times_us.size < 2:
        return None
    steps = np.diff(times_us)
    if steps.min() == steps.max():
        return float(steps[0]) / 1e6
    values, counts = np.unique(steps, return_counts=True)
    return float(values[counts.argmax()]) / 1e6
