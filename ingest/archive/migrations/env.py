"""Run the migrations on the connection that `isohume.ingest.archive.versions` hands over."""

from __future__ import annotations

from alembic import context

settings = context.config.attributes
context.configure(
    connection=settings["connection"],
    transactional_ddl=True,
    on_version_apply=lambda **_facts: settings["on_step"]("migration applied"),
)
context.run_migrations()
