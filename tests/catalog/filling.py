"""A catalogue that many tests begin with: filled once, and given to each as it was."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import sqlalchemy as sa

from triptych.catalog.database.address import sqlite_file

_KEPT: Final[dict[Callable[[sa.Engine], None], bytes]] = {}


def filled(engine: sa.Engine, fill: Callable[[sa.Engine], None]) -> sa.Engine:
    """Fill an empty catalogue; one in a file is filled by the first test that asks, and copied for the others."""
    path = sqlite_file(engine.url)
    if path is None:
        fill(engine)
    elif fill in _KEPT:
        engine.dispose()
        path.write_bytes(_KEPT[fill])
    else:
        fill(engine)
        engine.dispose()  # the last to leave brings what was written from the log into the file
        _KEPT[fill] = path.read_bytes()
    return engine
