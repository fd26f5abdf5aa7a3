"""What recommends is tried on SQLite alone: `test_both_engines.py` holds whole answers of both to be the same."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.databases import fresh_sqlite


@pytest.fixture
def engine(_one_sqlite: sa.Engine, sqlite_template: Path) -> Iterator[sa.Engine]:
    """Give an engine on an empty catalogue of the test's own."""
    yield from fresh_sqlite(_one_sqlite, sqlite_template)
