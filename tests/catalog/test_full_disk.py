"""A disk that can hold no more in the middle of an import: one line that says so, and nothing of it is there."""

from __future__ import annotations

import resource
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE
from triptych.catalog.database.address import as_url
from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.database.models import Loudspeaker
from triptych.catalog.database.writes import save_loudspeakers
from triptych.catalog.errors import DatabaseProblem

pytestmark = pytest.mark.whole


def test_a_disk_that_fills_up_is_told_and_nothing_is_written(sqlite_path: Path) -> None:
    """SQLite then takes all back by itself, also the point that the import would come back to."""
    engine = open_engine(as_url(str(sqlite_path)))
    many = [replace(CENTRE, model=f"Centre {number}") for number in range(4000)]
    with engine.connect() as connection:
        connection.execute(sa.text("PRAGMA cache_size = 10"))
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (sqlite_path.stat().st_size + 100_000, before[1]))
    try:
        with pytest.raises(DatabaseProblem, match="see that the disk works"), writing(engine) as session:
            save_loudspeakers(session, many)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    with reading(engine) as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Loudspeaker)) == 0
    engine.dispose()
