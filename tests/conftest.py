"""How many examples are drawn, and the plugins of the tests."""

from __future__ import annotations

import os
from importlib import import_module

import pytest
from hypothesis import settings

from tests import collecting
from tests.collecting import QUICK, runs_tests

# how long an example takes tells of the machine and its load, not of the code; every run draws others
settings.register_profile("quick", deadline=None, max_examples=15, database=None)
settings.register_profile("few", deadline=None, max_examples=30, database=None)
settings.register_profile("many", deadline=None, max_examples=100, database=None)
settings.register_profile("most", deadline=None, max_examples=750, database=None)


def pytest_configure(config: pytest.Config) -> None:
    config.pluginmanager.register(collecting)
    collecting.keep_in_memory()
    if runs_tests(config):
        config.pluginmanager.register(import_module("tests.databases"))
    usual = "quick" if config.getoption("markexpr") == QUICK else "few"
    settings.load_profile(os.environ.get("TRIPTYCH_TEST_EXAMPLES", usual))


def example_count(part: float) -> int:
    """Give a part of the examples that a run draws, for tests of which each takes long."""
    return round(settings().max_examples * part)
