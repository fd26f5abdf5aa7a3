"""One catalogue on a PostgreSQL for many tests: emptied after each, made anew where one changed more than rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import sqlalchemy as sa

SCHEMA = """SELECT concat_ws(' ',
  (SELECT sum(hashtextextended(concat(oid, relname, relacl, relkind), 0)) FROM pg_class),
  (SELECT sum(hashtextextended(concat(attrelid, attnum, xmin), 0)) FROM pg_attribute),
  (SELECT sum(hashtextextended(concat(oid, xmin), 0)) FROM pg_trigger),
  (SELECT sum(hashtextextended(concat(oid, xmin), 0)) FROM pg_constraint),
  (SELECT sum(hashtextextended(concat(oid, xmin), 0)) FROM pg_proc),
  (SELECT sum(hashtextextended(concat(oid, xmin), 0)) FROM pg_namespace),
  (SELECT sum(hashtextextended(setting::text, 0)) FROM pg_db_role_setting AS setting),
  (SELECT count(*) FROM pg_statistic),
  (SELECT string_agg(version_num, ' ') FROM alembic_version))"""
"""Everything of a database that is no row of a catalogue, statistics included, as one text."""

WRITTEN = """SELECT string_agg(oid::regclass::text, ', ') FROM pg_class WHERE relkind = 'r'
  AND relnamespace = 'public'::regnamespace AND relname <> 'alembic_version' AND pg_relation_size(oid) > 0"""

OTHERS_GONE = """SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity
  WHERE datname = current_database() AND pid <> pg_backend_pid()"""


class ServerCatalogue:
    """A migrated catalogue that is given away again and again, always empty.

    Making a database and taking it away costs the server more than most tests do, and so does what each new connection
    reads of the tables before its first statement: an engine that has one connection keeps it.
    """

    def __init__(self, opened: sa.Engine, make: Callable[[], None], drop: Callable[[], None]) -> None:
        self._opened, self._make, self._drop = opened, make, drop
        self._schema: str | None = None

    def given(self) -> Iterator[sa.Engine]:
        """Give the engine for one test."""
        if self._schema is None:
            self._make()
            self._schema = self._read_schema()
        yield self._opened
        if self._opened.pool.status() != self._kept:
            self._opened.dispose()
        if not self._emptied():
            self.take_away()

    def take_away(self) -> None:
        """Drop the database, if it is there."""
        self._opened.dispose()
        if self._schema is not None:
            self._drop()
            self._schema = None

    def _read_schema(self) -> str:
        with self._opened.connect() as connection:
            found = str(connection.exec_driver_sql(SCHEMA).scalar_one())
        self._kept = self._opened.pool.status()
        return found

    def _emptied(self) -> bool:
        """Whether the catalogue is again what it was when it was made."""
        alone = self._opened.execution_options(isolation_level="AUTOCOMMIT")
        try:
            with alone.connect() as connection:
                for statement in ("RESET SESSION AUTHORIZATION", "RESET ALL", "SELECT pg_advisory_unlock_all()"):
                    connection.exec_driver_sql(statement)
                connection.exec_driver_sql(OTHERS_GONE)
                if connection.exec_driver_sql(SCHEMA).scalar_one() != self._schema:
                    return False
                if written := connection.exec_driver_sql(WRITTEN).scalar_one():
                    # what refuses to empty a ledger is a trigger
                    connection.exec_driver_sql("SET session_replication_role = replica")
                    connection.exec_driver_sql(f"TRUNCATE {written} RESTART IDENTITY CASCADE")
                    connection.exec_driver_sql("RESET session_replication_role")
            return True
        except sa.exc.DBAPIError:
            return False
