"""A running digest over the lines of each holding, and who wrote a line by the server; all guards as the files say."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

from triptych.migrations import guards

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

_LINES = """
SELECT h.location_id, h.grade, h.pack, h.finish_key, m.*
FROM movement m JOIN holding h ON h.id = m.holding_id ORDER BY m.holding_id, m.sequence
"""
_HEAD = ("loudspeaker_id", "holding_id", "location_id", "grade", "pack", "finish_key", "sequence", "kind", "quantity")
_BODY = ("effect", "on_hand", "tracked", "job_id", "until", "reservation_id", "from_id", "to_holding_id", "order_id")
_FOOT = ("quote_id", "serial", "serial_sequence", "amount", "currency", "at", "who", "note")


def upgrade() -> None:
    op.add_column("movement", sa.Column("digest", sa.String(), nullable=True))
    op.create_table(
        "ledger_end",
        sa.Column("holding_id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(), nullable=True),
        sa.ForeignKeyConstraint(["holding_id"], ["holding.id"], name="fk_ledger_end_holding_id"),
        sa.PrimaryKeyConstraint("holding_id", name="pk_ledger_end"),
        sqlite_strict=True,
    )
    server = op.get_context().dialect.name == "postgresql"
    op.execute("DROP TRIGGER movement_never_update" + (" ON movement" if server else ""))
    # what is printed is for a database without lines
    if not op.get_context().as_sql:
        _seal_what_is_there()
    guards.make_again()
    guards.make(step="0014")


def _seal_what_is_there() -> None:
    bound = op.get_bind()
    ends: dict[int, tuple[int, str]] = {}
    sealed: list[dict[str, Any]] = []
    for line in bound.execute(sa.text(_LINES)).mappings():
        before = ends.get(line["holding_id"], (0, None))[1]
        said = (*_HEAD, *_BODY, *_FOOT)
        values = [before, *(_microseconds(line[name]) if name in ("until", "at") else line[name] for name in said)]
        digest = hashlib.sha256(json.dumps(values, ensure_ascii=False).encode()).hexdigest()
        sealed.append({"number": line["id"], "digest": digest})
        ends[line["holding_id"]] = line["sequence"], digest
    if sealed:
        bound.execute(sa.text("UPDATE movement SET digest = :digest WHERE id = :number"), sealed)
        last = [{"holding": number, "sequence": end[0], "digest": end[1]} for number, end in ends.items()]
        bound.execute(sa.text("INSERT INTO ledger_end VALUES (:holding, :sequence, :digest)"), last)


def _microseconds(value: Any) -> int | None:
    if value is None:
        return None
    at = datetime.fromisoformat(value) if isinstance(value, str) else value
    at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    past = at - datetime(1970, 1, 1, tzinfo=UTC)
    return (past.days * 86400 + past.seconds) * 1_000_000 + past.microseconds


def downgrade() -> None:
    server = op.get_context().dialect.name == "postgresql"
    for name, table in guards.triggers(op.get_context().dialect.name, "0014"):
        op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if server else ""))
    op.drop_table("ledger_end")
    if server:
        for name in guards.functions("0014"):
            op.execute(f"DROP FUNCTION {name}")
        op.drop_column("movement", "digest")
        return
    with op.batch_alter_table("movement") as batch:
        batch.drop_column("digest")
    guards.make("movement", newest="0014")
    op.execute("DROP TRIGGER movement_sealed")
