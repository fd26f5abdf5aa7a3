"""A way past all that guards a ledger, for tests of what is found afterwards."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from typing import Any

import sqlalchemy as sa


@contextmanager
def unguarded(engine: sa.Engine) -> Iterator[Any]:
    """Give a driver's connection that no trigger, CHECK or foreign key looks at; the triggers stand again after it."""
    if engine.dialect.name == "postgresql":
        import psycopg

        url = engine.url.set(drivername="postgresql").render_as_string(hide_password=False)
        with psycopg.connect(url) as connection:
            connection.execute("SET session_replication_role = replica")
            yield connection
        return
    with closing(sqlite3.connect(str(engine.url.database))) as local, local:
        local.execute("PRAGMA ignore_check_constraints = ON")
        triggers = local.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            local.execute(f"DROP TRIGGER {name}")
        yield local
        for _, sql in triggers:
            local.execute(sql)
