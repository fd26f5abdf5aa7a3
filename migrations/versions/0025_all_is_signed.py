"""A digest of each row in its signature, the deed of each line, and a quote goes back where a delivery was undone."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any, Final

import sqlalchemy as sa
from alembic import op

from triptych.migrations import guards

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None

_STEP: Final = "0025"
_BEFORE: Final = "0022"
"""The last step before with a file of guards."""

_SAID_ANEW: Final = {"signature_sealed": "0020", "movement_sealed": "0016", "quote_forward": ""}
"""Functions that say something else now, and the step that made them say what they said."""

_AT_ONCE: Final = 5_000


def upgrade() -> None:
    server = op.get_context().dialect.name == "postgresql"
    op.add_column("movement", sa.Column("deed_number", sa.BigInteger(), nullable=True))
    for name in ("was", "becomes"):
        op.add_column("signature", sa.Column(name, sa.String(), nullable=True))
    _drop_said_before()
    guards.make(step=_STEP)
    if server:
        for name in (name for name, step in guards.GONE.items() if step == _STEP):
            op.execute(f"DROP FUNCTION {name}")
        guards.fix_paths(_STEP)
    # what is printed is for a database without lines
    if not op.get_context().as_sql:
        _sign_what_is_there()


def _drop_said_before() -> None:
    """Drop the triggers that say something else from now on."""
    server = op.get_context().dialect.name == "postgresql"
    anew = {name for name, _ in guards.triggers(op.get_context().dialect.name, _STEP)}
    for step in ("", *guards.STEPS[: guards.STEPS.index(_STEP)]):
        for name, table in guards.triggers(op.get_context().dialect.name, step):
            if name in anew:
                op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if server else ""))


def _sign_what_is_there() -> None:
    """Sign what each row says now, in nobody's name: what it said before nobody knows."""
    server = op.get_context().dialect.name == "postgresql"
    newest = op.get_bind().scalar(sa.text("SELECT COALESCE(MAX(id), 0) FROM signature")) or 0
    if server:
        op.execute("ALTER TABLE signature DISABLE TRIGGER signature_follows")
        op.execute("SET LOCAL timezone = 'UTC'")
        op.execute("SET LOCAL extra_float_digits = 1")
        op.execute("SET LOCAL bytea_output = 'hex'")
        for table, number in _numbered("postgresql", r"CREATE TRIGGER (\w+)_signs .*?row_signs\('\w+', '(\w*)'"):
            digest = "encode(sha256(convert_to(jsonb_strip_nulls(to_jsonb(t))\\:\\:text, 'UTF8')), 'hex')"
            _sign(table, f"t.{number}" if number else "0", digest, "clock_timestamp()")
        op.execute("ALTER TABLE signature ENABLE TRIGGER signature_follows")
        return
    for table, number, told in _numbered("sqlite", _MADE):
        now = "strftime('%Y-%m-%d %H\\:%M\\:%f', 'now') || '000'"
        _sign(table, number.replace("NEW.", "t."), told.replace("NEW.", "t."), now)
    for rows in _unsealed(newest):
        op.get_bind().execute(sa.text("UPDATE signature SET becomes = :becomes, digest = :digest WHERE id = :id"), rows)


_MADE: Final = (
    r"CREATE TRIGGER \w+_signs\w* AFTER INSERT ON (\w+) BEGIN.*?'\w+', (NEW\.\w+|0), 'made',.*?"
    r"(json_array\((?:[^()]|\([^()]*\))*\))\);\nEND;"
)


def _numbered(engine: str, form: str) -> list[tuple[str, ...]]:
    return re.findall(form, guards.sql(engine, _STEP), flags=re.DOTALL)


def _sign(table: str, number: str, told: str, now: str) -> None:
    op.execute(
        "INSERT INTO signature (at, subject, number, deed, said, becomes)"
        f" SELECT {now}, '{table}', {number}, 'made', '{{}}', {told} FROM \"{table}\" t"
    )


