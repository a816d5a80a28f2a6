"""Ends processes in the middle of their work and looks at what is left; run by test_faults.py, by itself.

One process imports everything once and forks: a child that works and is killed with SIGKILL at its n-th step, then a
child that opens what is left, audits it, and repeats the work. The parent itself never computes, so that what it
forks is sound. Prints one JSON document.
"""

from __future__ import annotations

import gc
import itertools
import json
import os
import shutil
import signal
import sys
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
import sqlalchemy.orm

from isohume.ingest.archive import creating
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError, StorageError
from isohume.ingest.archive.kinds import KINDS
from isohume.ingest.archive.models_imports import Part
from isohume.ingest.archive.session import Register
from isohume.ingest.archive.versions import migrate

# After every so many kills, the work is also done again: the costly part.
REPEATED = 4
NOBODY = 65534

Work = Callable[[Archive], Any]


@dataclass(frozen=True)
class Scenario:
    """Work that is interrupted: on which archive, and what it does."""

    name: str
    template: str
    work: Work


def state(archive: Archive) -> dict[str, str]:
    """Return what the readings and the imports are."""
    with archive.register.reading() as session:
        parts = {f"{part.logger} {part.year}": part.content for part in session.scalars(sa.select(Part))}
    # When something was done is not part of the state.
    imports = {str(row["id"]): f"{row['file']} undone={bool(row['undone_utc'])}" for row in archive.imports()}
    records = {f"{kind} {number}": str(row) for kind in KINDS for number, row in enumerate(archive.records(kind))}
    return parts | imports | records


def in_child(work: Callable[[], Any], answer: Path) -> int:
    """Run work in a forked process; its answer goes into a file. Returns the wait status."""
    answer.write_text("")
    child = os.fork()
    if child:
        return os.waitpid(child, 0)[1]
    try:
        answer.write_text(json.dumps({"result": work()}))
    except BaseException:  # noqa: BLE001 - whatever it is, the parent raises it
        answer.write_text(json.dumps({"error": traceback.format_exc()}))
    finally:
        os._exit(0)  # no exit handlers of the parent


class KillAt:
    """Ends this process at the n-th step it is told of."""

    def __init__(self, n: int) -> None:
        self.left = n

    def __call__(self, _step: str) -> None:
        self.left -= 1
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)


def with_statements(on_step: Callable[[str], None]) -> None:
    """Count each statement that changes the database, and each commit, as a step, too."""

    @sa.event.listens_for(sa.Engine, "after_cursor_execute")
    def after_statement(_connection: Any, _cursor: Any, statement: str, *_facts: Any) -> None:
        if statement.split(maxsplit=1)[0] not in {"SELECT", "PRAGMA", "BEGIN"}:
            on_step("statement")

    @sa.event.listens_for(sa.Engine, "commit")
    def before_commit(_connection: Any) -> None:
        on_step("commit")


def interrupted(folder: Path, work: Work, n: int, *, register_url: str) -> dict[str, Any]:
    """Do the work in this process and be killed at the n-th step; returns only if there are fewer steps."""
    kill = KillAt(n)
    with_statements(kill)
    with Archive.open(folder, register_url=register_url, on_step=kill) as archive:
        work(archive)
    return {"finished": True}


def aftermath(folder: Path, work: Work, *, register_url: str, again: bool) -> dict[str, Any]:
    """Open what is left and audit it; and, where wanted, read all originals again and do the work again.

    The quick audit checks every hash, and the state names the content of all readings: nothing is left unlooked at.
    """
    with Archive.open(folder, register_url=register_url) as archive:
        problems = archive.audit(deep=again).problems
        left = state(archive)
        if not again:
            return {"problems": problems, "left": left}
        with suppress(ArchiveError):  # an undo that was done already refuses to be done again
            work(archive)
        return {"problems": problems, "left": left, "end": state(archive), "problems_at_end": archive.audit().problems}


def described(archive: Archive, description: Path) -> None:
    """Load a description; with one step more, after it is committed."""
    archive.load_register(description)
    archive.on_step("described")


