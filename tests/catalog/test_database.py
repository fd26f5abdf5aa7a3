from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.quicker import PREPARE
from triptych.catalog.database import engine as engines
from triptych.catalog.database.address import as_url, default_url
from triptych.catalog.database.engine import (
    copy_sqlite,
    open_catalogue,
    open_engine,
    reading,
    revision_of,
    writing,
)
from triptych.catalog.database.models import Maker
from triptych.catalog.errors import BadInput, DatabaseProblem
from triptych.migrations import HEAD

MAKER = sa.insert(Maker).values(name="Oatfell", name_key="oatfell")
MAKERS = sa.select(sa.func.count()).select_from(Maker)


def _set_revision(path: Path, revision: str) -> None:
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (revision,))


@pytest.mark.parametrize("name", ["shop.db", "a b.db", "50%.db", "50%20.db", "é ½.db"])
def test_a_file_of_any_name_is_created_and_opened_again(tmp_path: Path, name: str) -> None:
    for _ in range(2):
        engine = open_catalogue(str(tmp_path / name))
        assert revision_of(engine) == HEAD
        engine.dispose()
    assert (tmp_path / name).is_file()


def test_a_url_is_made_of_what_people_write(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/home/me")
    assert as_url("~/c.db") == "sqlite:////home/me/c.db"
    assert as_url("postgres://h/n") == as_url("postgresql://h/n") == "postgresql+psycopg://h/n"
    assert as_url("sqlite:///x.db") == "sqlite:///x.db"


def test_the_default_is_the_variable_or_a_file_of_the_user(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("TRIPTYCH_DB", "x.db")
    assert default_url() == "sqlite:///x.db"
    monkeypatch.delenv("TRIPTYCH_DB")
    monkeypatch.setattr("platformdirs.user_data_path", lambda name, appauthor: tmp_path / "new" / name)
    assert sa.make_url(default_url()).database == str(tmp_path / "new" / "triptych" / "catalogue.db")
    for named in (None, default_url()):
        open_catalogue(named).dispose()
    assert (tmp_path / "new" / "triptych" / "catalogue.db").is_file()


def _text_file(folder: Path) -> str:
    (folder / "notes.txt").write_text("these are notes, and they are longer than a header\n" * 20)
    return str(folder / "notes.txt")


def _other_program(folder: Path) -> str:
    with closing(sqlite3.connect(folder / "other.db")) as connection:
        connection.execute("CREATE TABLE stamps (id INTEGER)")
    return str(folder / "other.db")


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (_text_file, r"notes\.txt.*not a database.*name another file"),
        (_other_program, r"other\.db.*not a catalogue's \(stamps\)"),
        (lambda folder: str(folder / "nowhere" / "c.db"), r"there is no folder .*nowhere: create it"),
        (lambda folder: str(folder), r"is a folder: name a file"),
        (lambda folder: " ", r"has no name"),
        (lambda folder: "mysql://h/n", r"only SQLite and PostgreSQL"),
        (lambda folder: "nonsense://", r"nonsense"),
        (lambda folder: "postgresql://:x:y/n", r"is not the URL|see that the server runs"),
        (lambda folder: f"postgresql://me:secret@/n?host={folder}", r"see that the server runs"),
    ],
)
def test_a_database_that_cannot_be_opened_says_how_to_mend_it(tmp_path: Path, make: object, told: str) -> None:
    assert callable(make)
    with pytest.raises(DatabaseProblem, match=told) as problem:
        open_catalogue(make(tmp_path))
    assert "\n" not in str(problem.value)
    assert "secret" not in str(problem.value)


def test_a_folder_that_may_not_be_written_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)  # the tests may run as root, who may write everywhere
    with pytest.raises(DatabaseProblem, match="you may not write in"):
        open_catalogue(str(tmp_path / "c.db"))


def test_a_missing_database_on_a_server_is_named(postgresql_url: str) -> None:
    url = sa.make_url(postgresql_url).set(database="not_there").render_as_string(hide_password=False)
    with pytest.raises(DatabaseProblem, match=r"not_there.*create it first"):
        open_catalogue(url)


def test_a_database_of_a_newer_program_is_left_alone(sqlite_path: Path) -> None:
    _set_revision(sqlite_path, "9999")
    before = sqlite_path.read_bytes()
    with pytest.raises(DatabaseProblem, match=r"revision 9999, newer than this program.*update triptych"):
        open_catalogue(str(sqlite_path))
    assert sqlite_path.read_bytes() == before


