"""Why a data row gave no reading: which cell is at fault, what it holds, and what is wrong with it."""

from __future__ import annotations

import polars as pl

from isohume.ingest.cells import LINE
from isohume.ingest.numbers import is_no_reading
from isohume.ingest.recipe import Recipe
from isohume.ingest.written_time import cell_name

NO_TIME = "no time"
NOT_A_TIME = "not a date and time"
NO_READING = "no reading"
CUT_SHORT = "cut short: the file ends within this row"
NOT_A_NUMBER = "not a number"
TOO_MANY_CELLS = "more cells than the other rows: a decimal comma, or two rows in one"
NOT_OURS = "neither humidity nor temperature"
# A line without a time may be no row at all.
TIMELESS = (NO_TIME, NOT_A_TIME)


def reasons_of(cells: pl.DataFrame, *, is_timed: pl.Series, is_good: pl.Series, recipe: Recipe) -> pl.DataFrame:
    """Say for each row that gave no reading which cell is at fault, and why; the first fault is named."""
    time_column = recipe.time.columns[0]
    time_cells = [pl.col(cell_name(column)) for column in recipe.time.columns]
    time_text = pl.concat_str(time_cells, separator=" ", ignore_nulls=True).str.strip_chars()
    value_cells = [pl.col(cell_name(column)) for column in dict.fromkeys(v.column for v in recipe.values)]
    first_value = pl.coalesce(value_cells)
    no_reading = pl.Series([True]).new_from_index(0, cells.height)
    for column in dict.fromkeys(value.column for value in recipe.values):
        no_reading &= is_no_reading(cells[cell_name(column)])
    named = pl.lit(recipe.heading_of(time_column))
    value_heading = pl.lit(recipe.heading_of(recipe.values[0].column))
    table = cells.with_columns(
        is_timed.alias("timed"), is_good.alias("good"), no_reading.alias("no_reading"),
        time_text.alias("time_text"),
    )  # fmt: skip
    lacks_time = ~pl.col("timed")
    other_quantity = pl.lit(None, dtype=pl.String)
    if recipe.long.quantity:
        known = {value.series for value in recipe.values}
        name = pl.col(cell_name(recipe.long.quantity)).str.strip_chars()
        other_quantity = pl.when(~name.is_in(list(known))).then(name)
    return table.select(
        pl.col(LINE),
        pl.when(lacks_time).then(named).when(~pl.col("good")).then(pl.lit(f"column {recipe.width + 1}"))
        .when(other_quantity.is_not_null()).then(pl.lit(recipe.heading_of(recipe.long.quantity)))
        .otherwise(value_heading).alias("column"),
        pl.when(lacks_time).then(pl.col("time_text")).when(~pl.col("good")).then(pl.col(cell_name(recipe.width + 1)))
        .when(other_quantity.is_not_null()).then(other_quantity)
        .otherwise(first_value).fill_null("").alias("found"),
        pl.when(lacks_time & (pl.col("time_text") == "")).then(pl.lit(NO_TIME)).when(lacks_time)
        .then(pl.lit(NOT_A_TIME)).when(~pl.col("good")).then(pl.lit(TOO_MANY_CELLS))
        .when(other_quantity.is_not_null()).then(pl.lit(NOT_OURS))
        .when(pl.col("no_reading")).then(pl.lit(NO_READING)).otherwise(pl.lit(NOT_A_NUMBER)).alias("reason"),
        pl.col("time_text"),
    )  # fmt: skip
