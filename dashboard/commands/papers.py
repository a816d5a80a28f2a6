"""Commands for papers: the evidence pack and its check."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, remark, result
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened

if TYPE_CHECKING:
    import pandas as pd

    from isohume.dashboard.papers.typeset import Paper

app = typer.Typer()

PaperOption = Annotated[str, typer.Option("--paper", help="Size of the pages: a4 or us-letter.", metavar="SIZE")]


@app.command()
def evidence(
    frame: Annotated[str, typer.Argument(help="Id of the frame.", metavar="FRAME")],
    start: Annotated[
        str, typer.Option("--from", help="Start of the period: date (from midnight) or time, in the site's zone.")
    ],
    end: Annotated[
        str, typer.Option("--to", help="End of the period: date (that day included) or time, in the site's zone.")
    ],
    terms: Annotated[
        list[str] | None,
        typer.Option(
            help="Climate terms by name: of the register, or published. Repeat for several. "
            "Default: those agreed for the frame."
        ),
    ] = None,
    air: Annotated[
        str, typer.Option(help="Which air published terms speak of: room or inside.", metavar="room|inside")
    ] = "room",
    out: Annotated[Path | None, typer.Option(help="The pack (.zip).", metavar="FILE")] = None,
    paper: PaperOption = "a4",
    archive: ArchiveOption = None,
) -> None:
    """Write the evidence pack of one frame and period: paper, readings, findings, manifest and signature.

    The signing key is made on first use and kept beside the register; its fingerprint is printed.

    Example: isohume evidence F10 --from 2026-08-04 --to 2026-11-15 --terms "Loan 7" --out loan7.zip
    """
    from isohume.dashboard.papers.evidence import EvidenceError
    from isohume.dashboard.papers.issue import issue_evidence
    from isohume.dashboard.papers.terms_chosen import chosen_terms
    from isohume.ingest.archive.errors import RegisterError

    size = paper_size(paper)
    with opened(archive) as held, refusals(EvidenceError, RegisterError):
        zone = site_zone(held.records("collection"))
        period = moment(start, zone), moment(end, zone, is_end=True)
        try:
            judged = chosen_terms(held, frame, terms, air=air)
        except (KeyError, ValueError) as error:
            refuse(str(error.args[0]), code=ExitCode.USAGE)
        issued = issue_evidence(held, frame, start=period[0], end=period[1], terms=judged, paper=size)
    target = out or Path(issued.name)
    write(target, issued.data)
    result(str(target))
    remark(f"Signed by the key {issued.fingerprint}. Give the lender this fingerprint by another way than the pack.")


@app.command()
def verify(
    pack: Annotated[Path, typer.Argument(help="An evidence pack (.zip).", metavar="PACK")],
    key: Annotated[
        str | None,
        typer.Option(
            help="Fingerprint of the key it must be signed with, as the sender gave it.", metavar="FINGERPRINT"
        ),
    ] = None,
    json: Json = False,
) -> None:
    """Check an evidence pack: hashes, signature, every figure computed again. The verdict is the first line.

    Needs no archive. Exit code 0: all agrees; 1: something does not; 3: it is no evidence pack.

    Example: isohume verify loan7.zip --key "2d82 b7ad 144b 286c c233 8be9 8c82 0031"
    """
    from dataclasses import asdict

    from isohume.dashboard.papers.pack import PackError
    from isohume.dashboard.papers.verify import verify_pack

    with refusals(PackError):
        try:
            data = pack.read_bytes()
        except OSError as error:
            refuse(f"{pack}: the file cannot be read ({error.strerror}). Give the pack as it was sent.")
        try:
            found = verify_pack(data, key=key)
        except ValueError as error:
            refuse(str(error), code=ExitCode.USAGE)
    if json:
        json_result(asdict(found))
    else:
        result(found.report())
    if not found.agrees:
        raise typer.Exit(ExitCode.SOME_REFUSED)


def paper_size(text: str) -> Paper:
    """Return a size of paper, or refuse one we do not have."""
    from isohume.dashboard.papers.typeset import PAPERS

    size = next((size for size in PAPERS if text.lower() in {size, size.removeprefix("us-")}), None)
    if size is None:
        refuse(f'Paper "{text}": expected {" or ".join(PAPERS)}.', code=ExitCode.USAGE)
    return size


def site_zone(collection: list[dict[str, object]]) -> str:
    """Return the site's zone."""
    return str(collection[0]["time_zone"]) if collection else "UTC"


def moment(text: str, zone: str, *, is_end: bool = False) -> pd.Timestamp:
    """Read a date or time; without an offset in the site's zone, and a date that ends a period with its whole day."""
    import datetime as dt

    from isohume.dashboard.moments import moment_of

    try:
        if is_end and len(text) == len("2026-11-15"):
            text = (dt.date.fromisoformat(text) + dt.timedelta(days=1)).isoformat()
        return moment_of(text, zone)
    except ValueError as error:
        refuse(str(error), code=ExitCode.USAGE)


def write(path: Path, data: bytes) -> None:
    """Write a file, or say why it cannot be written."""
    try:
        path.write_bytes(data)
    except OSError as error:
        refuse(f"{path}: the file cannot be written ({error.strerror}). Name another with --out.")
