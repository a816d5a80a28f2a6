"""Labels to print and stick on: for the backs of frames, and for loggers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import pandas as pd

from isohume.analysis import phrases
from isohume.dashboard import formats
from isohume.dashboard.papers.qr import frame_qr
from isohume.dashboard.papers.typeset import Paper, pdf
from isohume.dashboard.papers.words import words
from isohume.ingest.archive.archive import Archive

LabelKind = Literal["frames", "loggers"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet of labels: size of one [mm], how many, and the margins around them [mm]."""

    columns: int
    rows: int
    width: float
    height: float
    top: float
    side: float


# Common practice: sheets of 24 labels of 70 × 37 mm on A4, of 30 labels of 2⅝ × 1 inch on US Letter.
SHEETS: dict[Paper, Sheet] = {
    "a4": Sheet(columns=3, rows=8, width=70.0, height=37.0, top=0.5, side=0.0),
    "us-letter": Sheet(columns=3, rows=10, width=69.85, height=25.4, top=12.7, side=3.2),
}


def label_sheets(
    archive: Archive, kind: LabelKind, *, ids: Sequence[str] = (), address: str = "", paper: Paper = "a4"
) -> bytes:
    """Set labels for frames or loggers.

    Parameters
    ----------
    archive : Archive
        Open.
    kind : {"frames", "loggers"}
    ids : sequence of str
        Which ones; all where none is given.
    address : str
        Of the server whose page the code of a frame leads to; "" for labels without a code.
    paper : {"a4", "us-letter"}

    Raises
    ------
    LookupError
        One of the ids is not in the register, or there is nothing to label.
    """
    known = {row["id"]: row for row in archive.records(kind)}
    missing = [name for name in ids if name not in known]
    if missing:
        raise LookupError(f'The register holds no {kind[:-1]} "{missing[0]}". It holds: {", ".join(known)}.')
    chosen = [known[name] for name in ids] if ids else [row for row in known.values() if not row.get("retired")]
    if not chosen:
        raise LookupError(f"The register holds no {kind}. Add them first.")
    zone = str(archive.records("collection")[0]["time_zone"])
    labels = (
        [_frame_label(row, zone, address) for row in chosen]
        if kind == "frames"
        else _logger_labels(archive, chosen, zone)
    )
    sheet = SHEETS[paper]
    size = {name: getattr(sheet, name) for name in ("columns", "rows", "width", "height", "top", "side")}
    collection = str(archive.records("collection")[0]["name"])
    data = {"language": words("labels").language, "title": words("labels")("title"), "paper": paper,
            "collection": collection, "sheet": size, "labels": labels}  # fmt: skip
    return pdf("labels", data, dated=archive.as_of() or pd.Timestamp(0, tz="UTC"))


def _frame_label(row: dict[str, Any], zone: str, address: str) -> dict[str, Any]:
    say = words("labels")
    lines = []
    if row["band"]:
        lines.append(say("band", band=phrases.band((row["band"][0], row["band"][1]))))
    if row["conditioned_percent"] is not None:
        on = formats.date(_time(row["conditioned_on"]), zone) if row["conditioned_on"] else ""
        lines.append(say("conditioned", rh=f"{row['conditioned_percent']:g}", date=f", {on}" if on else ""))
    if row["opened_by"]:
        lines.append(say("opened_by", who=row["opened_by"]))
    return {"id": row["id"], "name": row["painting"], "lines": lines, "qr": frame_qr(address, row["id"])["svg"]}


def _logger_labels(archive: Archive, rows: Sequence[dict[str, Any]], zone: str) -> list[dict[str, Any]]:
    say = words("labels")
    newest: dict[str, dict[str, Any]] = {}
    for one in archive.records("calibrations"):  # in order of date
        newest[one["logger"]] = one
    found = []
    for row in rows:
        calibration: dict[str, Any] | None = newest.get(row["id"])
        if calibration is None:
            lines = [say("never_calibrated")]
        else:
            number = f", {calibration['certificate']}" if calibration["certificate"] else ""
            lines = [say("calibrated", date=formats.date(_time(calibration["date"]), zone), certificate=number)]
        known = (None if calibration is None else calibration["uncertainty_percent"], row["uncertainty_percent"])
        uncertainty = next((value for value in known if value is not None), None)
        if uncertainty is not None:
            lines.append(say("uncertainty", value=f"{uncertainty:g}"))
        if row["time_zone"]:
            lines.append(say("clock", zone=row["time_zone"]))
        found.append({"id": row["id"], "name": row["serial"], "lines": lines, "qr": ""})
    return found


def _time(text: str) -> pd.Timestamp:
    return pd.Timestamp(text).tz_convert("UTC")
