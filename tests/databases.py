"""Engines on both databases. Every test database is migrated to head, from a template that is migrated once.

A plugin and no conftest, as what it brings in is of no use to the process that only spreads tests over workers.
"""

from __future__ import annotations

import glob
import itertools
import os
import shutil
import subprocess
import tempfile
import uuid
import warnings
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import sqlalchemy as sa
from _pytest.tmpdir import tmppath_result_key

from tests.collecting import QUICK
from tests.quicker import quicker
from tests.server_catalogue import ServerCatalogue
from triptych.catalog.database.address import as_url
from triptych.catalog.database.candidates import candidate_columns
from triptych.catalog.database.engine import open_engine, reading, upgrade, writing
from triptych.catalog.database.profiles import save_profiles
from triptych.recommender.advise.catalogue import loudspeakers_of
from triptych.recommender.advise.voices import VoiceBook
from triptych.recommender.api import Catalogue


@pytest.fixture(scope="session", autouse=True)
def _quicker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with quicker(tmp_path_factory.mktemp("first")):
        yield


class RunningServer(NamedTuple):
    """A PostgreSQL that was started here: `stop` ends all its connections at once, `start` brings it back."""

    url: str
    stop: Callable[[], Any]
    start: Callable[[], Any]


def _run_as_postgres(command: list[str], folder: Path, *, check: bool = True) -> None:
    # PostgreSQL refuses to run as root.
    prefix = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    subprocess.run([*prefix, *command], check=check, cwd=folder, stdout=subprocess.DEVNULL)


