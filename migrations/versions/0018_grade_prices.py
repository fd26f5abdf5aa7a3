"""What one of another grade than new is sold for."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from triptych.migrations import guards
from triptych.migrations.base.kinds import CODE, MONEY, WORD

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "grade_price",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("grade", WORD, nullable=False),
        sa.Column("amount", MONEY, nullable=False),
        sa.Column("currency", CODE, nullable=False),
        sa.Column("per", WORD, nullable=False),
        sa.CheckConstraint("grade IN ('new', 'open_box', 'b_stock', 'demo', 'quarantine')", name="grade"),
        sa.CheckConstraint("grade IN ('open_box', 'b_stock', 'demo')", name="grade_of_its_own"),
        sa.CheckConstraint("per IN ('each', 'pair')", name="priceper"),
        sa.CheckConstraint("amount >= 0", name="amount_not_negative"),
        sa.CheckConstraint("length(currency) = 3 AND currency = upper(currency)", name="currency_code"),
        sa.ForeignKeyConstraint(
            ["loudspeaker_id"], ["loudspeaker.id"], name="fk_grade_price_loudspeaker_id", ondelete="CASCADE"
        ),
        sa.UniqueConstraint("loudspeaker_id", "grade", name="uq_grade_price_loudspeaker_id_grade"),
        sa.PrimaryKeyConstraint("id", name="pk_grade_price"),
        sqlite_strict=True,
    )
    guards.make(step="0018")


def downgrade() -> None:
    op.drop_table("grade_price")
    if op.get_context().dialect.name == "postgresql":
        op.execute("DROP FUNCTION grade_price_signs")
