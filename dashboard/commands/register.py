"""Commands for the register: describe a collection, show, edit, export; documents, trail and due dates."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refuse, remark, result, table
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened

app = typer.Typer()
register_app = typer.Typer(help="The collection's frames, rooms, loggers, placements, calibrations, loans and users.")
app.add_typer(register_app, name="register")

KindArgument = Annotated[
    str, typer.Argument(help="Kind of record: frames, rooms, loggers, placements, events, …", metavar="KIND")
]
FieldsArgument = Annotated[
    list[str],
    typer.Argument(help="Fields such as id=F01 band=45-55; tables as panel.width_mm=320.", metavar="NAME=VALUE..."),
]


@register_app.command()
def load(
    source: Annotated[Path, typer.Argument(help="A description (.toml), or a table of frames (.csv, .xlsx).")],
    archive: ArchiveOption = None,
) -> None:
    """Load a collection: a description in TOML, or a table with the columns frame, painting, room and band.

    What the file holds is added or changed; nothing is removed. All of it, or nothing.

    Example: isohume register load register.toml
    """
    with opened(archive) as held:
        summary = held.load_register(source) if source.suffix.lower() == ".toml" else held.load_frames(source)
    result(f"{source.name}: {summary.report()}.")


@register_app.command()
def export(
    target: Annotated[
        Path | None, typer.Argument(help="File to write: .toml, or .csv / .xlsx for the frames.")
    ] = None,
    archive: ArchiveOption = None,
) -> None:
    """Write the description of the collection; loading it again gives the same register.

    Example: isohume register export register.toml
    """
    with opened(archive) as held:
        if target is not None and target.suffix.lower() in {".csv", ".xlsx"}:
            held.export_frames(target)
            return
        text = held.export_register()
    if target is None:
        result(text)
    else:
        target.write_text(text, encoding="utf-8")


@register_app.command()
def show(
    kind: KindArgument = "",
    where: Annotated[list[str] | None, typer.Option(help="Only records with this field, such as frame=F01.")] = None,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """List the records of a kind; without a kind, how many there are of each.

    Example: isohume register show events --where frame=F01
    """
    from isohume.ingest.archive.kinds import KINDS

    with opened(archive) as held:
        if not kind:
            counts = {name: len(held.records(name)) for name in KINDS}
            if json:
                json_result(counts)
            else:
                result(table(["kind", "records"], [[name, str(count)] for name, count in counts.items()]))
            return
        wanted = fields(where or [])
        records = [
            row for row in held.records(kind) if all(str(row.get(name)) == said for name, said in wanted.items())
        ]
    if json:
        json_result(records)
    elif not records:
        remark(f"No {kind}.")
    else:
        filled = [name for name in records[0] if any(row[name] not in (None, "", [], {}) for row in records)]
        result(table(filled, [[_cell(row[name]) for name in filled] for row in records]))


@register_app.command("set")
def set_record(kind: KindArgument, said: FieldsArgument, archive: ArchiveOption = None) -> None:
    """Add a record, or change the given fields of the one with the same key; an empty value clears a field.

    Example: isohume register set events frame=F01 time=2026-03-02T10:00 kind=reconditioned rh_percent=50 water_g=35
    """
    values = fields(said)
    with opened(archive) as held:
        merged = with_tables(values, held.record(kind, values))
        change = held.put(kind, merged)
    result(f"{kind}: {change}.")


@register_app.command()
def remove(kind: KindArgument, key: FieldsArgument, archive: ArchiveOption = None) -> None:
    """Remove one record; the audit trail keeps its last state.

    Example: isohume register remove events frame=F01 time=2026-03-02T10:00 kind=note
    """
    with opened(archive) as held:
        held.remove(kind, fields(key))
    result(f"{kind}: removed.")


@register_app.command()
def document(
    file: Annotated[Path, typer.Argument(help="Photograph or paper to keep.")],
    kind: Annotated[
        str, typer.Option(help="photograph, label, inscription, condition report, certificate, other.")
    ] = "photograph",
    frame: Annotated[str, typer.Option(help="Frame it is about.")] = "",
    logger: Annotated[str, typer.Option(help="Logger it is about.")] = "",
    taken: Annotated[str, typer.Option(help="Date or time it was made, such as 2026-03-01.")] = "",
    note: Annotated[str, typer.Option(help="What it shows.")] = "",
    archive: ArchiveOption = None,
) -> None:
    """Keep a photograph or paper, by the hash of its bytes.

    Example: isohume register document back.jpg --frame F01 --taken 2026-03-01
    """
    with opened(archive) as held:
        sha256 = held.keep_document(file, kind=kind, frame=frame, logger=logger, taken=taken, note=note)
    result(f"{file.name} kept as {sha256}.")


@register_app.command()
def history(
    kind: KindArgument = "",
    key: Annotated[str, typer.Option(help="Only of this record, such as F01.")] = "",
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Show the audit trail: who changed what, when; of everything, of a kind, or of one record.

    Example: isohume register history frames --key F01
    """
    with opened(archive) as held:
        lines = held.history(kind or None, key or None)
    if json:
        json_result(lines)
    else:
        rows = [
            [line["time_utc"][:19].replace("T", " "), line["by"], line["action"], line["kind"], line["key"]]
            for line in lines
        ]
        result(table(["time (UTC)", "by", "action", "kind", "record"], rows))


