"""The accuracy tables as they were committed, beside what each method was to reach."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import cast

from isohume.dashboard.exports import Cell
from isohume.dashboard.formats import number
from isohume.dashboard.methods_text.published import (
    Aim,
    Column,
    PublishedTable,
    headings_of,
    is_packaged,
    provenance,
    rows_of,
)

Row = Mapping[str, float | str | None]
Shown = Mapping[str, Column]  # column of the file → as it is shown
PERCENT = "%"

EXCHANGE: Shown = {
    "days": Column(heading="Record [days]", digits=0),
    "half_time_from": Column(heading="Half-time from [days]", digits=0),
    "half_time_to": Column(heading="to [days]", digits=0),
    "frames": Column(heading="Frames", digits=0),
    "determined": Column(heading="Determined", digits=0),
    "error_median_percent": Column(heading="Error, median [%]", digits=1),
    "error_p90_percent": Column(heading="Error, nine in ten within [%]", digits=1),
    "coverage_percent": Column(heading="Interval holds the truth [%]", digits=1),
    "coverage_information_matrix_percent": Column(heading="Information matrix alone [%]", digits=1),
    "coverage_of_bounds_percent": Column(heading="Bounds hold, where not determined [%]", digits=1),
    "one_reservoir_bias_percent": Column(heading="Bias of one store alone [%]", digits=1),
}
SEAL_FOUND: Shown = {
    "case": Column(heading="Leak that grew"),
    "frames": Column(heading="Frames", digits=0),
    "percent": Column(heading="Found [%]", digits=1),
    "percent_low": Column(heading="95 % interval from [%]", digits=1),
    "percent_high": Column(heading="to [%]", digits=1),
    "date_error_days_median": Column(heading="Date off by, median [days]", digits=1),
    "date_error_days_p90": Column(heading="nine in ten within [days]", digits=1),
    "interval_holds_percent": Column(heading="Interval holds the factor [%]", digits=1),
}
SEAL_ACCUSED: Shown = {
    "case": Column(heading="Sound frame in which"),
    "frames": Column(heading="Frame-years", digits=0),
    "scans": Column(heading="Scans", digits=0),
    "percent": Column(heading="Years with a false accusation [%]", digits=1),
    "percent_low": Column(heading="95 % interval from [%]", digits=1),
    "percent_high": Column(heading="to [%]", digits=1),
    "textbook_percent": Column(heading="By the textbook threshold alone [%]", digits=1),
}
FORECAST: Shown = {
    "record_days": Column(heading="Record of the frame [days]", digits=0),
    "room_record_days": Column(heading="of the room [days]", digits=0),
    "lead_days": Column(heading="Ahead [days]", digits=0),
    "determined": Column(heading="Frames", digits=0),
    "in_fan_percent": Column(heading="Later readings in the 80 % fan [%]", digits=1),
    "in_fan_percent_low": Column(heading="95 % interval from [%]", digits=1),
    "in_fan_percent_high": Column(heading="to [%]", digits=1),
    "fan_width_percent_rh": Column(heading="Width of the fan, mean [%RH]", digits=1),
    "median_error_percent_rh": Column(heading="Error of the median course [%RH]", digits=1),
}
LEAVE_BY: Shown = {
    "record_days": Column(heading="Record of the frame [days]", digits=0),
    "room_record_days": Column(heading="of the room [days]", digits=0),
    "left_within_120_days": Column(heading="Frames that left within 120 days", digits=0),
    "leave_by_error_days_median": Column(heading="Leave-by off by, median [days]", digits=1),
    "leave_by_error_days_low": Column(heading="95 % interval from [days]", digits=1),
    "leave_by_error_days_high": Column(heading="to [days]", digits=1),
    "earliest_before_truth_percent": Column(heading="Earliest plausible date not after the truth [%]", digits=1),
}
ESTIMATE: Shown = {
    "half_time_from": Column(heading="Half-time from"),
    "strip_readings": Column(heading="Strip readings in 13 months", digits=0),
    "frames": Column(heading="Frames", digits=0),
    "rmse_percent_rh": Column(heading="Error, root mean square [%RH]", digits=2),
    "in_interval_percent": Column(heading="Days within the 95 % interval [%]", digits=1),
    "in_interval_percent_low": Column(heading="95 % interval from [%]", digits=1),
    "in_interval_percent_high": Column(heading="to [%]", digits=1),
    "interval_width_percent_rh": Column(heading="Width of the interval, mean [%RH]", digits=1),
}
WHOLE_RANGE = (3.0, 300.0)  # half-times of the row over all classes [days]


def accuracy_tables() -> tuple[PublishedTable, ...]:
    """Return every accuracy table that is packaged."""
    found = [
        _table("exchange", "exchange_accuracy", EXCHANGE, "Half-time: error and coverage, sound loggers", _sound),
        _table(
            "exchange_stressed",
            "exchange_accuracy",
            EXCHANGE,
            "Half-time in the stressed suite: gain error, microclimate, unrecorded opening, drifting sensors",
            lambda row: not _sound(row),
        ),
        _table("seal_found", "seal_accuracy", SEAL_FOUND, "Seal check: leaks that grew, and were to be found", _found),
        _table(
            "seal_accused",
            "seal_accuracy",
            SEAL_ACCUSED,
            "Seal check: sound frames scanned every month of a year",
            lambda row: not _found(row),
        ),
        _table("forecast", "forecast_accuracy", FORECAST, "Forecast: how often the fan held what came"),
        _table(
            "leave_by",
            "forecast_accuracy",
            LEAVE_BY,
            "Leave-by date against the simulated truth, band of ±5 %RH about the last week",
            lambda row: row["lead_days"] == rows_of("forecast_accuracy")[0]["lead_days"],
        ),
        _table("estimate", "estimate_accuracy", ESTIMATE, "Estimate without a logger inside"),
        _other("step", "step_accuracy", "Half-time from a step"),
        _other("drift", "drift_accuracy", "Slope of the inside humidity"),
        _other("construction", "construction_accuracy", "Half-time from materials"),
    ]
    return tuple(table for table in found if table is not None)


def _table(
    name: str, file: str, shown: Shown, caption: str, wanted: Callable[[Row], bool] = lambda _row: True
) -> PublishedTable | None:
    if not is_packaged(file):
        return None
    rows = [row for row in rows_of(file) if wanted(row)]
    return PublishedTable(
        name=name,
        caption=caption,
        columns=tuple(shown.values()),
        rows=tuple(tuple(cast("Cell", row[key]) for key in shown) for row in rows),
        made_by=provenance(file),
        aims=tuple(AIMS[name](rows)) if name in AIMS else (),
        emphasised=tuple(place for place, row in enumerate(rows) if _whole(row)),
    )


def _other(name: str, file: str, caption: str) -> PublishedTable | None:
    """Show a table by the columns of its file."""
    if not is_packaged(file):
        return None
    rows, headings = rows_of(file), headings_of(file)
    numeric = [all(not isinstance(row[key], str) for row in rows) for key in headings]
    return PublishedTable(
        name=name,
        caption=caption,
        columns=tuple(
            Column(heading=key.replace("_percent", " [%]").replace("_", " ").capitalize(), digits=1 if plain else None)
            for key, plain in zip(headings, numeric, strict=True)
        ),
        rows=tuple(tuple(cast("Cell", row[key]) for key in headings) for row in rows),
        made_by=provenance(file),
    )


def _sound(row: Row) -> bool:
    return row["suite"] == "sound"


def _whole(row: Row) -> bool:
    """Tell whether a row is over all half-times."""
    return (row.get("half_time_from"), row.get("half_time_to")) == WHOLE_RANGE


def _found(row: Row) -> bool:
    return row["counted"] == "found"


def _figure(row: Row, key: str) -> float:
    value = row[key]
    return value if isinstance(value, float) else float("nan")


def _at_most(text: str, row: Row, key: str, bar: float, unit: str) -> Aim:
    return Aim(text=f"{text} at most {bar:g} {unit}", reached=_reached(row, key, unit), met=_figure(row, key) <= bar)


def _at_least(text: str, row: Row, key: str, bar: float) -> Aim:
    return Aim(text=f"{text} at least {bar:g} %", reached=_reached(row, key), met=_figure(row, key) >= bar)


def _between(text: str, row: Row, key: str, low: float, high: float) -> Aim:
    met = low <= _figure(row, key) <= high
    return Aim(text=f"{text} {low:g}–{high:g} %", reached=_reached(row, key), met=met)


def _reached(row: Row, key: str, unit: str = PERCENT) -> str:
    """Write what was found, with its 95 % interval where the table has one."""
    found = number(_figure(row, key), 1, unit)
    stem = key.removesuffix("_median")
    low, high = row.get(f"{stem}_low"), row.get(f"{stem}_high")
    if not isinstance(low, float) or not isinstance(high, float):
        return found
    return f"{found} ({number(low, 1)}–{number(high, 1)})"


def _exchange_aims(rows: Sequence[Row]) -> list[Aim]:
    whole = {row["days"]: row for row in rows if _whole(row)}
    aims = [
        _at_most(f"Median error, {days:g} days:", whole[days], "error_median_percent", bar, PERCENT)
        for days, bar in ((395.0, 3.0), (60.0, 7.0))
        if days in whole
    ]
    if 60.0 in whole:
        aims.append(_at_most("Nine in ten within, 60 days:", whole[60.0], "error_p90_percent", 25.0, PERCENT))
    return aims + [
        _between(f"Interval holds, {days:g} days:", row, "coverage_percent", 90.0, 98.0) for days, row in whole.items()
    ]


def _seal_found_aims(rows: Sequence[Row]) -> list[Aim]:
    aims = []
    for row in rows:
        case = str(row["case"])
        least = 90.0 if case.startswith("×3 after 14") else 80.0
        if not case.startswith("×3 after 10"):
            aims.append(_at_least(f"{case}: found", row, "percent", least))
        aims.append(_at_most(f"{case}: date off by", row, "date_error_days_median", 10.0, "days"))
    return aims


def _seal_accused_aims(rows: Sequence[Row]) -> list[Aim]:
    return [_at_most(f"{row['case']}: accused", row, "percent", 5.0, PERCENT) for row in rows]


def _forecast_aims(rows: Sequence[Row]) -> list[Aim]:
    return [
        _between(
            f"{_lengths(row)}, {_figure(row, 'lead_days'):.0f} days ahead: fan holds", row, "in_fan_percent", 74, 86
        )
        for row in rows
    ]


def _leave_by_aims(rows: Sequence[Row]) -> list[Aim]:
    return [_at_most(f"{_lengths(row)}: off by", row, "leave_by_error_days_median", 10.0, "days") for row in rows]


def _lengths(row: Row) -> str:
    return f"{_figure(row, 'record_days'):.0f} days of the frame, {_figure(row, 'room_record_days'):.0f} of the room"


AIMS: dict[str, Callable[[Sequence[Row]], list[Aim]]] = {
    "exchange": _exchange_aims,
    "seal_found": _seal_found_aims,
    "seal_accused": _seal_accused_aims,
    "forecast": _forecast_aims,
    "leave_by": _leave_by_aims,
}