def _unsealed(newest: int) -> Iterator[list[dict[str, Any]]]:
    query = sa.text(
        "SELECT id, at, subject, number, deed, said, becomes FROM signature WHERE id > :newest ORDER BY id LIMIT :some"
    )
    while found := op.get_bind().execute(query, {"newest": newest, "some": _AT_ONCE}).all():
        sealed = []
        for number, at, subject, row, deed, said, told in found:
            becomes = hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()
            values = [None, number, _instant(at), None, subject, row, deed, said, None, becomes]
            sealed.append({"id": number, "becomes": becomes, "digest": _digest(values)})
        yield sealed
        newest = found[-1][0]


def downgrade() -> None:
    engine = op.get_context().dialect.name
    server = engine == "postgresql"
    made = guards.triggers(engine, _STEP)
    for name, table in made:
        op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if server else ""))
    if server:
        for name, step in _SAID_ANEW.items():
            guards.make_function(name, step)
        op.execute("DROP FUNCTION row_signs")
        for table in ("signature", "movement", "ledger_end"):
            op.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    else:
        for name in ("signature_never_delete", "signature_signed", "movement_never_update"):
            op.execute(f"DROP TRIGGER {name}")
    op.execute("DELETE FROM signature WHERE said = '{}'")
    _seal_as_before()
    guards.make_triggers({name for name, _ in made}, _BEFORE)
    if server:
        for table in ("signature", "movement", "ledger_end"):
            op.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
        guards.fix_paths(_BEFORE)
        op.drop_column("movement", "deed_number")
        for name in ("was", "becomes"):
            op.drop_column("signature", name)
        return
    with op.batch_alter_table("movement") as batch:
        batch.drop_column("deed_number")
    guards.make("movement", newest=_BEFORE)
    with op.batch_alter_table("signature") as batch:
        for name in ("was", "becomes"):
            batch.drop_column(name)
    guards.make("signature", newest=_BEFORE)


_LINES: Final = """
SELECT h.location_id, h.grade, h.pack, h.finish_key, m.*
FROM movement m JOIN holding h ON h.id = m.holding_id ORDER BY m.holding_id, m.sequence
"""
_HEAD = ("loudspeaker_id", "holding_id", "location_id", "grade", "pack", "finish_key", "sequence", "kind", "quantity")
_BODY = ("effect", "on_hand", "tracked", "job_id", "until", "reservation_id", "from_id", "to_holding_id", "order_id")
_FOOT = ("quote_id", "serial", "serial_sequence", "amount", "currency", "at", "who", "note")


def _seal_as_before() -> None:
    """Seal lines and signatures without what goes, so that they prove as before."""
    bound, seal = op.get_bind(), "UPDATE {} SET digest = :digest WHERE {} = :number"
    before: dict[Any, str] = {}
    for line in bound.execute(sa.text(_LINES)).mappings().all():
        values = [_instant(line[name]) if name in ("until", "at") else line[name] for name in (*_HEAD, *_BODY, *_FOOT)]
        more = [line["undoes_id"], line["carries_id"]]
        place = line["holding_id"]
        digest = before[place] = _digest([before.get(place), *values, *(more if any(more) else [])])
        bound.execute(sa.text(seal.format("movement", "id")), {"digest": digest, "number": line["id"]})
    for place, digest in before.items():
        bound.execute(sa.text(seal.format("ledger_end", "holding_id")), {"digest": digest, "number": place})
    before = {}
    kept = sa.text(
        "SELECT id, at, who, subject, number, deed, said FROM signature WHERE digest IS NOT NULL ORDER BY id"
    )
    for number, at, who, subject, row, deed, said in bound.execute(kept).all():
        of = subject, row
        digest = before[of] = _digest([before.get(of), number, _instant(at), who, subject, row, deed, said])
        bound.execute(sa.text(seal.format("signature", "id")), {"digest": digest, "number": number})


def _digest(values: list[Any]) -> str:
    return hashlib.sha256(json.dumps(values, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()


def _instant(value: Any) -> int | None:
    """Give an instant in microseconds, as digests have it."""
    if value is None:
        return None
    at = datetime.fromisoformat(value) if isinstance(value, str) else value
    at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    past = at - datetime(1970, 1, 1, tzinfo=UTC)
    return (past.days * 86400 + past.seconds) * 1_000_000 + past.microseconds
