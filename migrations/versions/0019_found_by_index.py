"""Indexes for what was found by reading a whole table: units on their way, open quotes, orders for a job."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

FEW = {"movement": "to_holding_id", "supply_order": "job_id"}
"""Columns that few rows have, by table: their indexes hold those rows only."""


def upgrade() -> None:
    for table, column in FEW.items():
        some = sa.text(f"{column} IS NOT NULL")
        op.create_index(f"ix_{table}_{column}", table, [column], sqlite_where=some, postgresql_where=some)
    op.create_index("ix_quote_state", "quote", ["state"])


def downgrade() -> None:
    op.drop_index("ix_quote_state", "quote")
    for table, column in FEW.items():
        op.drop_index(f"ix_{table}_{column}", table)
