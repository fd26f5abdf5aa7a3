"""Here every catalogue is migrated: elsewhere a new one is a copy."""

from __future__ import annotations

import pytest

from tests.quicker import MIGRATE
from triptych.catalog.database import engine as engines


@pytest.fixture(autouse=True)
def _migrated(_quicker: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "_upgrade", MIGRATE)
