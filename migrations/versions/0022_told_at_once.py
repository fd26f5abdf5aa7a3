"""On a server a refusal tells in one call what there is instead, and a quote is looked up in one and written in one."""

from __future__ import annotations

from alembic import op

from triptych.migrations import guards

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None

_GONE = ("stock_quote", "stock_lines")


def upgrade() -> None:
    if op.get_context().dialect.name == "postgresql":
        guards.make(step="0022")
        for name in _GONE:
            op.execute(f"DROP FUNCTION {name}")
        guards.fix_paths("0022")


def downgrade() -> None:
    if op.get_context().dialect.name == "postgresql":
        for name in guards.functions("0022"):
            op.execute(f"DROP FUNCTION {name}")
        for name in ("stock_move", *_GONE):
            guards.make_function(name, "0021")
        guards.fix_paths("0021")
