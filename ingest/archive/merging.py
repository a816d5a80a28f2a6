"""Overlapping imports: equal readings once, conflicting ones listed, and every import removable again.

All rows of all imports of a logger-year are kept in two tables: the readings in force, and the rows that an earlier
import already holds (*shadowed*). Both are a pure function of the set of rows, so that taking an import out again
gives exactly the tables there would have been without it.
"""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

KEY = ("time_utc", "channel")
# A row put together from several imports (humidity from one file, temperature from another) belongs to none.
COMPOSITE = 0
SCHEMA = pl.Schema(
    {
        "time_utc": pl.Datetime("us", "UTC"),
        "channel": pl.String(),
        "rh_percent": pl.Float64(),
        "temperature_celsius": pl.Float64(),
        "flags": pl.UInt32(),
        "line": pl.UInt32(),
        "source": pl.UInt32(),  # id of the imported file
    }
)
IN_FORCE_SCHEMA = pl.Schema({**SCHEMA, "contested": pl.Boolean()})  # another import says otherwise
VALUES = ("rh_percent", "temperature_celsius")


@dataclass(frozen=True, slots=True)
class Merged:
    """The readings of one logger and year.

    Attributes
    ----------
    in_force : DataFrame
        One row per time and channel, of the earliest import that holds it.
    shadowed : DataFrame
        All further rows for those times.
    """

    in_force: pl.DataFrame
    shadowed: pl.DataFrame

    def without(self, sources: list[int]) -> Merged:
        """Return the tables as they would be had these files never come."""
        return merge(self.rows().filter(~pl.col("source").is_in(sources)))

    def joined_by(self, rows: pl.DataFrame) -> Merged:
        """Return the tables with the rows of one more file."""
        return merge(pl.concat([self.rows(), rows.select(list(SCHEMA))]))

    def rows(self) -> pl.DataFrame:
        """Return every row of every import."""
        own = self.in_force.filter(pl.col("source") != COMPOSITE).select(list(SCHEMA))
        return pl.concat([own, self.shadowed])


EMPTY = Merged(pl.DataFrame(schema=IN_FORCE_SCHEMA), pl.DataFrame(schema=SCHEMA))


def merge(rows: pl.DataFrame) -> Merged:
    """Decide which row is in force at each time and channel.

    Parameters
    ----------
    rows : DataFrame
        Columns of `SCHEMA`, any order.

    Returns
    -------
    Merged
        Sorted by time and channel; rows of an earlier source come first.
    """
    rows = rows.sort("time_utc", "channel", "source", "line")
    repeated = pl.struct(KEY).is_duplicated() if rows.height else pl.lit(value=False)
    several = rows.filter(repeated)
    if several.is_empty():
        return Merged(rows.with_columns(contested=pl.lit(value=False)), pl.DataFrame(schema=SCHEMA))
    chosen = several.group_by(KEY, maintain_order=True).agg(
        *(pl.col(value).drop_nulls().first() for value in VALUES),
        pl.col("flags").first(),
        pl.col("flags").bitwise_or().alias("all_flags"),
        pl.col("line").first(),
        pl.col("source").first(),
        # Another row holds a value that the kept one contradicts.
        pl.any_horizontal(*(pl.col(value).drop_nulls().n_unique() > 1 for value in VALUES)).alias("contested"),
        # The kept values stand in no single row.
        pl.any_horizontal(
            *((pl.col(value).first().is_null() & pl.col(value).is_not_null().any()) for value in VALUES)
        ).alias("composite"),
    )
    composite = pl.col("composite")
    chosen = chosen.with_columns(
        flags=pl.when(composite).then("all_flags").otherwise("flags"),
        line=pl.when(composite).then(0).otherwise("line").cast(pl.UInt32),
        source=pl.when(composite).then(COMPOSITE).otherwise("source").cast(pl.UInt32),
    )
    in_force = pl.concat(
        [
            rows.filter(~repeated).with_columns(contested=pl.lit(value=False)),
            chosen.select(list(IN_FORCE_SCHEMA)),
        ]
    ).sort(KEY)
    first = pl.struct(KEY).is_first_distinct()
    shadowed = several.join(chosen.select(*KEY, "composite"), on=list(KEY), how="left", maintain_order="left")
    shadowed = shadowed.filter(~first | composite).select(list(SCHEMA))
    return Merged(in_force, shadowed)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one file's rows among those of earlier imports."""

    n_new: int
    n_equal: int
    n_conflicting: int


def outcome(merged: Merged, source: int) -> Outcome:
    """Count what one file brought: new, already held with the same values, or contradicting an earlier import."""
    mine = merged.shadowed.filter(pl.col("source") == source)
    n_first = merged.in_force.filter(pl.col("source") == source).height
    if mine.is_empty():
        return Outcome(n_first, 0, 0)
    kept = merged.in_force.select(*KEY, *(pl.col(value).alias(f"kept_{value}") for value in VALUES), "source")
    beside = mine.join(kept, on=list(KEY), how="left", suffix="_kept")
    n_conflicting = beside.filter(contradicts()).height
    # A composite row is news where this file brought a value nobody had.
    n_completing = beside.filter(~contradicts() & (pl.col("source_kept") == COMPOSITE)).height
    return Outcome(n_first + n_completing, mine.height - n_conflicting - n_completing, n_conflicting)


def contradicts() -> pl.Expr:
    """Tell whether a row holds a value other than the kept one beside it (columns `kept_…`)."""
    return pl.any_horizontal(*((pl.col(value) != pl.col(f"kept_{value}")).fill_null(value=False) for value in VALUES))


def conflicts(merged: Merged) -> pl.DataFrame:
    """List the rows that contradict the reading in force.

    Returns
    -------
    DataFrame
        time_utc, channel, kept_rh_percent, kept_temperature_celsius, kept_source, kept_line, rh_percent,
        temperature_celsius, source, line.
    """
    kept = merged.in_force.filter("contested").select(
        *KEY,
        *(pl.col(value).alias(f"kept_{value}") for value in VALUES),
        pl.col("source").alias("kept_source"),
        pl.col("line").alias("kept_line"),
    )
    beside = kept.join(merged.shadowed, on=list(KEY), how="inner", maintain_order="left_right").filter(contradicts())
    return beside.select(
        *KEY, "kept_rh_percent", "kept_temperature_celsius", "kept_source", "kept_line", *VALUES, "source", "line"
    )
