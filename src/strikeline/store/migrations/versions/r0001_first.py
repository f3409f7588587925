"""Owners, instruments, assessments, their versions, files, and the events of the evidence."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
_MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the first tables."""
    _records()
    op.create_table(
        "record_version",
        sa.Column("record_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("record_id", "number", name="pk_record_version"),
    )
    op.create_table(
        "media_file",
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("n_bytes", sa.BigInteger(), nullable=False),
        sa.Column("added_at", _MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_media_file"),
    )
    _events()


def _records() -> None:
    op.create_table(
        "owner",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("contact", sa.Text(), nullable=False),
        sa.Column("language", sa.Text(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_owner"),
    )
    op.create_table(
        "instrument",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=True),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("action", sa.Text(), nullable=True),
        sa.Column("maker", sa.Text(), nullable=False),
        sa.Column("model", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("year", sa.Integer(), nullable=True),
        sa.Column("size_mm", sa.Double(), nullable=True),
        sa.Column("compass", sa.Text(), nullable=True),
        sa.Column("last_bass_key", sa.Integer(), nullable=True),
        sa.Column("materials", sa.Text(), nullable=False),
        sa.Column("remarks", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_instrument"),
        sa.ForeignKeyConstraint(["owner_id"], ["owner.id"], name="fk_instrument_owner_id"),
    )
    op.create_index("ix_instrument_owner_id", "instrument", ["owner_id"])
    op.create_table(
        "assessment",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("occasion", sa.Text(), nullable=False),
        sa.Column("begun_at", _MOMENT, nullable=False),
        sa.Column("assessor", sa.Text(), nullable=False),
        sa.Column("wishes", sa.Text(), nullable=False),
        sa.Column("reference_a4_hz", sa.Double(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_assessment"),
        sa.ForeignKeyConstraint(["instrument_id"], ["instrument.id"], name="fk_assessment_instrument_id"),
    )
    op.create_index("ix_assessment_instrument_id", "assessment", ["instrument_id"])


def _events() -> None:
    op.create_table(
        "event",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("assessment_id", sa.Uuid(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("item_id", sa.Uuid(), nullable=False),
        sa.Column("over", sa.JSON(), nullable=False),
        sa.Column("schema", sa.Text(), nullable=True),
        sa.Column("data", sa.JSON(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("author", sa.Text(), nullable=False),
        sa.Column("at", _MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
        sa.ForeignKeyConstraint(["assessment_id"], ["assessment.id"], name="fk_event_assessment_id"),
    )
    op.create_index("ix_event_assessment_id", "event", ["assessment_id"])
    op.create_table(
        "event_file",
        sa.Column("event_id", sa.Uuid(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("event_id", "sha256", name="pk_event_file"),
        sa.ForeignKeyConstraint(["event_id"], ["event.id"], name="fk_event_file_event_id"),
        sa.ForeignKeyConstraint(["sha256"], ["media_file.sha256"], name="fk_event_file_sha256"),
    )
    op.create_index("ix_event_file_sha256", "event_file", ["sha256"])
