"""How far a box may be tilted in a place, where its owner says so."""

from __future__ import annotations

from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    number = "REAL" if op.get_context().dialect.name == "sqlite" else "DOUBLE PRECISION"
    # both engines add a column with its CHECK, and leave the table and all that hangs on it where they are
    op.execute(
        f"ALTER TABLE place ADD COLUMN tilt_limit {number} "
        "CONSTRAINT ck_place_tilt_limit_not_negative CHECK (tilt_limit >= 0)"
    )


def downgrade() -> None:
    op.drop_column("place", "tilt_limit")
