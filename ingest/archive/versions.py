"""The register's version: made new, brought up to date after a backup, refused if newer than this isohume."""

from __future__ import annotations

import sqlalchemy as sa

from isohume.ingest.archive.errors import NewerArchiveError
from isohume.ingest.archive.files import StepHook, no_hook
from isohume.ingest.archive.session import WRITER_LOCK, Register

# The newest migration; tests/ingest/archive checks that it is.
NEWEST = "0002"
MIGRATIONS = "isohume.ingest.archive:migrations"
KNOWN = tuple(f"{number:04d}" for number in range(1, int(NEWEST) + 1))


def version_of(register: Register) -> str:
    """Return the register's version; "" if there are no tables yet."""
    with register.reading() as session:
        if not sa.inspect(session.connection()).has_table("alembic_version"):
            return ""
        return session.scalar(sa.text("SELECT version_num FROM alembic_version")) or ""


def refuse_newer(register: Register, version: str) -> None:
    """Refuse a register that this isohume does not know.

    Raises
    ------
    NewerArchiveError
        The version is not among the known ones.
    """
    if version and version not in KNOWN:
        raise NewerArchiveError(
            f"register {register.url.render_as_string(hide_password=True)}",
            found=f"version {version}",
            expected=f"version {NEWEST} or older",
            remedy="A newer isohume wrote this archive; install that version (or a newer one) and open it again. "
            "Nothing was changed.",
        )


def migrate(register: Register, *, to: str = NEWEST, on_step: StepHook = no_hook) -> None:
    """Bring the register to a version in one transaction."""
    from alembic import command
    from alembic.config import Config

    settings = Config()
    settings.set_main_option("script_location", MIGRATIONS)
    settings.set_main_option("path_separator", "os")
    settings.attributes["on_step"] = on_step
    with register.writer() as connection:
        with connection.begin():
            if not register.is_sqlite:
                connection.execute(sa.text("SELECT pg_advisory_xact_lock(:key)"), {"key": WRITER_LOCK})
            on_step("migration begun")
            settings.attributes["connection"] = connection
            command.upgrade(settings, to)
            on_step("migration applied whole")
        on_step("migration committed")
