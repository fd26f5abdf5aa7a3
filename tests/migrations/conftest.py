"""Here every catalogue is migrated: elsewhere a new one is a copy."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
import sqlalchemy as sa

from tests.quicker import MIGRATE
from triptych.catalog.database import engine as engines
from triptych.catalog.database.engine import alembic_config, open_engine

if TYPE_CHECKING:
    from alembic.config import Config  # it takes a while, and a quick run has no test here


@pytest.fixture(autouse=True)
def _migrated(_quicker: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "_upgrade", MIGRATE)


@pytest.fixture
def migrate(empty_url: str) -> Iterator[tuple[sa.Engine, Config]]:
    engine = open_engine(empty_url)
    config = alembic_config()
    config.attributes["url"] = empty_url
    yield engine, config
    engine.dispose()
