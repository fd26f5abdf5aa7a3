"""What quotes say is signed, signatures are sealed, and no guard on a server looks into anybody's own schema."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

from triptych.migrations import guards

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

_TERMS = ("job_id", "currency", "made_at", "until", "who", "note", "lines", "zone")
_PRICED = ("amount", "per", "tax", "tax_rate", "cost", "discount", "full_amount")
_LINE = ("ordinal", "loudspeaker_id", "grade", "finish", "quantity", *_PRICED)
_INSTANTS = ("made_at", "until")


def upgrade() -> None:
    server = op.get_context().dialect.name == "postgresql"
    op.add_column("signature", sa.Column("digest", sa.String(), nullable=True))
    if not server:
        op.execute("DROP TRIGGER signature_signed")
    guards.make(step="0020")
    # what is printed is for a database without lines
    if not op.get_context().as_sql:
        _sign_what_is_there(server=server)
    if server:
        guards.fix_paths("0020")


def _sign_what_is_there(*, server: bool) -> None:
    """Sign what quotes say now, in nobody's name: what they said before nobody knows."""
    bound = op.get_bind()
    newest = bound.scalar(sa.text("SELECT COALESCE(MAX(id), 0) FROM signature"))
    if server:
        op.execute("ALTER TABLE signature DISABLE TRIGGER signature_follows")
    now = "clock_timestamp()" if server else "strftime('%Y-%m-%d %H:%M:%f', 'now') || '000'"
    for subject, table, number, names in (
        ("quote_terms", "quote", "id", _TERMS),
        ("quote_line", "quote_line", "quote_id", _LINE),
    ):
        said = ", ".join(f"'{name}', {_told(name, server=server)}" for name in names)
        made = f"json_build_object({said})\\:\\:text" if server else f"json_object({said})"
        order = "id" if table == "quote" else "quote_id, ordinal"
        op.execute(
            "INSERT INTO signature (at, subject, number, deed, said)"
            f" SELECT {now}, '{subject}', {number}, 'made', {made} FROM {table} ORDER BY {order}"
        )
    if server:
        op.execute("ALTER TABLE signature ENABLE TRIGGER signature_follows")
    else:
        _seal(bound, newest or 0)


def _told(name: str, *, server: bool) -> str:
    form = "YYYY-MM-DD HH24\\:MI\\:SS.US"
    return f"to_char({name} AT TIME ZONE 'UTC', '{form}')" if server and name in _INSTANTS else name


def _seal(bound: sa.Connection, newest: int) -> None:
    query = sa.text("SELECT id, at, who, subject, number, deed, said FROM signature WHERE id > :newest ORDER BY id")
    before: dict[tuple[str, int], str] = {}
    sealed: list[dict[str, Any]] = []
    for number, at, who, subject, row, deed, said in bound.execute(query, {"newest": newest}):
        values = [before.get((subject, row)), number, _microseconds(at), who, subject, row, deed, said]
        digest = hashlib.sha256(json.dumps(values, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()
        before[subject, row] = digest
        sealed.append({"number": number, "digest": digest})
    if sealed:
        bound.execute(sa.text("UPDATE signature SET digest = :digest WHERE id = :number"), sealed)


def _microseconds(text: str) -> int:
    past = datetime.fromisoformat(text).replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)
    return (past.days * 86400 + past.seconds) * 1_000_000 + past.microseconds


def downgrade() -> None:
    server = op.get_context().dialect.name == "postgresql"
    for name, table in guards.triggers(op.get_context().dialect.name, "0020"):
        op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if server else ""))
    if server:
        for name in guards.functions("0020"):
            op.execute(f"DROP FUNCTION {name}")
        guards.unfix_paths("0020")
        op.execute("ALTER TABLE signature DISABLE TRIGGER USER")
    else:
        op.execute("DROP TRIGGER signature_never_delete")
    op.execute("DELETE FROM signature WHERE subject IN ('quote_terms', 'quote_line')")
    if server:
        op.execute("ALTER TABLE signature ENABLE TRIGGER USER")
        op.drop_column("signature", "digest")
        return
    with op.batch_alter_table("signature") as batch:
        batch.drop_column("digest")
    guards.make("signature", newest="0018")
