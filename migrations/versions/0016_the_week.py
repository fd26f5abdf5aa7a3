"""Who wrote what and when; what a line takes back or carries on; jobs merged, loans, articles, reorder points."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

from triptych.migrations import guards
from triptych.migrations.base.kinds import INSTANT, KEY, MONEY, NUMBER, TEXT

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

_POINTERS = (
    ("movement", "undoes_id", "movement"),
    ("movement", "carries_id", "movement"),
    ("job", "merged_into_id", "job"),
    ("location", "loan_job_id", "job"),
)
_COLUMNS = (
    ("supply_order", "finish", TEXT),
    ("quote", "zone", TEXT),
    ("quote_line", "discount", NUMBER),
    ("quote_line", "full_amount", MONEY),
)
_NEW = ("article", "reorder_point", "file_column", "signature")
_SAID_ANEW = {"movement_line": "", "movement_sealed": "0014", "stock_movement": "0014"}
"""Functions that say something else now, and the step that made them say what they said."""


def upgrade() -> None:
    for table, column, of in _POINTERS:
        # both engines add such a column and leave the table, and all that hangs on it, where it is
        key = f"CONSTRAINT fk_{table}_{column} REFERENCES {of} (id)"
        op.execute(f"ALTER TABLE {table} ADD COLUMN {column} INTEGER {key}")
    for table, column, type_ in _COLUMNS:
        op.add_column(table, sa.Column(column, type_, nullable=True))
    known = sa.text("undoes_id IS NOT NULL")
    op.create_index("ix_movement_undoes_id", "movement", ["undoes_id"], sqlite_where=known, postgresql_where=known)
    _make_tables()
    # what is printed is for a database without lines
    if not op.get_context().as_sql:
        _mark_what_is_undone()
    if op.get_context().dialect.name == "sqlite":
        op.execute("DROP TRIGGER movement_rules_order_id")
    guards.make(step="0016")


def _make_tables() -> None:
    op.create_table(
        "article",
        _number(),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer()),
        sa.Column("finish", TEXT),
        sa.Column("number", TEXT, nullable=False),
        sa.Column("number_key", KEY, nullable=False),
        sa.CheckConstraint("number_key <> ''", name="numbered"),
        _owned("article", "loudspeaker"),
        _owned("article", "supplier"),
        sa.UniqueConstraint("supplier_id", "number_key", name="uq_article_supplier_id_number_key"),
        sa.PrimaryKeyConstraint("id", name="pk_article"),
        sqlite_strict=True,
    )
    ours = sa.text("supplier_id IS NULL")
    op.create_index("uq_article_own", "article", ["number_key"], unique=True, sqlite_where=ours, postgresql_where=ours)
    op.create_index("ix_article_loudspeaker_id", "article", ["loudspeaker_id"])
    op.create_table(
        "reorder_point",
        _number(),
        sa.Column("loudspeaker_id", sa.Integer(), nullable=False),
        sa.Column("finish", TEXT),
        sa.Column("finish_key", KEY, nullable=False),
        sa.Column("least", sa.Integer(), nullable=False),
        sa.Column("up_to", sa.Integer(), nullable=False),
        sa.CheckConstraint("(finish IS NULL) = (finish_key = '')", name="finish_whole"),
        sa.CheckConstraint("least >= 1 AND up_to >= least", name="up_to_from_least"),
        _owned("reorder_point", "loudspeaker"),
        sa.UniqueConstraint("loudspeaker_id", "finish_key", name="uq_reorder_point_loudspeaker_id_finish_key"),
        sa.PrimaryKeyConstraint("id", name="pk_reorder_point"),
        sqlite_strict=True,
    )
    op.create_table(
        "file_column",
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("theirs_key", KEY, nullable=False),
        sa.Column("theirs", TEXT, nullable=False),
        sa.Column("ours", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("kind", "theirs_key", name="pk_file_column"),
        sqlite_strict=True,
    )
    op.create_table(
        "signature",
        _number(),
        sa.Column("at", INSTANT, nullable=False),
        sa.Column("who", TEXT),
        sa.Column("subject", TEXT, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("deed", TEXT, nullable=False),
        sa.Column("said", TEXT, nullable=False),
        sa.CheckConstraint("deed IN ('made', 'changed', 'removed')", name="deed"),
        sa.PrimaryKeyConstraint("id", name="pk_signature"),
        sqlite_strict=True,
    )
    op.create_index("ix_signature_subject_number", "signature", ["subject", "number"])


def _number() -> sa.Column[int]:
    return sa.Column("id", sa.Integer(), nullable=False)


def _owned(table: str, by: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint([f"{by}_id"], [f"{by}.id"], name=f"fk_{table}_{by}_id", ondelete="CASCADE")


_LINES = """
SELECT h.location_id, h.grade, h.pack, h.finish_key, m.*
FROM movement m JOIN holding h ON h.id = m.holding_id ORDER BY m.holding_id, m.sequence
"""
_HEAD = ("loudspeaker_id", "holding_id", "location_id", "grade", "pack", "finish_key", "sequence", "kind", "quantity")
_BODY = ("effect", "on_hand", "tracked", "job_id", "until", "reservation_id", "from_id", "to_holding_id", "order_id")
_FOOT = ("quote_id", "serial", "serial_sequence", "amount", "currency", "at", "who", "note")


def _mark_what_is_undone() -> None:
    """Say in the new column what notes said, and seal anew the lines of which that says more."""
    bound = op.get_bind()
    found = bound.execute(sa.text("SELECT id, note FROM movement WHERE note LIKE 'undo of line %'")).all()
    marks = [
        {"number": number, "undone": int(said[1])}
        for number, note in found
        if (said := re.match(r"undo of line (\d{1,10})(?::|$)", note))
    ]
    if not marks:
        return
    with _unguarded():
        bound.execute(sa.text("UPDATE movement SET undoes_id = :undone WHERE id = :number"), marks)
        sealed = list(_sealed(bound))
        bound.execute(sa.text("UPDATE movement SET digest = :digest WHERE id = :number"), sealed)
        last = {one["holding"]: one for one in sealed}
        bound.execute(
            sa.text("UPDATE ledger_end SET digest = :digest WHERE holding_id = :holding"),
            list(last.values()),
        )


def _sealed(bound: sa.Connection) -> Iterator[dict[str, Any]]:
    before: dict[int, str] = {}
    for line in bound.execute(sa.text(_LINES)).mappings().all():
        values = [
            _microseconds(line[name]) if name in ("until", "at") else line[name] for name in (*_HEAD, *_BODY, *_FOOT)
        ]
        more = [line["undoes_id"], None] if line["undoes_id"] is not None else []
        said = json.dumps([before.get(line["holding_id"]), *values, *more], ensure_ascii=False)
        digest = before[line["holding_id"]] = hashlib.sha256(said.encode()).hexdigest()
        yield {"number": line["id"], "digest": digest, "holding": line["holding_id"]}


def _microseconds(value: Any) -> int | None:
    if value is None:
        return None
    at = datetime.fromisoformat(value) if isinstance(value, str) else value
    at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    past = at - datetime(1970, 1, 1, tzinfo=UTC)
    return (past.days * 86400 + past.seconds) * 1_000_000 + past.microseconds


@contextmanager
def _unguarded() -> Iterator[None]:
    """Let lines be written over meanwhile."""
    if op.get_context().dialect.name == "postgresql":
        for table in ("movement", "ledger_end"):
            op.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
        yield
        for table in ("movement", "ledger_end"):
            op.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        return
    op.execute("DROP TRIGGER movement_never_update")
    yield
    guards.make_again()


def downgrade() -> None:
    server = op.get_context().dialect.name == "postgresql"
    for name, table in guards.triggers(op.get_context().dialect.name, "0016"):
        op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if server else ""))
    for table in _NEW:
        op.drop_table(table)
    op.drop_index("ix_movement_undoes_id", "movement")
    if server:
        for name in guards.functions("0016"):
            if name not in _SAID_ANEW:
                op.execute(f"DROP FUNCTION {name}")
        for name, step in _SAID_ANEW.items():
            guards.make_function(name, step)
    for table in dict.fromkeys(one[0] for one in (*_POINTERS, *_COLUMNS)):
        gone = [one[1] for one in (*_POINTERS, *_COLUMNS) if one[0] == table]
        if server:
            for column in gone:
                op.drop_column(table, column)
            continue
        with op.batch_alter_table(table) as batch:
            for column in gone:
                batch.drop_column(column)
        guards.make(table, newest="0014")
