"""The whole catalogue at once: the tables, then what each engine refuses, by its SQL file."""

from __future__ import annotations

import re

import sqlalchemy as sa
from alembic import op

from triptych.migrations import guards
from triptych.migrations.base import TABLES

revision = "0012"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    for table in TABLES.sorted_tables:
        op.execute(sa.schema.CreateTable(table))
        for index in sorted(table.indexes, key=lambda index: str(index.name)):
            op.execute(sa.schema.CreateIndex(index))
    guards.make()


def downgrade() -> None:
    for table in reversed(TABLES.sorted_tables):
        op.drop_table(table.name)
    if op.get_context().dialect.name == "postgresql":
        for name in re.findall(r"^CREATE FUNCTION (\w+)", guards.sql("postgresql"), flags=re.MULTILINE):
            op.execute(f"DROP FUNCTION {name}")
        # databases that were made by the steps before the base have these still; nothing calls them
        for name in ("post_movement", "record_lines"):
            op.execute(f"DROP FUNCTION IF EXISTS {name}")
