"""`isohume digest`: what is new and what is due, as text, e-mail and calendar."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refuse, remark, result
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened

if TYPE_CHECKING:
    from isohume.ingest.archive.archive import Archive
    from isohume.ingest.archive.digest import Change

app = typer.Typer()
TOLD = "told in the last digest"


@app.command()
def digest(
    days: Annotated[float, typer.Option(help="Period that ends now [days].")] = 30.0,
    ics: Annotated[Path | None, typer.Option(help="Write due dates as a calendar file.", metavar="FILE")] = None,
    to: Annotated[list[str] | None, typer.Option(help="Send by e-mail to this address.", metavar="ADDRESS")] = None,
    sender: Annotated[str, typer.Option("--from", help="Address it is sent from.", metavar="ADDRESS")] = "",
    smtp: Annotated[str, typer.Option(help="Mail server, such as mail.example:587.", metavar="HOST:PORT")] = "",
    smtp_user: Annotated[str, typer.Option(help="User at the mail server.", envvar="ISOHUME_SMTP_USER")] = "",
    smtp_password: Annotated[
        str, typer.Option(help="Password; better given by the environment.", envvar="ISOHUME_SMTP_PASSWORD")
    ] = "",
    plain: Annotated[
        bool, typer.Option("--plain", help="Send without encryption, to a server on this machine.")
    ] = False,
    remember: Annotated[
        bool, typer.Option("--remember", help="Compare the next digest with this one, as sending does.")
    ] = False,
    archive: ArchiveOption = None,
    json: Json = False,
) -> None:
    """Say what is new and what is due: frames to look at, files received, files missing, calibrations, batteries.

    Example: isohume digest --days 7 --ics due.ics
    """
    import datetime as dt

    from isohume.ingest.archive import digest as digests
    from isohume.ingest.archive.errors import ArchiveError

    if to and not (sender and smtp):
        refuse("Sending needs --from ADDRESS and --smtp HOST:PORT.", code=ExitCode.USAGE)
    host, _, port = smtp.partition(":")
    if port and not port.isdigit():
        refuse(f'--smtp: expected HOST:PORT, found "{smtp}".', code=ExitCode.USAGE)
    with opened(archive) as held:
        changes = _changes(held, remember=remember or bool(to))
        made = held.digest(since_days=days, changes=changes)
    if json:
        json_result(made.document())
    else:
        result(made.report())
    if ics:
        ics.write_bytes(made.calendar().encode())
    if to:
        try:
            digests.send(made.message(sender=sender, to=to), host=host, port=int(port or 587), user=smtp_user,
                         password=smtp_password, starttls=not plain)  # fmt: skip
        except ArchiveError as error:
            refuse(str(error))
        remark(f"Sent to {', '.join(to)} at {dt.datetime.now().astimezone():%H:%M}.")


def _changes(held: Archive, *, remember: bool) -> list[Change]:
    """Return the frames that ask for something or changed, from the same findings as the pages."""
    from isohume.dashboard.store import Store
    from isohume.ingest.archive.digest import Change
    from isohume.ingest.archive.findings import Finding

    told = held.kept_findings(TOLD)
    found: list[Change] = []
    now: dict[str, Finding] = {}
    for one in Store(held).summaries():
        standing = one.standing
        name = f"{standing.name} ({standing.direction})" if standing.direction else standing.name
        before = told[one.frame_id].document["standing"] if one.frame_id in told else name
        now[one.frame_id] = Finding("", "", {"standing": name})
        if standing.name == "steady" and before == name:
            continue
        text = name if before == name else f"{name}, was {before}"
        reason = f": {standing.reasons[0].text}" if standing.reasons else ""
        by = None if standing.by is None else standing.by.to_pydatetime()
        found.append(Change(frame=one.frame_id, text=f"{text}{reason}", by=by))
    if remember:
        held.keep_findings(TOLD, now)
    return found
