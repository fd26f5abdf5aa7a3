"""What the tests spare themselves of the product's own work: built, compiled, migrated once, and without a disk."""

from __future__ import annotations

import functools
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final

import pytest
import sqlalchemy as sa
import typer.main
from sqlalchemy.engine.default import DefaultDialect

from triptych.catalog.database import engine as engines
from triptych.catalog.database.address import sqlite_file

MIGRATE: Final = engines._upgrade
PREPARE: Final = engines._prepare_sqlite
"""The product's own, for tests of just these."""


@contextmanager
def quicker(folder: Path) -> Iterator[None]:
    """Let the product work so while the block lasts; the folder is for what is kept of it."""
    with pytest.MonkeyPatch.context() as patch:
        _build_commands_once(patch)
        _compile_statements_once(patch)
        _copy_new_catalogues(patch, folder / "catalogue.db")
        patch.setattr(engines, "_prepare_sqlite", _prepare_for_a_while)
        yield


def _build_commands_once(patch: pytest.MonkeyPatch) -> None:
    """Build the commands of an application once: building them takes longer than running most of them."""
    once = functools.cache(typer.main.get_command)
    patch.setattr("typer.main.get_command", once)
    patch.setattr("typer.testing._get_command", once)


def _compile_statements_once(patch: pytest.MonkeyPatch) -> None:
    """Let engines of one kind share what they compiled: a command opens its own, and compiles longer than it asks."""
    shared: dict[type, Any] = {}
    create = sa.create_engine

    def sharing(*arguments: Any, **options: Any) -> sa.Engine:
        made = create(*arguments, query_cache_size=5000, **options)
        made._compiled_cache = shared.setdefault(type(made.dialect), made._compiled_cache)
        return made

    patch.setattr(sa, "create_engine", sharing)
    # what is compiled is kept under its dialect: all of a kind are one
    patch.setattr(DefaultDialect, "__eq__", lambda one, other: type(one) is type(other))
    patch.setattr(DefaultDialect, "__hash__", lambda one: hash(type(one)))


def _copy_new_catalogues(patch: pytest.MonkeyPatch, first: Path) -> None:
    """Let a new SQLite catalogue be a copy of the first: migrating it takes longer than most commands do."""

    def upgrade_or_copy(opened: sa.Engine) -> Path | None:
        path = sqlite_file(opened.url)
        if path is None or engines.revision_of(opened) is not None:
            return MIGRATE(opened)
        if first.exists():
            _copy_pages(first, path)
        else:
            MIGRATE(opened)
            _copy_pages(path, first)
        return None

    patch.setattr(engines, "_upgrade", upgrade_or_copy)


def _copy_pages(source: Path, target: Path) -> None:
    with closing(sqlite3.connect(source)) as one, closing(sqlite3.connect(target)) as other:
        other.execute("PRAGMA synchronous = OFF")
        one.backup(other)


def _prepare_for_a_while(connection: Any, record: Any) -> None:
    """Prepare a connection to SQLite that waits for no disk: what a test wrote need not outlive the machine's fall."""
    PREPARE(connection, record)
    connection.execute("PRAGMA synchronous = OFF")
