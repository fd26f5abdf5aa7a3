"""Where a catalogue is opened: slips, rights, media that are only read, and URLs with something to hide."""

from __future__ import annotations

import logging
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from triptych.catalog.database.address import as_url, open_to_read
from triptych.catalog.database.copies import backup, restore
from triptych.catalog.database.engine import open_catalogue, open_engine, reading, writing
from triptych.catalog.database.models import Maker
from triptych.catalog.errors import BadInput, CatalogError, DatabaseProblem

MAKER = sa.insert(Maker).values(name="Oatfell", name_key="oatfell")
SECRET = "s3cr3t"


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.slow
def test_a_new_catalogue_is_said_and_is_its_owners_alone(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    path = tmp_path / "shop.db"
    with caplog.at_level(logging.WARNING):
        engine = open_catalogue(str(path))
        open_catalogue(str(path)).dispose()
        open_catalogue(str(tmp_path / "silent.db"), quiet=True).dispose()
    assert [record.getMessage() for record in caplog.records] == [f"made a new catalogue at {path}"]
    with writing(engine) as session:
        session.execute(MAKER)
        assert {mode(one) for one in tmp_path.glob("shop.db*")} == {0o600}
    backup(engine, tmp_path / "copy.db")
    kept = restore(engine, tmp_path / "copy.db")
    assert kept is not None
    assert mode(tmp_path / "copy.db") == mode(kept) == 0o600
    path.chmod(0o660)
    backup(engine, tmp_path / "copy.db", replace=True)
    assert mode(tmp_path / "copy.db") == 0o660
    engine.dispose()


NEARLY = "shpo.db", "Shop.db", "shop.sqlite", "shops.db", "sho.db"
OTHERS = (
    ("shop 1.db", "shop 2.db"),
    ("a.db", "b.db"),
    ("old.db", "new.db"),
    ("copy.db", "shop.db"),
    ("is.txt", "si.txt"),
)


@pytest.mark.parametrize(("there", "meant"), [*(("shop.db", one) for one in NEARLY), ("catalogue.db", "catalog.db")])
def test_a_name_that_is_nearly_that_of_another_is_a_slip(tmp_path: Path, there: str, meant: str) -> None:
    open_catalogue(str(tmp_path / there), quiet=True).dispose()
    with pytest.raises(DatabaseProblem, match=f"is not there, and {there} is"):
        open_catalogue(str(tmp_path / meant))
    assert [one.name for one in tmp_path.iterdir()] == [there]
    (tmp_path / meant).touch()
    open_catalogue(str(tmp_path / meant)).dispose()


def test_what_fills_a_catalogue_makes_it_and_names_the_one_beside_it(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The contract: a missing database is created. A slip where something is written is told, and nothing is lost."""
    open_catalogue(str(tmp_path / "d12.db"), quiet=True).dispose()
    open_catalogue(str(tmp_path / "d12w.db"), fresh=True).dispose()
    assert (tmp_path / "d12w.db").is_file()
    assert "d12.db is beside it, if that was meant" in caplog.text


@pytest.mark.parametrize(("there", "meant"), OTHERS)
def test_a_name_of_its_own_is_none(tmp_path: Path, there: str, meant: str) -> None:
    if there.endswith(".x"):
        (tmp_path / there).write_text("no database")
    else:
        open_catalogue(str(tmp_path / there), quiet=True).dispose()
    open_catalogue(str(tmp_path / meant)).dispose()
    assert (tmp_path / meant).is_file()


def test_a_path_on_which_no_catalogue_can_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "text.db").write_text("no database " * 100)
    os.mkfifo(tmp_path / "pipe.db")
    for name, told in [("no/shop.db", "there is no folder"), ("", "is a folder"), ("text.db", "not a database"),
                       ("pipe.db", "a device or a pipe"), ("x" * 300, "name")]:  # fmt: skip
        with pytest.raises(DatabaseProblem, match=told):
            open_catalogue(str(tmp_path / name))
    assert sorted(one.name for one in tmp_path.iterdir()) == ["pipe.db", "text.db"]


@pytest.mark.processes
def test_a_disk_that_is_full_keeps_nothing_of_a_new_catalogue(tmp_path: Path) -> None:
    code = (
        "import resource, sys; from triptych.catalog.database.engine import open_catalogue\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))\n"
        "try: open_catalogue(sys.argv[1])\n"
        "except Exception as problem: sys.exit(type(problem).__name__)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path / "a.db")], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (1, "DatabaseProblem\n")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("log_waits", [False, True])
def test_what_can_only_be_read_is_read_and_nothing_made_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, log_waits: bool
) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    engine = open_catalogue(str(shop / "shop.db"), quiet=True)
    with writing(engine) as session:
        session.execute(MAKER)
    medium = tmp_path / "medium"
    if log_waits:
        shutil.copytree(shop, medium)
    engine.dispose()
    if not log_waits:
        shutil.copytree(shop, medium)
    before = {one.name: one.read_bytes() for one in medium.iterdir()}
    writes = os.access
    # root may write whatever its rights say, so the medium is played
    monkeypatch.setattr(
        "triptych.catalog.database.address.os.access", lambda path, what: what != os.W_OK and writes(path, what)
    )
    engine = open_catalogue(str(medium / "shop.db"))
    with reading(engine) as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Maker)) == 1
    with pytest.raises(DatabaseProblem, match=r"readonly.*see that you may write"), writing(engine) as session:
        session.execute(sa.delete(Maker))
    if not log_waits:
        backup(engine, tmp_path / "copy.db")
    engine.dispose()
    assert {one.name: one.read_bytes() for one in medium.iterdir() if not one.name.endswith("-shm")} == {
        name: content for name, content in before.items() if not name.endswith("-shm")
    }


def test_a_medium_with_an_older_catalogue_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    open_catalogue(str(tmp_path / "shop.db"), quiet=True).dispose()
    monkeypatch.setattr("triptych.catalog.database.engine.HEAD", "a newer one")
    monkeypatch.setattr("triptych.catalog.database.address.os.access", lambda path, what: what != os.W_OK)
    with pytest.raises(DatabaseProblem, match="may only be read: copy it"):
        open_catalogue(str(tmp_path / "shop.db"))


@pytest.mark.skipif(os.geteuid() != 0, reason="mounting needs root")
@pytest.mark.processes
def test_a_medium_that_is_mounted_to_be_read(tmp_path: Path) -> None:
    disk, seen = tmp_path / "disk", tmp_path / "seen"
    for folder in (disk, seen):
        folder.mkdir()
    open_catalogue(str(disk / "shop.db"), quiet=True).dispose()
    code = "from triptych.recommender.cli import main; main()"
    program = [sys.executable, "-c", code, "room", "list", "--db", str(seen / "shop.db")]
    script = f'mount --bind {disk} {seen} && mount -o remount,ro,bind {seen} || exit 77; exec "$@"'
    done = subprocess.run(["unshare", "--mount", "sh", "-c", script, "sh", *program], capture_output=True, text=True)
    if done.returncode == 77 or "unshare" in done.stderr:
        pytest.skip("this machine lets nobody mount")
    assert (done.returncode, "no room yet" in done.stderr + done.stdout) == (0, True)
    assert [one.name for one in disk.iterdir()] == ["shop.db"]


def test_restore_takes_only_a_catalogue(tmp_path: Path) -> None:
    engine = open_engine(as_url(str(tmp_path / "shop.db")))
    (tmp_path / "empty.db").touch()
    (tmp_path / "text.db").write_text("a text")
    for name, table in (("stamps.db", "stamps"), ("other.db", "alembic_version")):
        with closing(sqlite3.connect(tmp_path / name)) as connection, connection:
            connection.execute(f"CREATE TABLE {table} (version_num TEXT)")
            connection.execute(f"INSERT INTO {table} VALUES ('0012')")
    for name in ("empty.db", "text.db", "stamps.db", "other.db"):
        with pytest.raises(BadInput, match=r"name a(nother copy| file that triptych backup wrote)"):
            restore(engine, tmp_path / name)
    engine.dispose()
    assert not (tmp_path / "shop.db").exists()


@pytest.mark.parametrize(
    "url",
    [
        "postgresql://u:{}@h:port/db",
        "postgresql://u:{}@h@host/db",
        "postgresql://u:p@{}@host/db",
        "postgresql://u:p@{}/x@host/db",
        "postgresql://u:p@s?{}@127.0.0.1:1/db",
        "postgresql://u:{}",
        "postgresql://u:{}@[::1/db",
        "postgresql://u:{}@127.0.0.1:99999/db",
        "postgresql://u:a/{}@127.0.0.1:1/db",
        "postgresql://u@127.0.0.1:1/db?password={}",
        "postgresql://127.0.0.1:1/db?passfile={}",
        "postgresql://127.0.0.1:1/db?sslpassword={}&sslmode={}",
        "postgresql://u:{}@127.0.0.1:1/db?nonsense={}",
        "postgresql://u:{}@127.0.0.1:1/db?host=a,b&port={}",
        "postgresql+nope://u:{}@h/db",
        "mysql://u:{}@h/db",
        "sqlite:///x.db?password={}",
        "sqlite://u:{}@/x.db",
        "postgresql:/u:{}@host/db",
        "u:{}@host/db",
        "host=127.0.0.1 password={}",
        "://u:{}@h",
    ],
)
def test_no_error_tells_a_password(url: str, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO), pytest.raises(CatalogError) as told:
        open_catalogue(url.replace("{}", SECRET)).dispose()
    assert SECRET not in str(told.value) + caplog.text
    assert "\n" not in str(told.value)


def test_a_file_that_is_only_read_is_never_written(tmp_path: Path) -> None:
    open_catalogue(str(tmp_path / "a ?#%.db"), quiet=True).dispose()
    connection = open_to_read(tmp_path / "a ?#%.db")
    with closing(connection), pytest.raises(sqlite3.OperationalError, match="readonly"):
        connection.execute("DELETE FROM room")
