"""Many loudspeakers added at once leave what they leave one by one, guards and signatures alike."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, TOWER
from triptych.catalog.database import writes
from triptych.catalog.database.address import as_url
from triptych.catalog.database.changes import Changes
from triptych.catalog.database.engine import open_engine, reading, writing
from triptych.catalog.errors import BadInput
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stock import proof
from triptych.catalog.stock.merging import remove_loudspeaker

MANY: list[LoudspeakerRecord] = [
    replace(
        one,
        model=f'{one.model} "{number}"\\ é',
        width=0.1 + number / 7000,
        price=None if number % 3 == 0 else Decimal(100 + number),
        note="two\nlines" if number % 5 == 0 else None,
    )
    for number, one in enumerate([TOWER, CENTRE] * 60)
]


def added(engine: sa.Engine, records: list[LoudspeakerRecord]) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, records)


def broken(engine: sa.Engine) -> list[str]:
    with reading(engine) as session:
        return [finding.invariant for finding in proof.check(session) if not finding.holds]


def told(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """All but instants and the digests that hang on them, each table's guards, and what is kept of each row."""
    with closing(sqlite3.connect(path)) as found:
        return {
            "signatures": found.execute(
                "SELECT id, who, subject, number, deed, said, was, becomes FROM signature"
            ).fetchall(),
            "guards": sorted(found.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")),
            "rows": found.execute("SELECT * FROM loudspeaker").fetchall(),
            "prices": found.execute("SELECT * FROM price").fetchall(),
        }


@pytest.fixture
def shop(sqlite_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A catalogue in which the newest number was somebody else's, who is gone."""
    monkeypatch.setenv("TRIPTYCH_USER", "anna")
    engine = open_engine(as_url(str(sqlite_path)))
    added(engine, [TOWER, CENTRE])
    with writing(engine) as session:
        remove_loudspeaker(session, CENTRE.name)
    yield engine
    engine.dispose()


def test_many_at_once_are_signed_as_each_by_itself(
    shop: sa.Engine, sqlite_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = tmp_path / "copy.db"
    with closing(sqlite3.connect(sqlite_path)) as source, closing(sqlite3.connect(copy)) as target:
        source.backup(target)
    added(shop, MANY)
    monkeypatch.setattr(writes, "_MANY", 1_000)
    other = open_engine(as_url(str(copy)))
    added(other, MANY)
    assert broken(shop) == broken(other) == []
    other.dispose()
    shop.dispose()
    assert told(sqlite_path) == told(copy)
    with closing(sqlite3.connect(sqlite_path)) as found:
        (unsigned,) = found.execute("SELECT count(*) FROM signature WHERE digest IS NULL OR who <> 'anna'").fetchone()
    assert unsigned == 0


def test_what_is_refused_half_way_leaves_every_guard_and_no_row(shop: sa.Engine, sqlite_path: Path) -> None:
    shop.dispose()
    before = told(sqlite_path)
    twice = Changes((), {}, [*MANY, MANY[3]], [])
    with writing(shop) as session, pytest.raises(BadInput, match="nothing was written"):
        writes.write_changes(session, twice)
    added(shop, [CENTRE])
    assert broken(shop) == []
    shop.dispose()
    after = told(sqlite_path)
    assert after["guards"] == before["guards"]
    assert len(after["rows"]) == len(before["rows"]) + 1


def dropped(found: sqlite3.Connection) -> None:
    found.execute("DROP TRIGGER loudspeaker_signs_made")


def another(found: sqlite3.Connection) -> None:
    found.execute("DROP TRIGGER price_signs_made")
    found.execute("CREATE TRIGGER price_signs_made AFTER INSERT ON price BEGIN SELECT 1; END")


@pytest.mark.parametrize("tampered", [dropped, another])
def test_a_guard_that_was_gone_or_another_stays_so_and_is_told(
    tampered: Callable[[sqlite3.Connection], None], shop: sa.Engine, sqlite_path: Path
) -> None:
    shop.dispose()
    with closing(sqlite3.connect(sqlite_path)) as found, found:
        tampered(found)
    before = told(sqlite_path)["guards"]
    added(shop, MANY)
    assert "every guard of the stock stands" in broken(shop)
    shop.dispose()
    assert told(sqlite_path)["guards"] == before