@pytest.mark.processes
def test_a_database_from_before_the_first_step_is_told_how_to_go_on_and_left_alone(sqlite_path: Path) -> None:
    _set_revision(sqlite_path, "0011")
    before = sqlite_path.read_bytes()
    listed = subprocess.run(
        [
            sys.executable,
            "-c",
            "from triptych.recommender.cli import main; main()",
            "speaker",
            "list",
            "--db",
            sqlite_path,
        ],
        capture_output=True,
        text=True,
    )
    assert (listed.returncode, listed.stdout) == (1, "")
    assert "has revision 0011, and this program begins at 0012: upgrade it first" in " ".join(listed.stderr.split())
    assert "Traceback" not in listed.stderr
    assert sqlite_path.read_bytes() == before
    assert [path.name for path in sqlite_path.parent.iterdir()] == [sqlite_path.name]


def test_a_copy_that_cannot_be_laid_leaves_no_half(sqlite_path: Path, tmp_path: Path) -> None:
    engine = open_engine(as_url(str(sqlite_path)))
    with pytest.raises(BadInput, match="there is no folder"):
        copy_sqlite(engine, tmp_path / "nowhere" / "copy.db")
    engine.dispose()


@pytest.mark.processes
def test_a_catalogue_at_head_is_opened_without_alembic(sqlite_path: Path) -> None:
    code = (
        "import sys; from triptych.catalog.database.engine import open_catalogue; "
        "open_catalogue(sys.argv[1]).dispose(); "
        "heavy = ('alembic', 'triptych.catalog.database.models', 'numpy', 'pandas'); "
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(sqlite_path)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_write_is_whole_or_not_at_all(engine: sa.Engine) -> None:
    def fail_half_way() -> None:
        with writing(engine) as session:
            session.execute(MAKER)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail_half_way()
    with reading(engine) as session:
        assert session.scalar(MAKERS) == 0
    with writing(engine) as session:
        session.execute(MAKER)
    with reading(engine) as session:
        assert session.scalar(MAKERS) == 1


def test_a_read_cannot_write_and_the_next_write_can(engine: sa.Engine) -> None:
    with pytest.raises((DatabaseProblem, sa.exc.DBAPIError), match=r"readonly|read-only"), reading(engine) as session:
        session.execute(MAKER)
    with writing(engine) as session:
        session.execute(MAKER)


def test_who_read_and_rolled_back_leaves_no_connection_that_cannot_write(sqlite_path: Path) -> None:
    engine = open_catalogue(str(sqlite_path))
    with reading(engine), reading(engine):
        pass  # two connections wait for the next
    for number in range(4):
        with reading(engine) as session:
            session.rollback()
        with writing(engine) as session:
            session.add(Maker(name=f"Oatfell {number}", name_key=f"oatfell {number}"))
    engine.dispose()


def test_sqlite_is_opened_with_its_safeguards(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "_prepare_sqlite", PREPARE)
    engine = open_engine(as_url(str(sqlite_path)))
    with engine.connect() as connection:
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("foreign_keys", "journal_mode", "busy_timeout", "synchronous")
        }
    engine.dispose()
    assert pragmas == {"foreign_keys": 1, "journal_mode": "wal", "busy_timeout": 30_000, "synchronous": 2}


def test_writers_wait_for_each_other(engine: sa.Engine) -> None:
    with writing(engine) as session:
        session.execute(MAKER)
    failures: list[BaseException] = []

    def lengthen() -> None:
        try:
            for _ in range(10):
                with writing(engine) as session:
                    name = session.scalar(sa.select(Maker.name).with_for_update())
                    session.execute(sa.update(Maker).values(name=f"{name}+"))
        except BaseException as failure:
            failures.append(failure)

    threads = [threading.Thread(target=lengthen) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    with reading(engine) as session:
        assert session.scalar(sa.select(Maker.name)) == "Oatfell" + "+" * 40


@pytest.mark.processes
def test_processes_that_create_the_same_catalogue_at_once_all_get_it(empty_url: str) -> None:
    code = (
        "import sys; from triptych.catalog.database.engine import open_catalogue; open_catalogue(sys.argv[1]).dispose()"
    )
    command = [sys.executable, "-c", code, empty_url]
    running = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    said = [process.communicate()[1] for process in running]
    made = f"made a new catalogue at {empty_url.removeprefix('sqlite:///')}\n"
    assert sorted(said) == ["", made if empty_url.startswith("sqlite") else ""]
    engine = open_engine(empty_url)
    assert revision_of(engine) == HEAD
    engine.dispose()
