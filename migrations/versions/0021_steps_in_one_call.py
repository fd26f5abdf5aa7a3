"""What quotes and movements do on a server in one call each, where it was many statements."""

from __future__ import annotations

from alembic import op

from triptych.migrations import guards

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    if op.get_context().dialect.name == "postgresql":
        guards.make(step="0021")
        op.execute("DROP FUNCTION stock_movement")
        guards.fix_paths("0021")


def downgrade() -> None:
    if op.get_context().dialect.name == "postgresql":
        for name in guards.functions("0021"):
            op.execute(f"DROP FUNCTION {name}")
        guards.make_function("stock_movement", "0016")
        guards.fix_paths("0020")
