"""A received file as the Files page shows it: what was understood, as values that JSON can hold."""

from __future__ import annotations

from typing import Any

import polars as pl

from isohume.ingest.archive.previewing import Preview
from isohume.ingest.corrections import head_of, role_of
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.ledger import RowLedger
from isohume.ingest.reading import FileReading
from isohume.ingest.recipe import Recipe
from isohume.ingest.source import SourceFile, open_source

MOST_PARTS = 150  # of a small picture
MOST_REJECTED = 60
MOST_CHANNELS = 6
MOST_COLUMNS = 24
ROWS = ("in_file", "kept", "flagged", "duplicate", "conflicting")


def understood(found: Preview, data: bytes) -> dict[str, Any]:
    """Return what a preview says about a file.

    Returns
    -------
    dict
        `files` (name, words, rows, rejected, logger, by, placed, notes, pictures, tentative, asks_logger),
        `questions`, `refused`; `head` with the first lines and `recipe` where its one table can be corrected.
    """
    clear = [
        _table(one.reading, logger=one.logger, by=one.recognised_by, notes=one.notes)
        | {
            "remembered": one.remembered,
            "placed": [[p.place, p.channel, p.n_readings, str(p.first), str(p.last)] for p in one.placed],
        }
        for one in found.files
    ]
    still_open = [
        _table(one.shown, logger=one.logger, by=one.recognised_by, notes=one.shown.notes)
        | {"placed": [], "tentative": not one.reading.is_settled, "unread": one.shown.table.is_empty()}
        for one in found.open
    ]
    document: dict[str, Any] = {
        "files": [*clear, *still_open],
        "questions": [
            {"file": file, "id": q.id, "text": q.text, "control": q.control,
             "choices": [[c.value, c.label] for c in q.choices]}
            for file, q in found.questions
        ],
        "refused": list(found.refused),
    }  # fmt: skip
    recipes = [*(one.reading.recipe for one in found.files), *(one.shown.recipe for one in found.open)]
    if len(recipes) == 1 and not found.refused:
        document |= _correctable(data, found.name, recipes[0])
    return document


def _table(reading: FileReading, *, logger: str, by: str, notes: tuple[str, ...]) -> dict[str, Any]:
    channels = reading.table["channel"].unique(maintain_order=True).to_list()[:MOST_CHANNELS]
    return {
        "name": reading.file,
        "words": reading.recipe.in_words(),
        "rows": rows(reading.ledger),
        "rejected": [
            [row.line, row.column, row.found, row.reason]
            for row in _first(reading.ledger.rejected_rows(), MOST_REJECTED)
        ],
        "logger": logger,
        "by": by,
        "notes": list(notes),
        "tentative": False,
        "pictures": [picture(reading.table, channel) for channel in channels],
    }


def _first(found: Any, most: int) -> list[Any]:
    return [row for _, row in zip(range(most), found, strict=False)]


def rows(ledger: RowLedger) -> dict[str, int]:
    """Return the account of a table's rows as numbers."""
    return {**{name: getattr(ledger, name) for name in ROWS}, "rejected": ledger.n_rejected}


def picture(table: pl.DataFrame, channel: str) -> dict[str, Any]:
    """Thin one channel for a small picture: smallest and largest value of equal stretches of time.

    Returns
    -------
    dict
        `channel`; `quantity` drawn and its `unit`; `first` and `last` reading (ISO, UTC); `parts`, one
        [smallest, largest] per stretch, null where it holds no reading; `mean`; `daily`, the median range of a day;
        `per_day`, readings in a usual day.
    """
    mine = table.filter(pl.col("channel") == channel).sort("time_utc")
    is_humid = mine["rh_percent"].null_count() < mine.height
    value = pl.col("rh_percent" if is_humid else "temperature_celsius")
    times = mine["time_utc"].to_physical()
    first, last = (int(times.to_numpy()[place]) for place in (0, -1)) if mine.height else (0, 0)
    # Two readings or more to a part: an empty part is then a gap, not the step of the logger.
    n_parts = min(MOST_PARTS, max(1, mine.height // 2))
    width = max(1, last - first) / n_parts
    part = ((pl.col("time_utc").to_physical() - first) / width).floor().clip(0, n_parts - 1).cast(pl.Int32)
    drawn = mine.select(part.alias("part"), value.alias("v"), pl.col("time_utc").dt.date().alias("day")).drop_nulls(
        "v"
    )
    extent = drawn.group_by("part").agg(pl.col("v").min().alias("low"), pl.col("v").max().alias("high"))
    of_part = {row[0]: [round(row[1], 2), round(row[2], 2)] for row in extent.iter_rows()}
    days = drawn.group_by("day").agg((pl.col("v").max() - pl.col("v").min()).alias("range"), pl.len().alias("n"))
    return {
        "channel": channel,
        "quantity": "relative humidity" if is_humid else "temperature",
        "unit": "%RH" if is_humid else "°C",
        "first": str(mine["time_utc"].min()),
        "last": str(mine["time_utc"].max()),
        "parts": [of_part.get(place, [None, None]) for place in range(n_parts)],
        "n": drawn.height,
        "mean": drawn["v"].mean(),
        "daily": days["range"].median(),
    }


def _correctable(data: bytes, name: str, recipe: Recipe) -> dict[str, Any]:
    member = next((one for one in open_source(data, name=name) if isinstance(one, SourceFile)), None)
    if member is None:
        return {}
    try:
        head = head_of(member, recipe)
    except LoggerFileError:
        return {}
    width = min(recipe.width, MOST_COLUMNS)
    return {
        "recipe": recipe.to_toml(),
        "head": [[number, [cell[:40] for cell in cells[:width]]] for number, cells in head],
        "first_row": recipe.first_row,
        "headings": [recipe.heading_of(column) for column in range(1, width + 1)],
        "roles": [role_of(recipe, column) for column in range(1, width + 1)],
        "long": bool(recipe.long.sensor or recipe.long.quantity),
        "order": recipe.time.order if recipe.time.form == "text" else "",
        "zone": recipe.time.zone,
        "decimal": recipe.decimal,
    }
