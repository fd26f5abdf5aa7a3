"""What was measured in a room after installing."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "as_built",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("room_id", sa.Integer(), nullable=False),
        sa.Column("speaker", sa.String(), nullable=True),
        sa.Column("place", sa.String(), nullable=True),
        sa.Column("mains", sa.String(), nullable=True),
        sa.Column("trim_set", sa.Double(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("speaker <> ''", name=op.f("ck_as_built_speaker_named")),
        sa.CheckConstraint("place <> ''", name=op.f("ck_as_built_place_named")),
        sa.CheckConstraint("mains <> ''", name=op.f("ck_as_built_mains_named")),
        sa.ForeignKeyConstraint(["room_id"], ["room.id"], name=op.f("fk_as_built_room_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_as_built")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("as_built", schema=None) as batch_op:
        batch_op.create_index("ix_as_built_room_id", ["room_id"])
    op.create_table(
        "as_built_curve",
        sa.Column("as_built_id", sa.Integer(), nullable=False),
        sa.Column("ordinal", sa.Integer(), nullable=False),
        sa.Column(
            "channel",
            sa.Enum("left", "centre", "right", name="channel", native_enum=False, create_constraint=True, length=32),
            nullable=False,
        ),
        sa.Column("seat", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(
            ["as_built_id"], ["as_built.id"], name=op.f("fk_as_built_curve_as_built_id"), ondelete="CASCADE"
        ),
        sa.PrimaryKeyConstraint("as_built_id", "ordinal", "channel", name=op.f("pk_as_built_curve")),
        sqlite_strict=True,
    )


def downgrade() -> None:
    op.drop_table("as_built_curve")
    with op.batch_alter_table("as_built", schema=None) as batch_op:
        batch_op.drop_index("ix_as_built_room_id")
    op.drop_table("as_built")
