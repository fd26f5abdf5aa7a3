"""Engines on both databases. Every test database is migrated to head, from a template that is migrated once."""

from __future__ import annotations

import gc
import glob
import os
import re
import shutil
import subprocess
import tempfile
import uuid
import warnings
from collections.abc import Callable, Generator, Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
import sqlalchemy as sa
from _pytest.doctest import DoctestModule
from _pytest.runner import runtestprotocol
from hypothesis import settings

from tests.quicker import quicker
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, reading, upgrade, writing
from triptych.catalog.database.reads import candidate_columns
from triptych.catalog.database.writes import save_profiles
from triptych.recommender.advise.catalogue import loudspeakers_of
from triptych.recommender.advise.voices import VoiceBook
from triptych.recommender.api import Catalogue

# how long an example takes tells of the machine and its load, not of the code; every run draws others
settings.register_profile("few", deadline=None, max_examples=30, database=None)
settings.register_profile("many", deadline=None, max_examples=100, database=None)
settings.register_profile("most", deadline=None, max_examples=750, database=None)
settings.load_profile(os.environ.get("TRIPTYCH_TEST_EXAMPLES", "few"))


def example_count(part: float) -> int:
    """Give a part of the examples that a run draws, for tests of which each takes long."""
    return round(settings().max_examples * part)


BROWSER_TESTS = "*_in_browser.py"
"""Tests that drive a headless Chromium. They are left out, and said to be, where there is none and none is demanded."""


SLOW = ("whole", "server", "browser", "crowd", "plan", "examples", "processes", "migration")
"""Each of these marks makes a test slow as well; pyproject.toml says what they mean."""

QUICK = "not slow"

TESTS = Path(__file__).parent

ALL_SLOW = re.compile(rf"^pytestmark = \[?pytest\.mark\.({'|'.join((*SLOW, 'slow'))})\b", re.M)
"""How a module says that all its tests are slow."""

gc.disable()  # what is collected stays: looking through it again and again takes a fifth of the time


def pytest_collection_finish() -> None:
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)
    gc.enable()


def _browser_wanted() -> bool:
    return bool(shutil.which("chromium")) or bool(os.environ.get("TRIPTYCH_BROWSER_TESTS"))


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave out what has no test for this run, unread: importing takes longer than running most of them."""
    if collection_path.suffix != ".py":
        return None
    if collection_path.match(BROWSER_TESTS) and not _browser_wanted():
        return True
    if not collection_path.is_relative_to(TESTS):
        return True if ">>>" not in collection_path.read_text(encoding="utf-8") else None
    return True if config.getoption("markexpr") == QUICK and _all_slow(collection_path) else None


def _all_slow(path: Path) -> bool:
    return path.match(BROWSER_TESTS) or (
        path.match("test_*.py") and ALL_SLOW.search(path.read_text(encoding="utf-8")) is not None
    )


@pytest.hookimpl(wrapper=True)
def pytest_collect_file(file_path: Path) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Look for examples in the product's docstrings alone: the tests have none."""
    found = yield
    return [one for one in found if type(one) is not DoctestModule] if file_path.is_relative_to(TESTS) else found


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    from tests.spreading import ByModule

    return ByModule(config, log) if config.getoption("dist") == "load" else None


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool | None:
    """Let a worker tell of a test what came of it; that it was set up and taken down well is told with nothing."""
    asks_all = item.config.getoption("durations") or item.config.getoption("xmlpath")
    if asks_all or not hasattr(item.config, "workerinput"):
        return None
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    for report in runtestprotocol(item, log=False, nextitem=nextitem):
        if report.when == "call" or not report.passed:
            item.ihook.pytest_runtest_logreport(report=report)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


@pytest.hookimpl(tryfirst=True)  # before `-m` chooses
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what a test shows by itself, and everything that carries a finer mark as slow."""
    for item in items:
        if _asks_server(item):
            item.add_marker("server")
        if item.path.match(BROWSER_TESTS):
            item.add_marker("browser")
        if not {mark.name for mark in item.iter_markers()}.isdisjoint(SLOW):
            item.add_marker("slow")


def _asks_server(item: pytest.Item) -> bool:
    parameters = getattr(getattr(item, "callspec", None), "params", {})
    names = {value for value in parameters.values() if isinstance(value, str)}
    return "postgresql" in names or "postgresql_url" in getattr(item, "fixturenames", ())


def pytest_report_header(config: pytest.Config) -> list[str]:
    chosen = config.getoption("markexpr")
    left_out = ["browser tests: left out, there is no chromium (apt-get install chromium)"]
    told = [f"only `-m {chosen!r}`: the rest is left out; slow are {', '.join(SLOW)}"] if chosen else []
    return told + ([] if _browser_wanted() else left_out)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    if config.getoption("markexpr") == QUICK:
        terminalreporter.write_line("quick tests only: before a change goes in, run them all")


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
        options += " -c fsync=off -c full_page_writes=off -c synchronous_commit=off"
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
def _one_postgresql(postgresql_url: str) -> Iterator[sa.Engine]:
    opened = open_engine(beside(postgresql_url, f"test_{uuid.uuid4().hex[:8]}"))
    yield opened
    opened.dispose()


def fresh_sqlite(opened: sa.Engine, template: Path) -> Iterator[sa.Engine]:
    path = Path(str(opened.url.database))
    shutil.copy(template, path)
    yield opened
    opened.dispose()
    for left in path.parent.glob(f"{path.name}*"):
        left.unlink()


def _fresh_postgresql(opened: sa.Engine, server: str, template: str) -> Iterator[sa.Engine]:
    on_server(server, f"CREATE DATABASE {opened.url.database} TEMPLATE {template}")
    yield opened
    opened.dispose()
    on_server(server, f"DROP DATABASE {opened.url.database} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest) -> Iterator[sa.Engine]:
    """Give an engine on an empty catalogue, on either engine.

    The catalogue is the test's own. The engine is the session's: a new one would compile every statement again.
    """
    have = request.getfixturevalue
    if request.param == "sqlite":
        yield from fresh_sqlite(have("_one_sqlite"), have("sqlite_template"))
    else:
        yield from _fresh_postgresql(have("_one_postgresql"), have("postgresql_url"), have("postgresql_template"))
