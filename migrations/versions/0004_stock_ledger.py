"""The stock ledger."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("finish", sa.String(), nullable=True),
        sa.Column(
            "grade",
            sa.Enum(
                "new", "open_box", "b_stock", "demo", name="grade", native_enum=False, create_constraint=True, length=32
            ),
            nullable=False,
        ),
        sa.Column("location", sa.String(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "receive",
                "reserve",
                "release",
                "sell",
                "return",
                "transfer_out",
                "transfer_in",
                "count",
                "regrade_out",
                "regrade_in",
                "split_pair",
                "write_off",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=32,
            ),
            nullable=False,
        ),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("job", sa.String(), nullable=True),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("reservation_id", sa.Integer(), nullable=True),
        sa.Column("serial", sa.String(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("note", sa.String(), nullable=True),
        sa.CheckConstraint(
            "kind <> 'release' OR reservation_id IS NOT NULL", name=op.f("ck_movement_release_of_a_reservation")
        ),
        sa.CheckConstraint(
            "kind <> 'reserve' OR (job IS NOT NULL AND until IS NOT NULL)", name=op.f("ck_movement_reserve_for_a_job")
        ),
        sa.CheckConstraint("location <> ''", name=op.f("ck_movement_located")),
        sa.CheckConstraint(
            "quantity > 0 OR (kind = 'count' AND quantity <> 0)", name=op.f("ck_movement_quantity_counts")
        ),
        sa.CheckConstraint(
            "reservation_id IS NULL OR kind IN ('release', 'sell')", name=op.f("ck_movement_reservation_ends")
        ),
        sa.CheckConstraint("serial IS NULL OR quantity IN (-1, 1)", name=op.f("ck_movement_serial_of_one")),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name=op.f("fk_movement_loudspeaker_id"), ondelete="RESTRICT"
        ),
        sa.ForeignKeyConstraint(["reservation_id"], ["movement.id"], name=op.f("fk_movement_reservation_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sqlite_strict=True,
    )
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_movement_loudspeaker_id"), ["loudspeaker_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_reservation_id"), ["reservation_id"], unique=False)


def downgrade() -> None:
    op.drop_table("movement")
