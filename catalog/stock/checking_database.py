"""What the database itself must hold: instants that are some, rows that have their parents, and guards that stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Base
from triptych.catalog.database.models.base import UtcTime
from triptych.catalog.database.models.guards import GUARDS
from triptych.catalog.stock.checking_tallies import Finding, Tally

_INSTANT: Final = {
    "sqlite": (
        "({0} IS strftime('%Y-%m-%d %H:%M:%S', substr({0}, 1, 19), '+0 days') || substr({0}, 20)"
        " AND substr({0}, 20) GLOB '.[0-9][0-9][0-9][0-9][0-9][0-9]'"
        " AND {0} >= '0001-01-02' AND {0} < '9999-12-31')"
    ),
    "postgresql": "({0} >= '0001-01-02 00:00:00+00' AND {0} < '9999-12-31 00:00:00+00')",
}
_DAY: Final = {
    "sqlite": "({0} IS date({0}, '+0 days') AND {0} BETWEEN '0001-01-01' AND '9999-12-31')",
    "postgresql": "({0} BETWEEN '0001-01-01' AND '9999-12-31')",
}
"""As the guards take them: what reads as an instant or day in Python, in any time zone."""


def is_real(session: Session, column: sa.Column[Any]) -> sa.ColumnElement[bool]:
    """Give the condition that an instant or a day is a real one."""
    form = _DAY if isinstance(column.type, sa.Date) else _INSTANT
    return sa.literal_column(form[session.get_bind().dialect.name].format(f"{column.table}.{column.name}"), sa.Boolean)


def if_real(session: Session, table: type[Base], name: str) -> sa.ColumnElement[Any]:
    """Give an instant or a day of a table, and NULL where it is none, which could not be read."""
    column = Base.metadata.tables[table.__tablename__].columns[name]
    return sa.case((is_real(session, column), column))


def instants(session: Session) -> Finding:
    """Find instants and days that are none."""
    tally = Tally("every instant and day is a real one")
    for column in _times():
        table = column.table
        known = sa.select(sa.func.count()).select_from(table).where(column.is_not(None))
        tally.checked += session.scalar(known) or 0
        raw = sa.type_coerce(column, sa.String) if _local(session) else sa.cast(column, sa.String)
        query = sa.select(*table.primary_key, raw.label("raw")).where(column.is_not(None), ~is_real(session, column))
        for *key, text in session.execute(query.order_by(*table.primary_key)):
            row = "-".join(map(str, key))
            tally.breaches.append(f"{table.name} {row}: {column.name} {str(text)[:40]!r}")
    return tally.finding()


def _local(session: Session) -> bool:
    return session.get_bind().dialect.name == "sqlite"


def _times() -> Iterator[sa.Column[Any]]:
    for _, table in sorted(Base.metadata.tables.items()):
        yield from (column for column in table.columns if isinstance(column.type, UtcTime | sa.DateTime | sa.Date))


def parents(session: Session) -> Finding:
    """Find rows that name one which is not there."""
    tally = Tally("every row that another one names is there")
    tables = [table for _, table in sorted(Base.metadata.tables.items()) if table.foreign_keys]
    for table in tables:
        tally.checked += session.scalar(sa.select(sa.func.count()).select_from(table)) or 0
    if _local(session):
        for child, number, parent, _ in session.execute(sa.text("PRAGMA foreign_key_check")):
            tally.breaches.append(f"{child} {number}: its {parent} is not there")
    else:
        for table in tables:
            tally.breaches.extend(_orphans(session, table))
    return tally.finding()


def _orphans(session: Session, table: sa.Table) -> Iterator[str]:
    """Look for each parent: on PostgreSQL not every row is held by a constraint, and one can be dropped."""
    for constraint in sorted(table.foreign_key_constraints, key=lambda one: str(one.name)):
        parent = constraint.referred_table.alias()
        pairs = [(element.parent, parent.columns[element.column.name]) for element in constraint.elements]
        there = sa.exists().where(*(ours == theirs for ours, theirs in pairs))
        known = (ours.is_not(None) for ours, _ in pairs)
        query = sa.select(*table.primary_key).where(*known, ~there).order_by(*table.primary_key)
        for key in session.execute(query):
            yield f"{table.name} {'-'.join(map(str, key))}: its {constraint.referred_table.name} is not there"


_STANDING: Final = {
    "sqlite": "SELECT name FROM sqlite_schema WHERE type IN ('trigger', 'index')",
    "postgresql": (
        "SELECT tgname FROM pg_trigger WHERE tgenabled IN ('O', 'A') AND pg_table_is_visible(tgrelid)"
        " UNION SELECT conname FROM pg_constraint WHERE pg_table_is_visible(conrelid)"
        " UNION SELECT c.relname FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid"
        " WHERE i.indisvalid AND pg_table_is_visible(c.oid)"
    ),
}


def guards(session: Session) -> Finding:
    """Find triggers that are missing or switched off."""
    tally = Tally("every guard of the stock stands")
    name = session.get_bind().dialect.name
    standing = set(session.scalars(sa.text(_STANDING[name])))
    for guard in GUARDS[name]:
        tally.see(guard in standing, f"{guard} is missing or switched off")
    return tally.finding()
