"""On a server the functions of the desk are planned once a connection, and read by indices alone."""

from __future__ import annotations

from typing import Final

from alembic import op

from triptych.migrations import guards

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None

_SAID_BEFORE: Final = {"stock_arrival": "0021"}
"""The steps before in which those were said last that are not of 0022."""


def upgrade() -> None:
    if op.get_context().dialect.name == "postgresql":
        for name in guards.functions("0026"):
            guards.make_function(name, "0026")
        guards.fix_paths("0026")


def downgrade() -> None:
    if op.get_context().dialect.name == "postgresql":
        for name in guards.functions("0026"):
            guards.make_function(name, _SAID_BEFORE.get(name, "0022"))
        guards.fix_paths("0025")
