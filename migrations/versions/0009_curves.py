"""Measured response curves of loudspeakers."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "curve",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "on_axis",
                "horizontal",
                "vertical",
                "listening_window",
                "in_room",
                name="curvekind",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("angle", sa.Double(), nullable=True),
        sa.Column("source_id", sa.Integer(), nullable=False),
        sa.Column(
            "evidence",
            sa.Enum(
                "measured",
                "stated",
                "modelled",
                "assumed",
                name="evidence",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("smoothing", sa.Integer(), nullable=True),
        sa.Column("measured_on", sa.Date(), nullable=True),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("per_octave", sa.Integer(), nullable=False),
        sa.Column("grid_first", sa.Integer(), nullable=False),
        sa.Column("grid", sa.LargeBinary(), nullable=False),
        sa.Column("bands", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint(
            "(kind IN ('horizontal', 'vertical')) = (angle IS NOT NULL)", name=op.f("ck_curve_angle_of_an_orbit")
        ),
        sa.CheckConstraint("angle > -180 AND angle <= 180", name=op.f("ck_curve_angle_range")),
        sa.CheckConstraint("smoothing BETWEEN 1 AND 96", name=op.f("ck_curve_smoothing_range")),
        sa.CheckConstraint("per_octave > 0", name=op.f("ck_curve_per_octave_positive")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_curve_loudspeaker_id"), ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(["source_id"], ["source.id"], name=op.f("fk_curve_source_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_curve")),
        sa.UniqueConstraint("loudspeaker_id", "kind", "angle", name=op.f("uq_curve_loudspeaker_id_kind_angle")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("curve", schema=None) as batch_op:
        batch_op.create_index(
            "uq_curve_without_angle",
            ["loudspeaker_id", "kind"],
            unique=True,
            sqlite_where=sa.text("angle IS NULL"),
            postgresql_where=sa.text("angle IS NULL"),
        )


def downgrade() -> None:
    with op.batch_alter_table("curve", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_curve_without_angle",
            sqlite_where=sa.text("angle IS NULL"),
            postgresql_where=sa.text("angle IS NULL"),
        )
    op.drop_table("curve")