@register_app.command()
def calibrate(
    logger: Annotated[str, typer.Argument(help="Id of the logger.")],
    date: Annotated[str, typer.Option(help="Readings are corrected from this date or time on, such as 2026-03-01.")],
    salt: Annotated[
        list[str] | None,
        typer.Option(
            help="Reading over a saturated salt, settled: name, temperature [°C], as found [%RH].",
            metavar="NAME:CELSIUS:PERCENT",
        ),
    ] = None,
    beside: Annotated[str, typer.Option(help="Id of a better logger that lay beside it.", metavar="LOGGER")] = "",
    begin: Annotated[str, typer.Option("--from", help="Side by side from this date or time.")] = "",
    end: Annotated[str, typer.Option("--to", help="Side by side until this date or time.")] = "",
    channel: Annotated[str, typer.Option(help="Channel of the logger, where its files hold several.")] = "",
    beside_channel: Annotated[str, typer.Option(help="Channel of the better logger.")] = "",
    certificate: Annotated[str, typer.Option(help="Number of the certificate.")] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Say what was found, and record nothing.")] = False,
    archive: ArchiveOption = None,
) -> None:
    """Record a calibration from readings over saturated salts, or from a better logger beside it.

    One salt gives an offset, two or three give points with straight lines between them. Salts and their solutions
    belong in careful hands: follow their safety sheets. A correction known by itself is recorded with
    `isohume register set calibrations logger=L01 date=2026-03-01 offset_percent=0.4 certificate=K-26-004`.

    Example: isohume register calibrate L01 --date 2026-03-01 --salt "sodium chloride:21.5:76.9"
    """
    from isohume.ingest.archive.calibration import from_salts, parse_salt, record_of

    if bool(salt) == bool(beside):
        refuse("Expected either --salt, once or more, or --beside LOGGER with --from and --to.", code=ExitCode.USAGE)
    if beside and not (begin and end):
        refuse("Loggers side by side: --from and --to say when.", code=ExitCode.USAGE)
    with opened(archive) as held:
        if salt:
            proposal = from_salts([parse_salt(text) for text in salt])
        else:
            first, last = held.moment(begin), held.moment(end)
            proposal = held.compare_loggers(logger, beside, first, last, channel=channel, of=beside_channel)
        if not dry_run:
            held.put("calibrations", {**record_of(logger, channel, date, proposal), "certificate": certificate})
    result(proposal.text)


@register_app.command("due")
def due_dates(archive: ArchiveOption = None, json: Json = False) -> None:
    """List files that should have come, calibrations that have run out, and batteries.

    Example: isohume register due
    """
    with opened(archive) as held:
        listed = held.due()
    if json:
        json_result([one.document() for one in listed])
    else:
        result(
            table(
                ["overdue", "by", "what"],
                [["yes" if one.is_overdue else "no", f"{one.due:%Y-%m-%d}", one.text] for one in listed],
            )
        )


def fields(said: list[str]) -> dict[str, Any]:
    """Read NAME=VALUE texts."""
    values: dict[str, Any] = {}
    for text in said:
        name, sign, value = text.partition("=")
        if not (name and sign):
            refuse(f'Expected NAME=VALUE, such as id=F01, found "{text}".', code=ExitCode.USAGE)
        values[name] = value
    return values


def with_tables(values: dict[str, Any], now: dict[str, Any] | None) -> dict[str, Any]:
    """Turn `panel.width_mm=320` into an entry of the record's table, which keeps its other entries."""
    merged: dict[str, Any] = {}
    for name, value in values.items():
        table_name, dot, entry = name.partition(".")
        if not dot:
            merged[name] = value
            continue
        held = merged.setdefault(table_name, dict((now or {}).get(table_name) or {}))
        if value == "":
            held.pop(entry, None)
        else:
            held[entry] = _number_or_text(value)
    return merged


def _number_or_text(value: str) -> Any:
    if value in {"true", "false"}:
        return value == "true"
    try:
        return float(value)
    except ValueError:
        return value


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, dict):
        return ", ".join(f"{name} {item}" for name, item in value.items())
    if isinstance(value, list):
        return ", ".join(map(str, value))
    text = str(value)
    return text.removesuffix(":00.000000Z").replace("T", " ") if text.endswith(".000000Z") else text
