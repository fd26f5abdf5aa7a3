"""${message}

Rules: one change a file, named NNNN_what_it_does. Raise HEAD in migrations/__init__.py. Change a table that others
refer to only through `op.batch_alter_table`; a batch change keeps CHECKs, indexes and STRICT, but loses triggers: on
SQLite call `guards.make("the_table")` after it. Drop a CHECK by its short name (the convention adds the rest). Never
import catalog.models for its tables: they move on, and this file does not. A migration that moves rows brings a test
which starts from rows at the revision before.

Revision: ${up_revision}, after ${down_revision | comma,n}. Made: ${create_date}.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = ${repr(branch_labels)}
depends_on = ${repr(depends_on)}


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    ${downgrades if downgrades else "pass"}
