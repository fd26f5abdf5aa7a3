"""Every column of every row changed, and every row taken out or doubled, by a program that is not ours: `stock check`.

By plain sqlite3 and by what psql sends, with the guards as they are, and with those of the table gone meanwhile. Tables
and columns are those of the schema, so that a new one is tried by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from importlib.resources import files
from typing import Any, Final

import pytest
import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.orm import Session

from tests.catalog.test_as_built import ROOM, record
from tests.test_whole_week import WEEK, Do, do
from triptych.catalog.database.as_built import save_as_built
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import every_table
from triptych.catalog.database.writes import save_room
from triptych.catalog.stock.proof import check
from triptych.catalog.stock.proof_rows import NOT_SIGNED, untouched
from triptych.catalog.stock.proof_signed import sealed

__all__ = ["do"]

pytestmark = [pytest.mark.slow, pytest.mark.whole]

DESCRIBE: Final = ("crossover", "driver", "loudspeaker_role", "provenance", "acoustic_profile")
"""Tables that describe a loudspeaker, or are computed of it: whoever relies on these exports and compares."""

TABLES: Final = [table for name, table in sorted(every_table().tables.items()) if name not in DESCRIBE]


def test_what_is_not_signed_is_held_to_the_ledger_or_describes_a_loudspeaker() -> None:
    assert NOT_SIGNED.keys() - set(DESCRIBE) == {"ledger_end", "movement", "reservation", "signature"}


def _fill(do: Do, engine: sa.Engine) -> None:
    """Live the week, and lay a row into each table that it leaves empty."""
    for day in WEEK:
        day(do)
    with writing(engine) as session:
        save_room(session, ROOM)
        save_as_built(session, ROOM.name, record())
        for table in every_table().sorted_tables:
            if table in TABLES and not session.scalar(sa.select(sa.func.count()).select_from(table)):
                session.execute(sa.insert(table).values(**_some_row(session, table)))


def _some_row(session: Session, table: sa.Table) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for column in table.columns:
        if column.foreign_keys:
            key = min(column.foreign_keys, key=lambda one: one.column.name)
            row[column.name] = session.scalar(sa.select(sa.func.min(key.column)))
        elif column.name != "id" and not column.nullable:
            row[column.name] = _first(column)
    return row | ROWS.get(table.name, {})


ROWS: Final[dict[str, dict[str, Any]]] = {}
"""What a row has to say beside what stands in for it."""


def _first(column: sa.Column[Any]) -> Any:
    if isinstance(column.type, sa.Enum):
        return next(iter(column.type.enum_class or ()))
    kind = column.type.python_type
    return {str: "said", int: 1, float: 1.5, bool: True, bytes: b"told", dict: {}}.get(kind) or datetime.fromisoformat(
        "2026-01-01T00:00:00+00:00"
    )


def _other(connection: sa.Connection, column: sa.Column[Any], value: Any) -> Any:
    """Give what a column might say as well."""
    if column.foreign_keys:
        key = min(column.foreign_keys, key=lambda one: one.column.name)
        other = sa.select(sa.func.min(key.column)).where(key.column.is_distinct_from(value))
        return connection.scalar(other) or (None if column.nullable else (value or 0) + 1)
    if isinstance(column.type, sa.Enum):
        members = list(column.type.enum_class or ())
        return members[(members.index(value) + 1) % len(members)] if value is not None else members[0]
    if value is None:
        return _first(column) if column.type.python_type is not date else date(2031, 1, 1)
    if isinstance(value, bool):
        return not value
    if isinstance(value, str):
        return "0" * 64 if len(value) == 64 else ("CHF" if value == "EUR" else value + "x")
    if isinstance(value, datetime):
        return value + timedelta(seconds=1)
    if isinstance(value, date):
        return value + timedelta(days=1)
    return {**value, "more": 1} if isinstance(value, dict) else value + (b"x" if isinstance(value, bytes) else 1)


@contextmanager
def _plain(engine: sa.Engine) -> Iterator[sa.Engine]:
    """Give what knows nothing of us: sqlite3 as it comes, or what psql sends."""
    found = sa.create_engine(engine.url, poolclass=sa.NullPool)
    if engine.dialect.name == "sqlite":
        event.listen(found, "connect", lambda driver, record: setattr(driver, "isolation_level", None))
        event.listen(found, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    yield found
    found.dispose()


@contextmanager
def _without_guards(connection: sa.Connection, table: sa.Table) -> Iterator[None]:
    """Take the triggers of a table away meanwhile."""
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql("SET LOCAL session_replication_role = replica")
        yield
        connection.exec_driver_sql("SET LOCAL session_replication_role = origin")
        return
    query = "SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = ?"
    triggers = connection.exec_driver_sql(query, (table.name,)).all()
    for name, _ in triggers:
        connection.exec_driver_sql(f"DROP TRIGGER {name}")
    yield
    for _, said in triggers:
        connection.exec_driver_sql(said)


def _changes(plain: sa.Engine, table: sa.Table) -> Iterator[tuple[str, sa.Executable]]:
    """Give each thing to try with the oldest and the newest row of a table."""
    keys = list(table.primary_key)
    with plain.connect() as connection:
        rows = connection.execute(sa.select(table).order_by(*keys)).all()
        assert rows, f"{table.name} is empty"
        for named, row in {"oldest": rows[0], "newest": rows[-1]}.items():
            this = sa.and_(*(key == getattr(row, key.name) for key in keys))
            yield f"{table.name}: {named} deleted", sa.delete(table).where(this)
            for column in table.columns:
                value = getattr(row, column.name)
                others = [_other(connection, column, value)]
                others += [None] if value is not None and column.nullable else []
                for other in others:
                    changed = sa.update(table).where(this).values({column.name: other})
                    yield f"{table.name}.{column.name}: {named} {value!r} to {other!r}", changed
        values = row._asdict()
        if "id" in values:
            values["id"] += 1000
        else:
            values[keys[-1].name] = _other(connection, keys[-1], values[keys[-1].name])
        yield f"{table.name}: newest doubled", sa.insert(table).values(**values)


@contextmanager
def _taken_back(connection: sa.Connection) -> Iterator[None]:
    transaction = connection.begin()
    yield
    transaction.rollback()


def _unseen(plain: sa.Engine, statement: sa.Executable, table: sa.Table, way: str) -> str:
    """Try it, and give what became of it: refused, signed, found or unseen."""
    with plain.connect() as connection, _taken_back(connection):
        newest = sa.text("SELECT COALESCE(MAX(id), 0) FROM signature WHERE who IS NOT NULL AND digest IS NOT NULL")
        before = connection.scalar(newest)
        try:
            if way == "seller":
                connection.exec_driver_sql("SET LOCAL ROLE triptych_seller")
            if way == "unguarded":
                with _without_guards(connection, table):
                    written = connection.execute(statement).rowcount
            else:
                written = connection.execute(statement).rowcount
            assert written
        except (sa.exc.DBAPIError, sa.exc.StatementError):
            return "refused"
        if way == "seller":
            connection.exec_driver_sql("RESET ROLE")
        if way != "unguarded" and connection.scalar(newest) > before:
            return "signed"
        with Session(connection, join_transaction_mode="create_savepoint") as session:
            # what one of these finds need not be looked for by all
            found = not all(one(session).holds for one in (sealed, untouched))
            return "found" if found or not all(one.holds for one in check(session)) else "unseen"


def test_nothing_that_another_program_does_to_a_row_goes_unseen(do: Do, engine: sa.Engine) -> None:
    _fill(do, engine)
    ways = ["guarded", "unguarded"]
    if engine.dialect.name == "postgresql":
        roles = (files("triptych.migrations") / "roles.sql").read_text(encoding="utf-8")
        with engine.begin() as connection:
            driver: Any = connection.connection.driver_connection
            driver.execute(roles)
        ways.append("seller")
    became: dict[str, list[str]] = {}
    with _plain(engine) as plain:
        with Session(plain) as session:
            assert [finding for finding in check(session) if not finding.holds] == []
        for table in TABLES:
            for told, statement in _changes(plain, table):
                # with the guards it is as with any other row
                for way in ways if "oldest" not in told else ["unguarded"]:
                    became.setdefault(_unseen(plain, statement, table, way), []).append(f"{way}: {told}")
    assert became.get("unseen", []) == []
    # with the guards gone nothing is refused but what the columns themselves bear
    assert len([told for told in became["found"] if told.startswith("unguarded")]) > 500
