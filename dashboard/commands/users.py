"""`isohume users`: who may sign in to the pages from another machine."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from isohume.dashboard.commands.console import ExitCode, json_result, refusals, refuse, result, table
from isohume.dashboard.commands.open_archive import ArchiveOption, Json, opened

app = typer.Typer()
users = typer.Typer(help="Who may sign in to the pages from another machine, and what they may do.")
app.add_typer(users, name="users")


@users.command("add")
def add(
    name: Annotated[str, typer.Argument(help="Name to sign in with.", metavar="NAME")],
    role: Annotated[
        str, typer.Option(help="viewer (reads), contributor (imports, edits, signs) or administrator.", metavar="ROLE")
    ] = "viewer",
    full_name: Annotated[str, typer.Option(help="Name as it stands under reviews.", metavar="NAME")] = "",
    archive: ArchiveOption = None,
) -> None:
    """Register somebody, or give them another password and role; the password is asked for, or read from stdin.

    Example: isohume users add mkeller --role contributor --full-name "M. Keller"
    """
    from isohume.dashboard.access.people import ROLES, PasswordRefusedError, add_person
    from isohume.ingest.archive.errors import ArchiveError

    known = {one: one for one in ROLES}
    if role not in known:
        refuse(f"There is no role {role!r}. Roles: {', '.join(ROLES)}.", code=ExitCode.USAGE)
    password = (
        typer.prompt("Password", hide_input=True, confirmation_prompt=True)
        if sys.stdin.isatty()
        else sys.stdin.readline().rstrip("\n")
    )
    with opened(archive) as held, refusals(PasswordRefusedError, ArchiveError, code=ExitCode.USAGE):
        add_person(held, name, password, role=known[role], full_name=full_name)
    result(f"{name} may sign in as {role}.")


@users.command("list")
def list_users(archive: ArchiveOption = None, json: Json = False) -> None:
    """List who may sign in, and with which role.

    Example: isohume users list
    """
    with opened(archive) as held:
        everybody = held.records("users")
    rows = [{field: user[field] for field in ("name", "full_name", "role", "active")} for user in everybody]
    if json:
        json_result(rows)
        return
    lines = [
        [str(row["name"]), str(row["role"]), "yes" if row["active"] else "no", str(row["full_name"])] for row in rows
    ]
    result(table(["Name", "Role", "May sign in", "Full name"], lines) if lines else "Nobody is registered.")


@users.command("close")
def close(
    name: Annotated[str, typer.Argument(help="Name to sign in with.", metavar="NAME")], archive: ArchiveOption = None
) -> None:
    """Let somebody sign in no longer; what they did stays in the audit trail.

    Example: isohume users close mkeller
    """
    with opened(archive) as held:
        if held.record("users", {"name": name}) is None:
            refuse(f"Nobody is registered as {name!r}.", code=ExitCode.USAGE)
        held.put("users", {"name": name, "active": False})
    result(f"{name} may sign in no longer.")
