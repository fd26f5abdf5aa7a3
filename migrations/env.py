"""How Alembic runs here: one write transaction, foreign keys off until the tables are whole again, then checked."""

from __future__ import annotations

from alembic import context
from sqlalchemy import Connection

from triptych.catalog.database.address import as_url, default_url
from triptych.catalog.database.engine import open_engine
from triptych.catalog.database.models import every_table

LOCK = 7_421_903
"""Any number that nothing else locks: on PostgreSQL one migration runs at a time."""


def _configured_url() -> str:
    url = context.config.attributes.get("url") or context.get_x_argument(as_dictionary=True).get("url")
    return as_url(url) if url else default_url()


def _migrate(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=every_table(),
        render_as_batch=True,
        compare_type=True,
        compare_server_default=True,
        transaction_per_migration=False,
    )
    with context.begin_transaction():
        context.run_migrations()


def _migrate_sqlite(connection: Connection) -> None:
    driver = connection.connection.driver_connection
    if driver is None:
        raise RuntimeError("the connection was closed before the migration began")
    # A batch change drops and copies the table, and with foreign keys on that empties its CASCADE children without an
    # error; inside a transaction the pragma does nothing, so it goes to the driver before BEGIN.
    driver.execute("PRAGMA foreign_keys = OFF")
    # A batch change renames its copy, and a rename reads all triggers: one that names the dropped table would stop it.
    driver.execute("PRAGMA legacy_alter_table = ON")
    try:
        with connection.begin():
            _migrate(connection)
            if orphans := connection.exec_driver_sql("PRAGMA foreign_key_check").all():
                raise RuntimeError(f"the migration would leave rows without their parent: {orphans[:5]}")
    finally:
        driver.execute("PRAGMA legacy_alter_table = OFF")
        driver.execute("PRAGMA foreign_keys = ON")


def _migrate_server(connection: Connection) -> None:
    with connection.begin():
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK})")
        _migrate(connection)


def _run(connection: Connection) -> None:
    connection = connection.execution_options(write=True)
    if connection.dialect.name == "sqlite":
        _migrate_sqlite(connection)
    else:
        _migrate_server(connection)


def _print_sql() -> None:
    context.configure(url=_configured_url(), target_metadata=every_table(), literal_binds=True, render_as_batch=True)
    with context.begin_transaction():
        context.run_migrations()


def _main() -> None:
    given = context.config.attributes.get("connection")
    if context.is_offline_mode():
        _print_sql()
    elif given is not None:
        _run(given)
    else:
        engine = open_engine(_configured_url())
        try:
            with engine.connect() as connection:
                _run(connection)
        finally:
            engine.dispose()


_main()
