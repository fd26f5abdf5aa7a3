"""Engines on both databases. Every test database is migrated to head, from a template that is migrated once."""

from __future__ import annotations

import glob
import os
import shutil
import subprocess
import tempfile
import uuid
import warnings
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from triptych.catalog.database.engine import as_url, open_engine, upgrade

BROWSER_TESTS = "*_in_browser.py"
"""Tests that drive a headless Chromium. They are left out, and said to be, where there is none and none is demanded."""


def _browser_wanted() -> bool:
    return bool(shutil.which("chromium")) or bool(os.environ.get("TRIPTYCH_BROWSER_TESTS"))


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    return True if collection_path.match(BROWSER_TESTS) and not _browser_wanted() else None


def pytest_report_header() -> list[str]:
    return [] if _browser_wanted() else ["browser tests: left out, there is no chromium (apt-get install chromium)"]


def _run_as_postgres(command: list[str], folder: Path, *, check: bool = True) -> None:
    # PostgreSQL refuses to run as root.
    prefix = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
    subprocess.run([*prefix, *command], check=check, cwd=folder, stdout=subprocess.DEVNULL)


def _own_server(binaries: Path, *, durable: bool) -> Iterator[str]:
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
        _run_as_postgres([*control, "-l", f"{folder}/log", "-o", options, "start"], folder)
        yield f"postgresql://postgres@/postgres?host={folder}"
    finally:
        _run_as_postgres([*control, "-m", "immediate", "stop"], folder, check=False)
        shutil.rmtree(folder, ignore_errors=True)


def _wheel_server() -> Iterator[str]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of folders that a server for tests does without
        import pgserver

        folder = tempfile.mkdtemp(prefix="pg", dir="/tmp")
        server = pgserver.get_server(folder, cleanup_mode="delete")  # type: ignore[attr-defined]  # it has no __all__
    try:
        yield server.get_uri()
    finally:
        server.cleanup()


def any_server(*, durable: bool = False) -> Iterator[str]:
    """Give a server that databases may be made on: the one named, the machine's own, or the wheel's.

    With `durable` it brings each commit to the disk, as it comes; else tests are faster.
    """
    found = sorted(glob.glob("/usr/lib/postgresql/*/bin/initdb"))
    if named := os.environ.get("TRIPTYCH_TEST_PG_URL"):
        yield as_url(named)
    elif found and (os.geteuid() != 0 or shutil.which("runuser")):
        for url in _own_server(Path(found[-1]).parent, durable=durable):
            yield as_url(url)
    else:
        for url in _wheel_server():
            yield as_url(url)


@pytest.fixture(scope="session")
def postgresql_url() -> Iterator[str]:
    """Give a server that tests may make databases on."""
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


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest) -> Iterator[sa.Engine]:
    """Give an engine on an empty catalogue, on either engine."""
    if request.param == "sqlite":
        opened = open_engine(as_url(str(request.getfixturevalue("sqlite_path"))))
        yield opened
        opened.dispose()
        return
    server = request.getfixturevalue("postgresql_url")
    name = f"test_{uuid.uuid4().hex[:8]}"
    on_server(server, f"CREATE DATABASE {name} TEMPLATE {request.getfixturevalue('postgresql_template')}")
    opened = open_engine(beside(server, name))
    yield opened
    opened.dispose()
    on_server(server, f"DROP DATABASE {name} WITH (FORCE)")
