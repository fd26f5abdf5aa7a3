"""What covers the floor of a room, so that its bounce need not be an interval."""

from __future__ import annotations

from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    text = "TEXT" if op.get_context().dialect.name == "sqlite" else "VARCHAR(32)"
    # both engines add a column with its CHECK, and leave the table and all that hangs on it where they are
    op.execute(
        f"ALTER TABLE room ADD COLUMN mains_floor {text} "
        "CONSTRAINT ck_room_floor CHECK (mains_floor IN ('hard', 'carpet', 'unknown'))"
    )


def downgrade() -> None:
    op.drop_column("room", "mains_floor")
