"""What a run of the tests reads, and how it goes: modules chosen unread, marks by themselves, words of workers.

A plugin and no conftest, as that says nothing of the product's folders, in whose docstrings examples are looked for.
"""

from __future__ import annotations

import ctypes
import gc
import os
import re
import shutil
import sys
from collections.abc import Generator
from pathlib import Path
from typing import Any

import pytest
from _pytest.doctest import DoctestModule
from _pytest.runner import runtestprotocol

COMPILED = Path(__file__).parents[1] / ".pytest_cache" / "bytecode"
"""Where it is kept what Python compiled, where nothing is to be written beside the sources."""


def keep_compiled() -> None:
    """Let a run with PYTHONDONTWRITEBYTECODE compile once, not with every run and in every program that it starts.

    One without pytest's cache keeps nothing, such as that which breaks lines of the product and tries again.
    """
    if sys.dont_write_bytecode and sys.pycache_prefix is None and "no:cacheprovider" not in sys.argv:
        sys.pycache_prefix, sys.dont_write_bytecode = str(COMPILED), False


keep_compiled()


MEMORY = Path("/dev/shm")
"""Where Linux has files that no disk holds."""

ROOM = 4 * 2**30
"""So much of it is free, at least, where the tests' files lie there. [B]."""


def keep_in_memory() -> None:
    """Let the tests' own folders lie where nothing is brought to a disk, unless it is said where."""
    if MEMORY.is_dir() and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))


def runs_tests(config: pytest.Config) -> bool:
    """Say whether this process runs tests, and does not only spread them over workers."""
    return hasattr(config, "workerinput") or not config.getoption("numprocesses", None)


def pytest_sessionstart(session: pytest.Session) -> None:
    if runs_tests(session.config) and sys.pycache_prefix == str(COMPILED):
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(COMPILED)


BROWSER_TESTS = "*_in_browser.py"
"""Tests that drive a headless Chromium. They are left out, and said to be, where there is none and none is demanded."""


SLOW = ("whole", "server", "browser", "crowd", "plan", "examples", "processes", "migration")
"""Each of these marks makes a test slow as well; pyproject.toml says what they mean."""

QUICK = "not slow"

TESTS = Path(__file__).parent

ALL_SLOW = re.compile(rf"^pytestmark = \[?pytest\.mark\.({'|'.join((*SLOW, 'slow'))})\b", re.M)
"""How a module says that all its tests are slow."""

gc.disable()  # what is collected stays: looking through it again and again takes a fifth of the time


def pytest_collection_finish(session: pytest.Session) -> None:
    if session.config.getoption("markexpr") != QUICK and STATUS.exists():
        session.config.pluginmanager.register(GivingBack())
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
    """Let a worker say once of a test what came of it, and nothing of its begin, its end or what went well."""
    asks_all = item.config.getoption("durations") or item.config.getoption("xmlpath")
    if asks_all or not hasattr(item.config, "workerinput"):
        return None
    for report in runtestprotocol(item, log=False, nextitem=nextitem):
        if report.when == "call" or not report.passed:
            if report.passed:
                report.keywords = {}  # they are most of what would be sent, and are asked of no test that passed
            item.ihook.pytest_runtest_logreport(report=report)
    return True


STATUS = Path("/proc/self/statm")
"""Where Linux says how much memory a process has, in pages."""


class GivingBack:
    """A plugin of long runs: after a test that grew the process, what is free goes back to the machine.

    Of itself the library of C keeps what is free below anything that stays: up to a gigabyte after an hour.
    """

    GROWN = 64
    """By so much a process grows before it is looked through [MiB]."""

    def __init__(self) -> None:
        self.had = resident()

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_teardown(self) -> Generator[None, object, object]:
        """Look at what the process has now."""
        done = yield
        if resident() > self.had + self.GROWN:
            gc.collect()
            give_back()
            self.had = resident()
        return done


def resident() -> int:
    """Tell what this process has of the machine's memory [MiB]."""
    return int(STATUS.read_bytes().split()[1]) * os.sysconf("SC_PAGE_SIZE") // 2**20


def give_back() -> None:
    """Ask the library of C to return what is free, where it can."""
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)


def pytest_sessionfinish() -> None:
    # what is left is looked through once for what was never closed; pytest does so five times, and Python at its end
    gc.collect()
    gc.freeze()


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
