"""Documents, climate terms, loans, reviews, users; kept findings and watched files."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "findings",
        sa.Column("frame", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("as_of", sa.Text(), nullable=False),
        sa.Column("computed", sa.Text(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("frame", "name", name=op.f("pk_findings")),
    )
    op.create_table(
        "reviews",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("month", sa.Text(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("figures", sa.JSON(), nullable=True),
        sa.Column("decisions", sa.JSON(), nullable=True),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("signed_by", sa.Text(), nullable=False),
        sa.Column("signed_on", sa.Text(), nullable=True),
        sa.Column("second_signed_by", sa.Text(), nullable=False),
        sa.Column("second_signed_on", sa.Text(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reviews")),
        sa.UniqueConstraint("month", "number", name=op.f("uq_reviews_month")),
    )
    op.create_table(
        "terms",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("source", sa.Text(), nullable=False),
        sa.Column("clauses", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_terms")),
    )
    op.create_table(
        "users",
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("full_name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("email", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_users")),
    )
    op.create_table(
        "venues",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("contact", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_venues")),
    )
    op.create_table(
        "watched",
        sa.Column("path", sa.Text(), nullable=False),
        sa.Column("n_bytes", sa.BigInteger(), nullable=False),
        sa.Column("modified_ns", sa.BigInteger(), nullable=False),
        sa.Column("outcome", sa.Text(), nullable=False),
        sa.Column("import_id", sa.Integer(), nullable=True),
        sa.Column("seen", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("path", name=op.f("pk_watched")),
    )
    op.create_table(
        "documents",
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("frame", sa.Text(), nullable=True),
        sa.Column("logger", sa.Text(), nullable=True),
        sa.Column("taken", sa.Text(), nullable=True),
        sa.Column("n_bytes", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["frame"], ["frames.id"], name=op.f("fk_documents_frame")),
        sa.ForeignKeyConstraint(["logger"], ["loggers.id"], name=op.f("fk_documents_logger")),
        sa.PrimaryKeyConstraint("sha256", name=op.f("pk_documents")),
    )
    op.create_index(op.f("ix_documents_frame"), "documents", ["frame"], unique=False)
    op.create_table(
        "loans",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("lender", sa.Text(), nullable=False),
        sa.Column("frames", sa.JSON(), nullable=False),
        sa.Column("terms", sa.Text(), nullable=True),
        sa.Column("contact", sa.Text(), nullable=False),
        sa.Column("status", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["terms"], ["terms.id"], name=op.f("fk_loans_terms")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_loans")),
    )
    op.create_table(
        "legs",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loan", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("venue", sa.Text(), nullable=True),
        sa.Column("start", sa.Text(), nullable=False),
        sa.Column("end", sa.Text(), nullable=True),
        sa.Column("crate", sa.Text(), nullable=False),
        sa.Column("courier", sa.Text(), nullable=False),
        sa.Column("handover", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["loan"], ["loans.id"], name=op.f("fk_legs_loan")),
        sa.ForeignKeyConstraint(["venue"], ["venues.id"], name=op.f("fk_legs_venue")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_legs")),
        sa.UniqueConstraint("loan", "start", name=op.f("uq_legs_loan")),
    )
    # ### end Alembic commands ###
