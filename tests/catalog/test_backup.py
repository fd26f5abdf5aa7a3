from __future__ import annotations

import itertools
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path

import pytest

from tests.catalog.stock_shop import CENTRE, open_shop, there
from triptych.catalog import stock
from triptych.catalog.database import copies
from triptych.catalog.database.address import as_url
from triptych.catalog.database.copies import backup, restore
from triptych.catalog.database.engine import open_catalogue, open_engine, reading, writing
from triptych.catalog.database.models import MovementKind
from triptych.catalog.errors import BadInput, CatalogError, DatabaseProblem
from triptych.catalog.stock import desk
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check


@pytest.mark.crowd
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


@pytest.mark.slow
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


@pytest.mark.slow
def test_a_catalogue_that_is_in_use_is_not_replaced(
    sqlite_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copies, "_PATIENCE", 0.2)
    engine, other, copy = (
        open_engine(as_url(str(sqlite_path))),
        open_engine(as_url(str(sqlite_path))),
        tmp_path / "c.db",
    )
    with writing(engine) as session:
        shop = open_shop(session, centres=1)
    backup(engine, copy)
    with reading(other) as session:
        assert there(session, shop) == 1
    # it does nothing now, but has it open, and could write at any moment
    with pytest.raises(DatabaseProblem, match=r"let all programs that use it end.*nothing was changed"):
        restore(engine, copy)
    with writing(other) as session:
        stock.record_movement(session, shop.line())
    assert not list(tmp_path.glob("*before-restore*"))
    other.dispose()
    restore(engine, copy)
    engine.dispose()


@pytest.mark.processes
def test_no_movement_is_lost_between_what_is_kept_and_what_replaces_it(sqlite_path: Path, tmp_path: Path) -> None:
    """Each command opens the catalogue anew: what it was told is written is in the copy that is kept, or in the new."""
    engine, copy = open_engine(as_url(str(sqlite_path))), tmp_path / "copy.db"
    with writing(engine) as session:
        open_shop(session, centres=1)
    backup(engine, copy)
    told: list[str] = []
    done = threading.Event()

    def receive(seed: int) -> None:
        for number in itertools.count():
            if done.is_set():
                return
            own = open_catalogue(str(sqlite_path))
            serial = f"{seed}-{number}"
            try:
                desk.receive(own, Request(CENTRE.name, "shop", serial=serial))
                told.append(serial)
            except DatabaseProblem:
                pass
            finally:
                own.dispose()
            time.sleep(0.1)

    clerks = [threading.Thread(target=receive, args=(seed,)) for seed in range(2)]
    for clerk in clerks:
        clerk.start()
    kept: list[Path] = []
    try:
        for _ in range(8):
            with suppress(DatabaseProblem):
                kept.append(restore(engine, copy) or sqlite_path)
    finally:
        done.set()
        for clerk in clerks:
            clerk.join()
    engine.dispose()
    found: set[str] = set()
    for path in (*kept, sqlite_path):
        with closing(sqlite3.connect(path)) as connection:
            found |= {row[0] for row in connection.execute("SELECT serial FROM movement WHERE serial IS NOT NULL")}
    assert kept, "it was never put back"
    assert len(told) > 2
    assert set(told) <= found


def _pages(content: bytearray) -> None:
    content[8192:16384] = b"\xff" * 8192


def _header(content: bytearray) -> None:
    content[:100] = bytes(100)


def _half(content: bytearray) -> None:
    del content[len(content) // 2 :]


@pytest.mark.slow
@pytest.mark.parametrize("damage", [_pages, _header, _half])
def test_a_copy_takes_the_place_of_a_damaged_file_which_is_kept(
    sqlite_path: Path, tmp_path: Path, damage: Callable[[bytearray], None]
) -> None:
    engine, copy = open_engine(as_url(str(sqlite_path))), tmp_path / "copy.db"
    with writing(engine) as session:
        shop = open_shop(session, centres=3)
    backup(engine, copy)
    engine.dispose()
    content = bytearray(sqlite_path.read_bytes())
    damage(content)
    sqlite_path.write_bytes(content)
    kept = restore(engine, copy)
    assert kept is not None
    assert "damaged" in kept.name
    # its header says how it was locked, which was tried
    assert kept.read_bytes()[100:] == content[100:]
    with reading(engine) as session:
        assert there(session, shop) == 3
    engine.dispose()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted([copy.name, kept.name, sqlite_path.name])


def test_a_damaged_file_is_told_by_the_check_of_the_stock(sqlite_path: Path) -> None:
    engine = open_engine(as_url(str(sqlite_path)))
    with writing(engine) as session:
        open_shop(session, centres=3)
    engine.dispose()
    content = bytearray(sqlite_path.read_bytes())
    # a page of an index: the tables read as before
    with closing(sqlite3.connect(sqlite_path)) as connection:
        query = "SELECT rootpage FROM sqlite_schema WHERE type = 'index' AND name = 'ix_reservation_live'"
        page, size = connection.execute(query).fetchone()[0], connection.execute("PRAGMA page_size").fetchone()[0]
    content[(page - 1) * size : page * size] = b"\xff" * size
    sqlite_path.write_bytes(content)
    with reading(engine) as session:
        found = {finding.invariant: finding for finding in check(session)}
    assert not found["the file is whole, page by page"].holds
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
    with pytest.raises(BadInput, match="there is no folder"):
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
