"""Times into UTC, repeats told from contradictions, flags beside the values, and the account closed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import polars as pl

from isohume.analysis.readings import TIME
from isohume.ingest.cells import LINE
from isohume.ingest.channels import CHANNEL, ROW, normalised
from isohume.ingest.clock import UtcTimes, to_utc
from isohume.ingest.clock_evidence import alone
from isohume.ingest.clock_order import backward_times, impossible_times, repeats
from isohume.ingest.clock_zone import ClockZone, offset_text
from isohume.ingest.flags import FLAGS, Flag
from isohume.ingest.ledger import REJECTED_SCHEMA, CellCounts, RowLedger
from isohume.ingest.lines import TextLines
from isohume.ingest.other_lines import Region, body_lines
from isohume.ingest.parse import LOCAL, SENSOR, SERIES, ParsedFile
from isohume.ingest.quality import flag_readings
from isohume.ingest.questions import Question
from isohume.ingest.recipe import WRITTEN_ZONE, LongLayout, Recipe
from isohume.ingest.told import Told


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledRows:
    """The readings of a file with flags, the closed account, and the recipe with the zone that the clock showed."""

    recipe: Recipe
    channels: tuple[str, ...]
    table: pl.DataFrame
    ledger: RowLedger
    cells: Mapping[str, Mapping[str, CellCounts]]
    notes: tuple[str, ...] = ()


def settle_rows(
    parsed: ParsedFile,
    recipe: Recipe,
    *,
    file: str,
    lines_in_file: int,
    now: datetime,
    zone_is_certain: bool,
    told: Told,
) -> SettledRows:
    """Bring parsed rows into UTC, flag them, and account for every one.

    Parameters
    ----------
    parsed : ParsedFile
        From `parse`.
    recipe : Recipe
        As it was parsed.
    file : str
        For the ledger.
    lines_in_file : int
        All lines of the file.
    now : datetime
        Readings dated after it are doubted.
    zone_is_certain : bool
        The zone was answered or is part of a recipe: a clock that did not follow it is said, and not corrected.
    told : Told
        What was answered about times.
    """
    times, recipe = _in_utc(parsed, recipe, zone_is_certain=zone_is_certain)
    restored = told.anchors.restore(times.utc, parsed.rows[LINE])
    wrong = impossible_times(restored.utc, now=now)
    notes = [*times.notes, *wrong.notes, *restored.notes]
    if times.zone_doubt:
        notes.append(times.zone_doubt)
    reasons = {**times.rejected, **wrong.rejected}
    rejected = parsed.rejected
    table = normalised(parsed, restored.utc, recipe)
    if reasons:
        rejected = _with_rejected(parsed, recipe, reasons)
        table = table.filter(~pl.col(ROW).is_in(list(reasons)))
    for rows, flag in ((wrong.doubtful, Flag.CLOCK_DOUBT), (restored.moved, Flag.RE_ANCHORED)):
        if rows is not None:
            marked = pl.Series(rows).gather(table[ROW]).cast(pl.UInt32) * flag.value
            table = table.with_columns(pl.col(FLAGS) | marked)
    fate = _Fate()
    channels = _channels_of(table, recipe)
    if len(channels) > 1 or not _runs_on(table):
        table, more = _with_clock_doubt(table)
        notes += more
        table, fate = _without_repeats(table, n_rows=parsed.rows.height)
        table = _in_order(table)
    table = flag_readings(told.placed.mark(table))
    zone = _clock_zone(parsed, recipe)
    notes += [*told.placed.questions(table, zone), *_clock_left(table, zone, times)]
    n_rows = parsed.rows.height - len(reasons)
    is_flagged = table[FLAGS] != 0
    one_reading_per_row = table.height == n_rows - fate.duplicate - fate.conflicting
    flagged = int(is_flagged.sum()) if one_reading_per_row else table[ROW].filter(is_flagged).n_unique()
    ledger = RowLedger(
        file=file,
        lines_in_file=lines_in_file,
        other_lines=parsed.other_lines,
        in_file=parsed.n_data_rows,
        kept=n_rows - fate.duplicate - fate.conflicting,
        flagged=flagged,
        duplicate=fate.duplicate,
        conflicting=fate.conflicting,
        rejected=rejected,
    )
    return SettledRows(
        recipe=recipe,
        table=table.drop(ROW),
        channels=channels,
        ledger=ledger,
        cells=_cells(parsed, recipe),
        notes=tuple(notes),
    )


def _to_utc(parsed: ParsedFile, recipe: Recipe) -> UtcTimes:
    local = parsed.rows[LOCAL]
    if parsed.is_utc:
        return UtcTimes(utc=local.dt.replace_time_zone("UTC"))
    # Each sensor, and each quantity in rows of its own, tells its own times in order.
    names = [name for name in (SENSOR, SERIES) if name in parsed.rows.columns]
    channel = parsed.rows.select(pl.concat_str(names, separator="\t")).to_series() if names else None
    return to_utc(local, _clock_zone(parsed, recipe), channel=channel)


def _clock_zone(parsed: ParsedFile, recipe: Recipe) -> ClockZone:
    """Return what the written times show; UTC where they carry their own offset and were read with it."""
    return ClockZone.parse("UTC" if parsed.is_utc or recipe.time.zone == WRITTEN_ZONE else recipe.time.zone)


def _clock_left(table: pl.DataFrame, zone: ClockZone, times: UtcTimes) -> list[str]:
    """Say of a clock whose rows at its changes tell nothing what the hours of its days tell."""
    if zone.fixed_us is not None or any(seen.behaviour != "cannot tell" for seen in times.changes):
        return []
    found = (
        alone(channel, stated=zone, site_zone=zone.name)
        for channel in table.partition_by(CHANNEL, maintain_order=True)
    )
    return [f"{finding.text} {finding.suggestion}" for finding in found if finding is not None]


def _in_utc(parsed: ParsedFile, recipe: Recipe, *, zone_is_certain: bool) -> tuple[UtcTimes, Recipe]:
    """Convert to UTC; a clock that provably never changed to summer time is read so, and that is said."""
    times = _to_utc(parsed, recipe)
    seen = {change.behaviour for change in times.changes}
    if zone_is_certain or times.zone_doubt is None or "followed" in seen:
        return times, recipe
    change = next(seen.change for seen in times.changes if seen.behaviour == "not followed")
    winter = offset_text(min(change.offset_before_us, change.offset_after_us))
    steady = recipe.in_zone(winter)
    found = "happens twice" if change.repeats else "does not exist"
    note = (
        f"The logger's clock never changes to summer time: {change.in_words()} {found} in {recipe.time.zone}, and the "
        f"file runs on there as on any day. It is read as UTC{winter} all year; if it showed another time, answer "
        "--answer time_zone=ZONE."
    )
    return replace(_to_utc(parsed, steady), notes=(note,)), steady


def _with_rejected(parsed: ParsedFile, recipe: Recipe, reasons: Mapping[int, str]) -> pl.DataFrame:
    rows = sorted(reasons)
    lines = parsed.rows[LINE].gather(rows)
    shown = parsed.rows[LOCAL].gather(rows).dt.strftime("%Y-%m-%d %H:%M:%S")
    more = pl.DataFrame(
        {
            "line": lines,
            "column": [recipe.heading_of(recipe.time.columns[0])] * len(rows),
            "found": shown,
            "reason": [reasons[row] for row in rows],
        },
        schema=REJECTED_SCHEMA,
    )
    return pl.concat([parsed.rejected, more]).sort("line")


@dataclass(frozen=True, slots=True)
class _Fate:
    """Rows of the file, none of whose readings stayed, by why."""

    duplicate: int = 0
    conflicting: int = 0


def _runs_on(table: pl.DataFrame) -> bool:
    """Whether the times of the one channel only increase, as those of nearly all files do."""
    steps = np.diff(table[TIME].to_physical().to_numpy())
    return bool((steps > 0).all())


def _channels_of(table: pl.DataFrame, recipe: Recipe) -> tuple[str, ...]:
    """Return the names of the channels, in the order in which they stand."""
    if recipe.long == LongLayout() and table.height and len({value.channel for value in recipe.values}) == 1:
        return (recipe.values[0].channel,)  # a million equal names need not be compared
    return tuple(table[CHANNEL].unique(maintain_order=True).to_list())


def _with_clock_doubt(table: pl.DataFrame) -> tuple[pl.DataFrame, tuple[str, ...]]:
    backward = backward_times(table)
    if backward.doubtful is None:
        return table, backward.notes
    doubt = pl.Series(backward.doubtful).cast(pl.UInt32) * Flag.CLOCK_DOUBT.value
    return table.with_columns(pl.col(FLAGS) | doubt), backward.notes


def _without_repeats(table: pl.DataFrame, *, n_rows: int) -> tuple[pl.DataFrame, _Fate]:
    found = repeats(table)
    if not (found.duplicate.any() or found.conflicting.any()):
        return table, _Fate()
    stays = ~(found.duplicate | found.conflicting)
    row = table[ROW].to_numpy()
    kept = np.zeros(n_rows, dtype=bool)
    kept[row[stays]] = True
    contradicts = np.zeros(n_rows, dtype=bool)
    contradicts[row[found.conflicting]] = True
    present = np.zeros(n_rows, dtype=bool)
    present[row] = True
    conflicting = int((present & ~kept & contradicts).sum())
    duplicate = int((present & ~kept & ~contradicts).sum())
    contested = pl.Series(found.contested).cast(pl.UInt32) * Flag.CONFLICTING_TIME.value
    return table.with_columns(pl.col(FLAGS) | contested).filter(pl.Series(stays)), _Fate(duplicate, conflicting)


def _in_order(table: pl.DataFrame) -> pl.DataFrame:
    names = table[CHANNEL].unique(maintain_order=True)
    if len(names) <= 1:
        return table if table[TIME].is_sorted() else table.sort(TIME, maintain_order=True)
    order = pl.col(CHANNEL).replace_strict(
        names, pl.Series(range(len(names)), dtype=pl.UInt32), return_dtype=pl.UInt32
    )
    return table.sort(order, TIME, maintain_order=True)


def _cells(parsed: ParsedFile, recipe: Recipe) -> dict[str, dict[str, CellCounts]]:
    counts: dict[str, dict[str, CellCounts]] = {}
    for value, count in zip(recipe.values, parsed.cells, strict=True):
        counts.setdefault(value.channel, {})[value.quantity] = count
    return counts


def unsettled_ledger(lines: TextLines, region: Region, questions: Sequence[Question], *, file: str) -> RowLedger:
    """Account for a file that is not settled: every written line below the heading is a row not read."""
    body, n_blank = body_lines(lines, region)
    reason = f"not read: the question {questions[0].id} is open"
    rejected = body.select(
        pl.col(LINE).alias("line"),
        pl.lit("").alias("column"),
        pl.col("found"),
        pl.lit(reason).alias("reason"),
    ).cast(REJECTED_SCHEMA)
    other = Counter(region.other_lines)
    other["blank"] += n_blank
    return RowLedger(
        file=file,
        lines_in_file=lines.n_lines,
        other_lines={kind: number for kind, number in other.items() if number},
        in_file=rejected.height,
        kept=0,
        flagged=0,
        duplicate=0,
        conflicting=0,
        rejected=rejected,
    )
