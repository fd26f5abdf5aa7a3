"""A catalogue that many tests begin with: filled once, given to each as it was, and held to be so where it is asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
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


@contextmanager
def untouched(path: Path) -> Iterator[None]:
    """Hold a catalogue to be the same file to the byte after what is refused, and no log to be left beside it."""
    before = path.read_bytes()
    yield
    assert path.read_bytes() == before
    assert not path.with_name(f"{path.name}-wal").exists()