@contextmanager
def _own_server(binaries: Path, *, durable: bool) -> Iterator[RunningServer]:
    folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))  # the path of a socket has 107 characters at most
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres")
    control = [str(binaries / "pg_ctl"), "-D", f"{folder}/data", "-w", "-s"]
    options = f"-c listen_addresses='' -k {folder}"
    if not durable:
        options += " -c fsync=off -c full_page_writes=off -c synchronous_commit=off -c autovacuum=off"
    try:
        make = ["-A", "trust", "-U", "postgres", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8"]
        _run_as_postgres([str(binaries / "initdb"), "-D", f"{folder}/data", *make], folder)
        start = partial(_run_as_postgres, [*control, "-l", f"{folder}/log", "-o", options, "start"], folder)
        start()
        stop = partial(_run_as_postgres, [*control, "-m", "fast", "stop"], folder)
        yield RunningServer(as_url(f"postgresql://postgres@/postgres?host={folder}"), stop, start)
    finally:
        _run_as_postgres([*control, "-m", "immediate", "stop"], folder, check=False)
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def _wheel_server() -> Iterator[RunningServer]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of folders that a server for tests does without
        import pgserver

        folder = tempfile.mkdtemp(prefix="pg", dir="/tmp")
        server = pgserver.get_server(folder, cleanup_mode="delete")  # type: ignore[attr-defined]  # it has no __all__
    try:
        # it has the same user and folder as those that started it
        stop = partial(pgserver.pg_ctl, ["-m", "fast", "-w", "stop"], server.pgdata, user=server.system_user)  # type: ignore[attr-defined]  # it has no __all__
        yield RunningServer(as_url(server.get_uri()), stop, server.ensure_postgres_running)
    finally:
        server.cleanup()


def any_server(*, durable: bool = False) -> Iterator[str]:
    """Give a server that databases may be made on: the one named, the machine's own, or the wheel's.

    With `durable` it brings each commit to the disk, as it comes; else tests are faster.
    """
    if named := os.environ.get("TRIPTYCH_TEST_PG_URL"):
        yield as_url(named)
        return
    with server_of_ours(durable=durable) as server:
        yield server.url


def server_of_ours(*, durable: bool = False) -> AbstractContextManager[RunningServer]:
    """Give a server that is started for it, and may be stopped and started again: the machine's own, or the wheel's."""
    found = sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"))
    if found and (os.geteuid() != 0 or shutil.which("runuser")):
        return _own_server(Path(found[-1]).parent, durable=durable)
    return _wheel_server()


@pytest.fixture(scope="session")
def postgresql_url(pytestconfig: pytest.Config) -> Iterator[str]:
    """Give a server that tests may make databases on."""
    assert pytestconfig.getoption("markexpr") != QUICK, "a test that asks for a server is marked `server`"
    yield from any_server()


def on_server(url: str, statement: str) -> None:
    server = open_engine(url).execution_options(isolation_level="AUTOCOMMIT")
    with server.connect() as connection:
        connection.exec_driver_sql(statement)
    server.dispose()


def beside(url: str, name: str) -> str:
    return sa.make_url(url).set(database=name).render_as_string(hide_password=False)


@pytest.fixture(scope="session")
def postgresql_template(postgresql_url: str) -> Iterator[str]:
    name = f"template_{uuid.uuid4().hex[:8]}"
    on_server(postgresql_url, f"CREATE DATABASE {name}")
    engine = open_engine(beside(postgresql_url, name))
    upgrade(engine)
    engine.dispose()
    yield name
    on_server(postgresql_url, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def tmp_path(request: pytest.FixtureRequest, _folders: Iterator[Path]) -> Iterator[Path]:
    """Give a folder of the test's own, as pytest's does, which looks through all the others to find the next number.

    Where the test passed it goes at once: together they would be deleted at the end, when nothing else is left to do.
    """
    path = next(_folders)
    path.mkdir(0o700)
    yield path
    if request.node.stash[tmppath_result_key].get("call", False):
        shutil.rmtree(path, ignore_errors=True)


@pytest.fixture(scope="session")
def _folders(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    top = tmp_path_factory.mktemp("own")
    return (top / str(number) for number in itertools.count())


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("template") / "catalogue.db"
    engine = open_engine(as_url(str(path)))
    upgrade(engine)
    engine.dispose()
    return path


@pytest.fixture(scope="session")
def seeded_template(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a SQLite file with the seed data and their acoustic profiles, to be copied."""
    path = Path(shutil.copy(sqlite_template, tmp_path_factory.mktemp("seeded") / "catalogue.db"))
    engine = open_engine(as_url(str(path)))
    Catalogue(engine).import_demo()
    with reading(engine) as session:
        found = loudspeakers_of(candidate_columns(session))
        book = VoiceBook(session, found)
        book.of(np.arange(len(found.names)))
    with writing(engine) as session:
        save_profiles(session, book.fresh)
    engine.dispose()
    return path


@pytest.fixture
def sqlite_path(sqlite_template: Path, tmp_path: Path) -> Path:
    """Give a migrated SQLite file of the test's own."""
    return Path(shutil.copy(sqlite_template, tmp_path / "catalogue.db"))


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Give the URL of a database without tables, on either engine."""
    if request.param == "sqlite":
        yield as_url(str(tmp_path / "empty.db"))
        return
    server = request.getfixturevalue("postgresql_url")
    name = f"test_{uuid.uuid4().hex[:8]}"
    on_server(server, f"CREATE DATABASE {name}")
    yield beside(server, name)
    on_server(server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def _one_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sa.Engine]:
    opened = open_engine(as_url(str(tmp_path_factory.mktemp("engine") / "catalogue.db")))
    yield opened
    opened.dispose()


@pytest.fixture(scope="session")
def one_postgresql(postgresql_url: str, postgresql_template: str) -> Iterator[ServerCatalogue]:
    name = f"test_{uuid.uuid4().hex[:8]}"
    kept = ServerCatalogue(
        open_engine(beside(postgresql_url, name)),
        partial(on_server, postgresql_url, f"CREATE DATABASE {name} TEMPLATE {postgresql_template}"),
        partial(on_server, postgresql_url, f"DROP DATABASE IF EXISTS {name} WITH (FORCE)"),
    )
    yield kept
    kept.take_away()


def fresh_sqlite(opened: sa.Engine, template: Path) -> Iterator[sa.Engine]:
    path = Path(str(opened.url.database))
    shutil.copy(template, path)
    yield opened
    opened.dispose()
    for left in path.parent.glob(f"{path.name}*"):
        left.unlink()


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest) -> Iterator[sa.Engine]:
    """Give an engine on an empty catalogue, on either engine.

    The catalogue is the test's own. The engine is the session's: a new one would compile every statement again.
    """
    have = request.getfixturevalue
    if request.param == "sqlite":
        yield from fresh_sqlite(have("_one_sqlite"), have("sqlite_template"))
    else:
        yield from have("one_postgresql").given()
