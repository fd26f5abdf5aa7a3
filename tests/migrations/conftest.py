"""Here every catalogue is migrated: elsewhere a new one is a copy."""

from __future__ import annotations

import pytest

from triptych.catalog.database import engine as engines

MIGRATE = engines._upgrade


@pytest.fixture(autouse=True)
def _migrated(_new_catalogues_are_copies: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engines, "_upgrade", MIGRATE)
