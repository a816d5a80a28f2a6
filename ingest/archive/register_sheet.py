"""Frames from a spreadsheet: four columns suffice (frame, painting, room, band); and the same table written out."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import polars as pl
import xlsxwriter
from sqlalchemy.orm import Session

from isohume.ingest.archive.editing import Editor, records
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.holdings import Holdings
from isohume.ingest.archive.register_toml import LoadSummary

NEEDED = ("frame", "painting", "room", "band")
# Column of the sheet -> where it goes: a field of the frame, or of its panel or construction.
FRAME_COLUMNS = {
    "frame": "id", "painting": "painting", "band": "band", "conditioned_percent": "conditioned_percent",
    "conditioned_on": "conditioned_on", "owner": "owner", "opened_by": "opened_by", "lifecycle": "lifecycle",
    "note": "note",
}  # fmt: skip
PANEL_COLUMNS = ("support", "species", "cut", "width_mm", "height_mm", "thickness_mm", "mass_kg", "coating")
CONSTRUCTION_COLUMNS = ("glazing", "spacer", "buffer", "barrier", "backing", "air_volume_litres", "board_kg")
NUMBERS = ("width_mm", "height_mm", "thickness_mm", "mass_kg", "air_volume_litres", "board_kg")
KNOWN = (*FRAME_COLUMNS, "room", "since", *PANEL_COLUMNS, *CONSTRUCTION_COLUMNS)
# A cell that begins so could run as a formula where the table is opened.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def read_sheet(path: Path) -> pl.DataFrame:
    """Read a .csv or .xlsx of frames as texts.

    Raises
    ------
    RegisterError
        It is neither, or a needed column is missing.
    """
    try:
        if path.suffix.lower() == ".xlsx":
            table = pl.read_excel(path, engine="calamine", infer_schema_length=0)
        else:
            data = path.read_bytes()
            text = data.decode("utf-8-sig") if _is_utf8(data) else data.decode("cp1252")
            head = text.split("\n", 1)[0]
            separator = max(",;\t", key=head.count)
            table = pl.read_csv(io.StringIO(text), separator=separator, infer_schema=False)
    except (OSError, pl.exceptions.PolarsError, ValueError) as error:
        raise _refusal(path.name, f'"{error}"', "a .csv or .xlsx table of frames") from error
    table = table.rename({name: name.strip().lower().replace(" ", "_") for name in table.columns})
    missing = [name for name in NEEDED if name not in table.columns]
    if missing:
        raise _refusal(path.name, f"no column {', '.join(missing)}", f"the columns {', '.join(NEEDED)}")
    unknown = [name for name in table.columns if name not in KNOWN]
    if unknown:
        raise _refusal(path.name, f"column {', '.join(unknown)}", f"only {', '.join(KNOWN)}")
    return table


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return False
    return True


def load_sheet(holdings: Holdings, session: Session, table: pl.DataFrame, *, place: str) -> LoadSummary:
    """Add the frames of a sheet, with rooms where they are new.

    A frame that hangs in another room than before moves there at `since`, or today.

    Raises
    ------
    RegisterError
        A row is not what a frame requires; the register is unchanged.
    """
    rooms = {room["id"] for room in records(session, "rooms")}
    known = {row["id"]: row for row in records(session, "frames")}
    hangs = {row["frame"]: row["room"] for row in records(session, "locations")}  # in order of time: the last stays
    today = holdings.now().astimezone(holdings.time_zone(session)).date()
    changes: list[str] = []
    editor = Editor(holdings, session, place=place)
    for number, row in enumerate(table.iter_rows(named=True), start=2):
        cells = {name: plain(value.strip()) for name, value in row.items() if isinstance(value, str) and value.strip()}
        if not cells:
            continue
        editor.place = f"{place}, row {number}"
        frame, room = cells.get("frame", ""), cells.get("room", "")
        if room and room not in rooms:
            changes.append(editor.put("rooms", {"id": room, "name": room}))
            rooms.add(room)
        changes.append(editor.put("frames", _frame(cells, f"{place}, row {number}", known.get(frame, {}))))
        if room and hangs.get(frame) != room:
            since = cells.get("since") or today
            changes.append(editor.put("locations", {"frame": frame, "room": room, "from": since}))
            hangs[frame] = room
    editor.place = place
    editor.finish()
    return LoadSummary(changes.count("added"), changes.count("changed"), changes.count("unchanged"))


def _frame(cells: Mapping[str, str], place: str, before: Mapping[str, Any]) -> dict[str, Any]:
    values: dict[str, Any] = {field: cells[name] for name, field in FRAME_COLUMNS.items() if name in cells}
    for field, columns in (("panel", PANEL_COLUMNS), ("construction", CONSTRUCTION_COLUMNS)):
        held = {name: _number(cells[name], name, place) if name in NUMBERS else cells[name]
                for name in columns if name in cells}  # fmt: skip
        if held:
            values[field] = {**(before.get(field) or {}), **held}  # a sheet knows some columns, a record may know more
    return values


def _number(text: str, name: str, place: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise _refusal(place, f'{name} "{text}"', "a number") from None


def sheet(session: Session) -> pl.DataFrame:
    """Return the frames as a table in the form `load_sheet` reads."""
    hangs = {row["frame"]: (row["room"], row["from"]) for row in records(session, "locations")}
    rows = [_row(facts, *hangs.get(facts["id"], ("", ""))) for facts in records(session, "frames")]
    return pl.DataFrame(rows, schema=dict.fromkeys(KNOWN, pl.String))


def _row(facts: Mapping[str, Any], room: str, since: str) -> dict[str, str]:
    row = {name: facts[field] for name, field in FRAME_COLUMNS.items()}
    row["band"] = "-".join(f"{limit:g}" for limit in facts["band"] or [])
    row |= {name: (facts["panel"] or {}).get(name) for name in PANEL_COLUMNS}
    row |= {name: (facts["construction"] or {}).get(name) for name in CONSTRUCTION_COLUMNS}
    row |= {"room": room, "since": since}
    return {name: "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
            for name, value in row.items()}  # fmt: skip


def write_sheet(table: pl.DataFrame, path: Path) -> None:
    """Write a table as .xlsx or .csv; in a .csv, no cell can run as a formula."""
    if path.suffix.lower() == ".xlsx":
        # Texts stay texts: nothing in a painting's title is a formula or a link.
        with xlsxwriter.Workbook(path, {"strings_to_formulas": False, "strings_to_urls": False}) as book:
            table.write_excel(book, worksheet="frames")
        return
    path.write_text(table.with_columns(pl.all().map_elements(harmless, return_dtype=pl.String)).write_csv(),
                    encoding="utf-8-sig")  # fmt: skip


def harmless(text: str) -> str:
    """Return a cell that no spreadsheet program takes for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def plain(text: str) -> str:
    """Return what a cell said before `harmless`."""
    return text[1:] if text[:1] == "'" and text[1:].startswith(FORMULA_STARTS) else text


def _refusal(place: str, found: str, expected: str) -> RegisterError:
    return RegisterError(place, found=found, expected=expected, remedy="Correct it there; the register is unchanged.")
