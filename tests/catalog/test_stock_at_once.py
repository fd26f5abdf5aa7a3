"""The short way of each engine, one call or one short transaction, is the long way: answers, lines, refusals."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LAST, TOWER, shop_in
from tests.catalog.unguarded import unguarded
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade, Movement
from triptych.catalog.errors import CatalogError
from triptych.catalog.stock import at_once, desk, desk_cases
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check

pytestmark = pytest.mark.whole

UNTIL = datetime.now(UTC).replace(microsecond=0) + timedelta(days=3)
ODD = ("", "shpo", "Shop ", "\tstore", "nowhere\0", "x" * 600)


def _asked(chance: random.Random) -> tuple[str, Request, dict[str, Any]]:
    what = chance.choice(("receive", "reserve", "reserve", "release", "sell", "sell", "transfer", "transfer"))
    model = chance.choice(
        (TOWER.name, CENTRE.name, CENTRE.name.upper(), LAST.name, *[CENTRE.name] * 6, "Oatfell Nobody")
    )
    rare = chance.random() < 0.15
    place = chance.choice(("Shop", *ODD)) if rare else chance.choice(("shop", "store"))
    asked = Request(model, place, chance.choice((None,) * 8 + (1, 2, 2, 4, 3, 0, -1, 10**12)))
    asked = replace(asked, grade=chance.choice((*[Grade.NEW] * 12, Grade.DEMO, Grade.QUARANTINE)))
    asked = replace(asked, finish=chance.choice((*[None] * 8, "Oak")), single=chance.random() < 0.05)
    asked = replace(
        asked,
        job=chance.choice((None, "Barn", "Barn", "barn", "Mill House", "Mill House", "Mil House")),
        note='½ "q" \\',
    )
    if what == "sell" and chance.random() < 0.3:
        asked = replace(asked, amount=chance.choice((48000, -5)), currency="EUR")
    if chance.random() < 0.05:
        asked = replace(asked, serial="A1")
    more: dict[str, Any] = {"to": chance.choice(("store", "shop", "van"))} if what == "transfer" else {}
    if what == "reserve":
        more = {"until": chance.choice((UNTIL, UNTIL, "2999-12-31", UNTIL - timedelta(days=9)))}
    return what, asked if what in ("reserve", "release", "sell") else replace(asked, job=None), more


def _played(engine: sa.Engine, seed: int) -> list[object]:
    chance = random.Random(seed)
    shop_in(engine, towers=30, centres=20, last=2)
    desk.receive(engine, Request(CENTRE.name, "store", 2))
    desk.receive(engine, Request(CENTRE.name, "store", serial="A1"))
    desk.receive(engine, Request(CENTRE.name, "shop", 2, finish="Oak"))
    told: list[object] = []
    for _ in range(120):
        what, asked, more = _asked(chance)
        try:
            told.append((what, getattr(desk, what)(engine, asked, **more)))
        except CatalogError as refusal:
            told.append((what, type(refusal), str(refusal)))
    columns = [column for column in Movement.__table__.columns if column.name not in ("id", "at", "digest", "until")]
    columns = [column for column in columns if not column.name.endswith("_id")]
    with reading(engine) as session:
        told += session.execute(sa.select(*columns).order_by(Movement.id)).all()
        assert all(finding.holds for finding in check(session))
    return told


@pytest.mark.parametrize("seed", range(3))
def test_one_call_answers_as_the_long_way(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest, seed: int
) -> None:
    called: list[bool] = []
    whole = at_once.at_once

    def watched(*arguments: Any) -> Any:
        found = whole(*arguments)
        called.append(found is not None)
        return found

    monkeypatch.setattr(desk_cases, "at_once", watched)
    usual = _played(engine, seed)
    assert 8 < sum(called) < len(called)
    _empty(engine)
    monkeypatch.setattr(desk_cases, "at_once", lambda *_: None)
    long = _played(engine, seed)
    assert [one for one in zip(usual, long, strict=True) if _numberless(one[0]) != _numberless(one[1])] == []


def _empty(engine: sa.Engine) -> None:
    tables = "reservation, ledger_end, movement, holding, location, job, price, loudspeaker_role, loudspeaker"
    with unguarded(engine) as driver:
        if engine.dialect.name == "postgresql":
            driver.execute(f"TRUNCATE {tables} RESTART IDENTITY CASCADE")
        else:
            for table in tables.split(", "):
                driver.execute(f"DELETE FROM {table}")
    engine.dispose()


def _numberless(told: object) -> object:
    """Give an answer without the numbers of its lines: a server counts on where a line was refused."""
    if isinstance(told, tuple) and isinstance(told[-1], desk.Answer):
        done = told[-1].done
        return replace(done, lines=(len(done.lines),)), told[-1].remarks
    return told
