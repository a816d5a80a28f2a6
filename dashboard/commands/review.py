"""Commands for papers of the house: the monthly review, frame sheets, labels, and the sheet for a failed plant."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, refusals, refuse, remark, result
from isohume.dashboard.commands.open_archive import ArchiveOption, opened, progress_on_stderr
from isohume.dashboard.commands.papers import PaperOption, paper_size, write

app = typer.Typer()

AddressOption = Annotated[
    str,
    typer.Option(help="Address of the server that the QR codes lead to; without it there is no code.", metavar="URL"),
]


@app.command()
def review(
    month: Annotated[str, typer.Argument(help="The month, such as 2026-10.", metavar="MONTH")],
    out: Annotated[Path | None, typer.Option(help="The paper (.pdf); tables go beside it.", metavar="FILE")] = None,
    tables: Annotated[bool, typer.Option(help="Write the tables as .csv and .xlsx beside the paper.")] = True,
    paper: PaperOption = "a4",
    archive: ArchiveOption = None,
) -> None:
    """Write the review of a month: the collection on one page, then a block for every frame, files and sign-off.

    A month that was signed is written with the figures it was signed with, and its addenda.
    The first review of a month computes every frame (seconds each, progress on the terminal); it is kept, and the same
    month again takes a moment. Humidity in %RH, times in the site's zone; times of the tables in UTC.

    Example: isohume review 2026-10 --out review_2026-10.pdf
    """
    import os

    from isohume.dashboard.exports import csv_bytes, xlsx_bytes
    from isohume.dashboard.papers.review import ReviewError, month_review, signed_review
    from isohume.dashboard.papers.review_differences import amendments
    from isohume.dashboard.papers.review_paper import review_pdf
    from isohume.dashboard.papers.review_tables import review_tables

    size = paper_size(paper)
    with opened(archive) as held, refusals(ReviewError, code=ExitCode.USAGE):
        tell = progress_on_stderr("frame")
        found = signed_review(held, month) or month_review(held, month, progress=tell, n_processes=os.cpu_count() or 1)
        amended = amendments(held, month)
    if not found.frames:
        refuse("The archive holds no frame. Describe the collection first (`isohume register load`).")
    target = out or Path(f"review_{month}.pdf")
    write(target, review_pdf(found, paper=size, amendments=amended))
    result(str(target))
    if tables:
        sheets = review_tables(found)
        write(target.with_suffix(".csv"), csv_bytes(*sheets["frames"]))
        write(target.with_suffix(".xlsx"), xlsx_bytes(sheets))
        remark(f"Tables: {target.with_suffix('.csv')}, {target.with_suffix('.xlsx')}")


@app.command()
def sheet(
    frame: Annotated[str, typer.Argument(help="Id of the frame.", metavar="FRAME")],
    out: Annotated[Path | None, typer.Option(help="The paper (.pdf).", metavar="FILE")] = None,
    address: AddressOption = "",
    paper: PaperOption = "a4",
    archive: ArchiveOption = None,
) -> None:
    """Write the sheet of one frame: one page for the file, with a QR code to its page where a server is named.

    Example: isohume sheet F05 --address https://frames.museum.example
    """
    from isohume.dashboard.papers.issue import safe_name
    from isohume.dashboard.papers.qr import checked_address
    from isohume.dashboard.papers.sheet import frame_sheet
    from isohume.ingest.archive.errors import RegisterError

    size = paper_size(paper)
    with refusals(ValueError, code=ExitCode.USAGE):
        server = checked_address(address)
    with opened(archive) as held, refusals(RegisterError):
        data = frame_sheet(held, frame, address=server, paper=size)
    target = out or Path(f"sheet_{safe_name(frame)}.pdf")
    write(target, data)
    result(str(target))


@app.command()
def labels(
    kind: Annotated[str, typer.Argument(help="What to label: frames or loggers.", metavar="frames|loggers")],
    ids: Annotated[list[str] | None, typer.Argument(help="Which ones; all without.", metavar="[ID...]")] = None,
    out: Annotated[Path | None, typer.Option(help="The paper (.pdf).", metavar="FILE")] = None,
    address: AddressOption = "",
    paper: PaperOption = "a4",
    archive: ArchiveOption = None,
) -> None:
    """Write labels to stick on: 70 × 37 mm on A4 (24 a sheet), 2⅝ × 1 inch on US Letter (30 a sheet).

    Example: isohume labels frames F01 F02 --address https://frames.museum.example
    """
    from isohume.dashboard.papers.labels import label_sheets
    from isohume.dashboard.papers.qr import checked_address

    size = paper_size(paper)
    if kind not in {"frames", "loggers"}:
        refuse(f'Labels for "{kind}": expected frames or loggers.', code=ExitCode.USAGE)
    with refusals(ValueError, code=ExitCode.USAGE):
        server = checked_address(address)
    with opened(archive) as held, refusals(LookupError):
        data = label_sheets(
            held, "frames" if kind == "frames" else "loggers", ids=ids or (), address=server, paper=size
        )
    target = out or Path(f"labels_{kind}.pdf")
    write(target, data)
    result(str(target))


@app.command()
def failure(
    rh: Annotated[float, typer.Option(help="Humidity all rooms go to [%RH].", metavar="RH")],
    celsius: Annotated[float, typer.Option(help="Temperature all rooms go to [°C].", metavar="T")],
    out: Annotated[
        Path | None, typer.Option(help="The paper (.pdf); its table goes beside it.", metavar="FILE")
    ] = None,
    paper: PaperOption = "a4",
    archive: ArchiveOption = None,
) -> None:
    """Write the sheet for a failed plant: hours until each frame leaves its band, the first in front.

    Example: isohume failure --rh 25 --celsius 12
    """
    from isohume.dashboard.exports import csv_bytes, xlsx_bytes
    from isohume.dashboard.papers.failure import failure_of, failure_pdf, failure_table

    size = paper_size(paper)
    with opened(archive) as held, refusals(ValueError, code=ExitCode.USAGE):
        found = failure_of(held, room_rh_percent=rh, room_celsius=celsius, progress=progress_on_stderr("frame"))
    if not found.frames:
        refuse("The archive holds no frame. Describe the collection first (`isohume register load`).")
    target = out or Path("plant_failure.pdf")
    write(target, failure_pdf(found, paper=size))
    write(target.with_suffix(".csv"), csv_bytes(*failure_table(found)))
    write(target.with_suffix(".xlsx"), xlsx_bytes({"plant failure": failure_table(found)}))
    result(str(target))
