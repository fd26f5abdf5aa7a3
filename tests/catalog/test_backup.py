from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import open_shop, there
from triptych.catalog import stock
from triptych.catalog.database.copies import backup, restore
from triptych.catalog.database.engine import as_url, open_catalogue, open_engine, reading, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.errors import BadInput, CatalogError, DatabaseProblem
from triptych.catalog.stock.proof import check


def test_a_backup_is_whole_while_others_write(sqlite_path: Path, tmp_path: Path) -> None:
    engine = open_engine(as_url(str(sqlite_path)))
    with writing(engine) as session:
        shop = open_shop(session, centres=1)
    done = threading.Event()

    def receive() -> None:
        while not done.is_set():
            with writing(engine) as session:
                stock.record_movement(session, shop.line(quantity=1))

    writer = threading.Thread(target=receive)
    writer.start()
    try:
        for number in range(5):
            backup(engine, tmp_path / f"{number}.db")
    finally:
        done.set()
        writer.join()
        engine.dispose()
    for number in range(5):
        copied = open_catalogue(str(tmp_path / f"{number}.db"))
        with reading(copied) as session:
            assert all(finding.holds for finding in check(session))
            assert there(session, shop) >= 1
        copied.dispose()


def test_a_backup_put_back_is_what_it_was_and_what_was_there_is_kept(sqlite_path: Path, tmp_path: Path) -> None:
    engine, copy = open_engine(as_url(str(sqlite_path))), tmp_path / "copy.db"
    with writing(engine) as session:
        shop = open_shop(session, centres=1)
    backup(engine, copy)
    with pytest.raises(BadInput, match="is there already"):
        backup(engine, copy)
    with writing(engine) as session:
        stock.record_movement(session, shop.line(quantity=4))
        assert there(session, shop) == 5
    with engine.connect() as other:  # somebody reads meanwhile
        assert other.execute(sa.text("SELECT COUNT(*) FROM movement")).scalar() == 2
        kept = restore(engine, copy)
    with reading(engine) as session:
        assert there(session, shop) == 1
    assert kept is not None
    restore(engine, kept)
    with writing(engine) as session:
        assert there(session, shop) == 5
        stock.record_movement(session, shop.line(MovementKind.SELL, 5))
        assert all(finding.holds for finding in check(session))
    engine.dispose()


def _text(path: Path) -> None:
    path.write_text("no database " * 100)


def _foreign(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE stamps (id INTEGER)")


def _of_revision(path: Path, revision: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE alembic_version (version_num TEXT)")
        connection.execute("INSERT INTO alembic_version VALUES (?)", (revision,))


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (_text, "no sound catalogue"),
        (_foreign, "is no catalogue"),
        (lambda path: _of_revision(path, "9999"), "newer than this program"),
        (lambda path: _of_revision(path, "0011"), "this program begins at 0012"),
        (lambda path: path.mkdir(), "no such file"),
        (lambda path: None, "no such file"),
    ],
)
def test_what_is_no_backup_is_refused_and_nothing_changed(sqlite_path: Path, tmp_path: Path, make, told: str) -> None:  # type: ignore[no-untyped-def]  # any maker of a file
    make(tmp_path / "copy.db")
    engine = open_engine(as_url(str(sqlite_path)))
    with pytest.raises(CatalogError, match=told):
        restore(engine, tmp_path / "copy.db")
    with pytest.raises(BadInput, match="is the catalogue itself"):
        restore(engine, sqlite_path)
    with pytest.raises(BadInput, match="is the catalogue itself"):
        backup(engine, sqlite_path, replace=True)
    with pytest.raises(BadInput, match="name a file"):
        backup(engine, tmp_path / "nowhere" / "copy.db")
    engine.dispose()
    assert not list(tmp_path.glob("*before-restore*"))


def test_a_damaged_backup_is_refused(sqlite_path: Path, tmp_path: Path) -> None:
    engine, copy = open_engine(as_url(str(sqlite_path))), tmp_path / "copy.db"
    backup(engine, copy)
    content = bytearray(copy.read_bytes())
    content[8192:16384] = b"\xff" * 8192
    copy.write_bytes(content)
    with pytest.raises(BadInput, match="no sound catalogue"):
        restore(engine, copy)
    engine.dispose()


def test_a_server_has_its_own_tools(postgresql_url: str, tmp_path: Path) -> None:
    server = open_engine(postgresql_url)
    with pytest.raises(DatabaseProblem, match="pg_dump --format=custom"):
        backup(server, tmp_path / "copy.db")
    with pytest.raises(DatabaseProblem, match="pg_restore"):
        restore(server, tmp_path / "copy.db")
    server.dispose()
