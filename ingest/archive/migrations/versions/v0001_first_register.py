"""The first register: collection, rooms, loggers, frames, imports, parts and the audit trail."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

REFUSAL = "the audit trail is only ever added to"


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "collection",
        sa.Column("archive_id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column("invented", sa.Boolean(), nullable=False),
        sa.Column("as_of", sa.Text(), nullable=True),
        sa.Column("second_signature", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("archive_id", name=op.f("pk_collection")),
    )
    op.create_table(
        "frames",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("painting", sa.Text(), nullable=False),
        sa.Column("band", sa.JSON(), nullable=True),
        sa.Column("conditioned_percent", sa.Double(), nullable=True),
        sa.Column("conditioned_on", sa.Text(), nullable=True),
        sa.Column("lifecycle", sa.Text(), nullable=False),
        sa.Column("owner", sa.Text(), nullable=False),
        sa.Column("opened_by", sa.Text(), nullable=False),
        sa.Column("panel", sa.JSON(), nullable=True),
        sa.Column("construction", sa.JSON(), nullable=True),
        sa.Column("limits", sa.JSON(), nullable=True),
        sa.Column("terms", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_frames")),
    )
    op.create_table(
        "imports",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("n_bytes", sa.BigInteger(), nullable=False),
        sa.Column("received", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("version", sa.Text(), nullable=False),
        sa.Column("undone", sa.Text(), nullable=True),
        sa.Column("undone_by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_imports")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_imports_sha256"), "imports", ["sha256"], unique=False)
    op.create_table(
        "loggers",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("uncertainty_percent", sa.Double(), nullable=True),
        sa.Column("files", sa.JSON(), nullable=False),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column("expect_every_days", sa.Double(), nullable=True),
        sa.Column("expect_from", sa.Text(), nullable=True),
        sa.Column("battery_changed", sa.Text(), nullable=True),
        sa.Column("battery_months", sa.Double(), nullable=True),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loggers")),
    )
    op.create_table(
        "rooms",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rooms")),
    )
    op.create_table(
        "trail",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("time", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("action", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("before", sa.JSON(), nullable=True),
        sa.Column("after", sa.JSON(), nullable=True),
        sa.Column("previous", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trail")),
    )
    op.create_table(
        "calibrations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("date", sa.Text(), nullable=False),
        sa.Column("valid_until", sa.Text(), nullable=True),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("offset_percent", sa.Double(), nullable=True),
        sa.Column("points", sa.JSON(), nullable=True),
        sa.Column("temperature_offset_celsius", sa.Double(), nullable=True),
        sa.Column("uncertainty_percent", sa.Double(), nullable=True),
        sa.Column("certificate", sa.Text(), nullable=False),
        sa.Column("as_found", sa.JSON(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_calibrations_logger")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calibrations")),
        sa.UniqueConstraint("logger", "channel", "date", name=op.f("uq_calibrations_logger")),
    )
    op.create_table(
        "clock_corrections",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("start", sa.Text(), nullable=False),
        sa.Column("end", sa.Text(), nullable=True),
        sa.Column("add_seconds", sa.Double(), nullable=False),
        sa.Column("add_seconds_at_end", sa.Double(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_clock_corrections_logger")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clock_corrections")),
        sa.UniqueConstraint("logger", "start", name=op.f("uq_clock_corrections_logger")),
    )
    op.create_table(
        "events",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("frame", sa.Text(), nullable=False),
        sa.Column("time", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("rh_percent", sa.Double(), nullable=True),
        sa.Column("water_g", sa.Double(), nullable=True),
        sa.Column("board_kg", sa.Double(), nullable=True),
        sa.Column("warp_mm", sa.Double(), nullable=True),
        sa.Column("warp_where", sa.Text(), nullable=False),
        sa.Column("warp_how", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["frame"], ["frames.id"], name=op.f("fk_events_frame")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_events")),
        sa.UniqueConstraint("frame", "time", "kind", name=op.f("uq_events_frame")),
    )
    op.create_table(
        "import_files",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("import_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("recognised_by", sa.Text(), nullable=False),
        sa.Column("recipe", sa.Text(), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("ledger", sa.JSON(), nullable=False),
        sa.Column("channels", sa.JSON(), nullable=False),
        sa.Column("notes", sa.JSON(), nullable=False),
        sa.Column("first", sa.Text(), nullable=True),
        sa.Column("last", sa.Text(), nullable=True),
        sa.Column("n_readings", sa.Integer(), nullable=False),
        sa.Column("n_new", sa.Integer(), nullable=False),
        sa.Column("n_equal", sa.Integer(), nullable=False),
        sa.Column("n_conflicting", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["import_id"], ["imports.id"], name=op.f("fk_import_files_import_id")),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_import_files_logger")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_import_files")),
        sqlite_autoincrement=True,
    )
    op.create_index(op.f("ix_import_files_import_id"), "import_files", ["import_id"], unique=False)
    op.create_index(op.f("ix_import_files_logger"), "import_files", ["logger"], unique=False)
    op.create_table(
        "locations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("frame", sa.Text(), nullable=False),
        sa.Column("room", sa.Text(), nullable=False),
        sa.Column("start", sa.Text(), nullable=False),
        sa.Column("end", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["frame"], ["frames.id"], name=op.f("fk_locations_frame")),
        sa.ForeignKeyConstraint(["room"], ["rooms.id"], name=op.f("fk_locations_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_locations")),
        sa.UniqueConstraint("frame", "start", name=op.f("uq_locations_frame")),
    )
    op.create_index(op.f("ix_locations_room"), "locations", ["room"], unique=False)
    op.create_table(
        "parts",
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("year", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("shadowed_sha256", sa.Text(), nullable=False),
        sa.Column("content", sa.Text(), nullable=False),
        sa.Column("n_readings", sa.Integer(), nullable=False),
        sa.Column("n_contested", sa.Integer(), nullable=False),
        sa.Column("first", sa.Text(), nullable=False),
        sa.Column("last", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_parts_logger")),
        sa.PrimaryKeyConstraint("logger", "year", name=op.f("pk_parts")),
    )
    op.create_table(
        "placements",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("channel", sa.Text(), nullable=False),
        sa.Column("frame", sa.Text(), nullable=True),
        sa.Column("room", sa.Text(), nullable=True),
        sa.Column("start", sa.Text(), nullable=False),
        sa.Column("end", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.CheckConstraint("(frame IS NULL) <> (room IS NULL)", name="frame_or_room"),
        sa.ForeignKeyConstraint(["frame"], ["frames.id"], name=op.f("fk_placements_frame")),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_placements_logger")),
        sa.ForeignKeyConstraint(["room"], ["rooms.id"], name=op.f("fk_placements_room")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_placements")),
        sa.UniqueConstraint("logger", "channel", "start", name=op.f("uq_placements_logger")),
    )
    op.create_index(op.f("ix_placements_frame"), "placements", ["frame"], unique=False)
    op.create_index(op.f("ix_placements_room"), "placements", ["room"], unique=False)
    op.create_table(
        "recipes",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logger", sa.Text(), nullable=False),
        sa.Column("shape", sa.Text(), nullable=False),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column("by_hand", sa.Boolean(), nullable=False),
        sa.Column("toml", sa.Text(), nullable=False),
        sa.Column("kept", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_recipes_logger")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipes")),
        sa.UniqueConstraint("logger", "shape", name=op.f("uq_recipes_logger")),
    )
    keep_trail()


def keep_trail() -> None:
    """Let the database itself refuse to change or remove a line of the audit trail."""
    if op.get_bind().dialect.name == "sqlite":
        for action in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER trail_no_{action.lower()} BEFORE {action} ON trail "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION refuse_trail_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}'; END $$"
    )
    op.execute(
        "CREATE TRIGGER trail_kept BEFORE UPDATE OR DELETE ON trail "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_trail_change()"
    )