def fresh_copy(template: Path, folder: Path) -> None:
    """Put a copy of an archive where the work happens."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(template, folder)


class Databases:
    """Copies of a PostgreSQL database; none for SQLite, whose register lies in the folder."""

    def __init__(self, server: str) -> None:
        self.server = server

    def copy(self, template: str, name: str) -> str:
        """Return the address of a fresh copy (or an empty one)."""
        if not self.server:
            return ""
        engine = sa.create_engine(self.server, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.execute(sa.text(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)'))
            made_from = f' TEMPLATE "{template}"' if template else ""
            connection.execute(sa.text(f'CREATE DATABASE "{name}"{made_from}'))
        engine.dispose()
        return sa.make_url(self.server).set(database=name).render_as_string(hide_password=False)


def prepare(root: Path, files: Path, databases: Databases) -> dict[str, str]:
    """Make the archives that the work starts from."""
    description = files / "register.toml"
    for name in ("one import", "two imports", "damaged"):
        url = databases.copy("", f"template {name}")
        with Archive.create(root / name, register_url=url) as archive:
            archive.load_register(description)
            archive.ingest(files / "inside_first.csv")
            if name != "one import":
                archive.ingest(files / "pack.zip")
            if name == "damaged":
                for path in sorted((root / name / "readings").rglob("*.parquet"))[::2]:
                    path.write_bytes(path.read_bytes()[:-9])
    if not databases.server:
        # An archive as version 0001 left it.
        folder = root / "old"
        creating.create(folder, register_url="", on_step=lambda _step: None)
        (folder / creating.REGISTER_FILE).unlink()
        register = Register(creating.sqlite_url(folder))
        migrate(register, to="0001")
        archive_id = creating.Description.read(folder).archive_id
        with register.writing() as session:
            session.execute(
                sa.text("INSERT INTO collection (archive_id, name, time_zone, invented, second_signature) "
                        "VALUES (:id, 'Old', 'UTC', 0, 0)"), {"id": archive_id},
            )  # fmt: skip
        register.close()
    return {}


def as_somebody_else(folder: Path, file: Path) -> dict[str, Any]:
    """Try to import into an archive that belongs to another user, without the right to write."""
    if os.getuid() == 0:
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    try:
        with Archive.open(folder) as archive:
            archive.ingest(file)
    except StorageError as error:
        return {"refused": str(error)}
    return {"refused": ""}


def read_only(root: Path, files: Path) -> dict[str, Any]:
    """Import into an archive that may only be read."""
    answer = root / "answer.json"
    in_child(lambda: prepare(root, files, Databases("")), answer)
    folder = root / "one import"
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o555 if path.is_dir() else 0o444)
    answer.write_text("")
    answer.chmod(0o666)
    in_child(lambda: as_somebody_else(folder, files / "pack.zip"), answer)
    found: dict[str, Any] = json.loads(answer.read_text())
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)
    in_child(lambda: aftermath(folder, lambda _archive: None, register_url="", again=False), answer)
    return {**found, "aftermath": json.loads(answer.read_text())}


def main(root: Path, files: Path, server: str) -> dict[str, Any]:
    """Kill each scenario at every step."""
    answer = root / "answer.json"
    databases = Databases(server)
    # What children would each do again: cheap for them when done before they are forked.
    sa.orm.configure_mappers()
    gc.collect()
    gc.freeze()

    def ask(work: Callable[[], Any]) -> Any:
        status = in_child(work, answer)
        found = {"killed": os.WTERMSIG(status)} if os.WIFSIGNALED(status) else json.loads(answer.read_text())
        if "error" in found:
            raise RuntimeError(found["error"])
        return found

    ask(lambda: prepare(root, files, databases))
    scenarios = [
        Scenario("import", "one import", lambda archive: archive.ingest(files / "pack.zip").status),
        Scenario("description", "one import", lambda archive: described(archive, files / "more.toml")),
        Scenario("undo", "two imports", lambda archive: archive.undo(1).report()),
        Scenario("rebuild", "damaged", lambda archive: archive.rebuild().report()),
    ]
    if not server:
        scenarios.append(Scenario("migration", "old", lambda archive: archive.remarks))
    outcome: dict[str, Any] = {}
    for scenario in scenarios:
        template, folder = root / scenario.template, root / "work"

        def fresh(scenario: Scenario = scenario, template: Path = template, folder: Path = folder) -> str:
            fresh_copy(template, folder)
            return databases.copy(f"template {scenario.template}", "work")

        url = fresh()
        whole = ask(lambda s=scenario, f=folder, u=url: aftermath(f, s.work, register_url=u, again=True))["result"]
        kills: list[dict[str, Any]] = []
        for n in itertools.count(1):
            url = fresh()
            cut = ask(lambda s=scenario, f=folder, u=url, n=n: interrupted(f, s.work, n, register_url=u))
            if "killed" not in cut:
                break
            again = n % REPEATED == 1
            kills.append(
                ask(lambda s=scenario, f=folder, u=url, a=again: aftermath(f, s.work, register_url=u, again=a))[
                    "result"
                ]
            )
        outcome[scenario.name] = {"before": whole["left"], "after": whole["end"], "kills": kills}
    return outcome


if __name__ == "__main__":
    root, files, how = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3]
    print(json.dumps(read_only(root, files) if how == "read-only" else main(root, files, how)))
