"""The short way of each engine, one call or one short transaction, is the long way: answers, lines, refusals."""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from tests.catalog.stock_shop import CENTRE, LAST, TOWER, shop_in
from tests.catalog.unguarded import unguarded
from triptych.catalog.database.engine import reading
from triptych.catalog.database.models import Grade, Movement
from triptych.catalog.errors import CatalogError
from triptych.catalog.stock import call_server, counts, desk, desk_cases, in_file, quote_steps, quotes
from triptych.catalog.stock.calls import Call, ShortAtOnce
from triptych.catalog.stock.counts import import_counts
from triptych.catalog.stock.counts_at_once import counted_at_once
from triptych.catalog.stock.desk import Request
from triptych.catalog.stock.proof import check

pytestmark = pytest.mark.whole

UNTIL = datetime.now(UTC).replace(microsecond=0) + timedelta(days=3)
QUICK = {"receive", "reserve", "release", "sell", "transfer_out", "split_pair", "count"}
QUICK |= {f"{kind} refused" for kind in ("reserve", "release", "sell", "transfer_out", "count")}
QUICK |= {"arrived_at_once", "offered_at_once", "accepted_at_once", "sold_at_once", "lapsed_at_once"}
ODD = ("", "shpo", "Shop ", "\tstore", "nowhere\0", "x" * 600)


_SHOP = Request(CENTRE.name, "shop", note="June")
_BARN = replace(_SHOP, job="Barn")
BEGUN: list[tuple[str, Request, dict[str, Any]]] = [
    ("reserve", _BARN, {"until": UNTIL}),
    ("reserve", replace(_BARN, location="store"), {"until": UNTIL}),
    ("reserve", _BARN, {"until": UNTIL}),
    ("release", replace(_BARN, location="store"), {}),
    ("reserve", replace(_BARN, location="store"), {"until": UNTIL}),
    ("quote", replace(_BARN, job="Mill House"), {}),
    ("quote", _BARN, {}),
    ("quote", _BARN, {}),
    ("sell", _BARN, {}),
    ("transfer", _SHOP, {"to": "store"}),
    ("transfer", _SHOP, {"to": "store", "send": True}),
    ("split", replace(_SHOP, model=TOWER.name), {}),
    ("split", replace(_SHOP, model=TOWER.name), {}),
    ("count", replace(_SHOP, quantity=30), {}),
    ("count", replace(_SHOP, quantity=30), {}),
    ("reserve", replace(_BARN, quantity=4), {"until": UNTIL}),
    ("count", replace(_SHOP, quantity=1), {}),
    ("release", replace(_BARN, quantity=900), {}),
    ("release", replace(_BARN, quantity=4), {}),
    ("reserve", replace(_BARN, quantity=900), {"until": UNTIL}),
    ("sell", replace(_SHOP, quantity=900), {}),
    ("transfer", replace(_SHOP, quantity=900), {"to": "store"}),
]
"""What is usual, and what is refused for there is too little: of each once."""


def _asked(chance: random.Random) -> tuple[str, Request, dict[str, Any]]:
    usual = ("receive", "reserve", "reserve", "release", "sell", "sell", "transfer", "transfer")
    what = chance.choice((*usual, "split", "count", "quote"))
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
    more: dict[str, Any] = {}
    if what == "transfer":
        more = {"to": chance.choice(("store", "shop", "van")), "send": chance.random() < 0.3}
    if what == "count":
        asked = replace(
            asked, quantity=chance.choice((0, 2, 3, 12, 20, 24)), note=chance.choice(("June", "June", None))
        )
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
    for what, asked, more in [*BEGUN, *(_asked(chance) for _ in range(120))]:
        try:
            ask: Any = _quote if what == "quote" else getattr(desk, what)
            done = ask(engine, asked, chance=chance) if what == "quote" else ask(engine, asked, **more)
            told.append((what, done))
            if more.get("send"):
                told.append((what, desk.arrive(engine, done.done.lines[0], who=asked.who)))
        except CatalogError as refusal:
            told.append((what, type(refusal), _timeless(str(refusal))))
    own = ("id", "at", "digest", "until", "deed_number")
    columns = [column for column in Movement.__table__.columns if column.name not in own]
    # deeds have numbers of their own: which lines are one is alike
    deeds = sa.func.dense_rank().over(order_by=Movement.deed_number)
    columns = [column for column in columns if not column.name.endswith("_id")]
    with reading(engine) as session:
        told += session.execute(sa.select(*columns, deeds).order_by(Movement.id)).all()
        assert all(finding.holds for finding in check(session))
    return told


def _timeless(text: str) -> str:
    """Leave numbers out, and times: what holds as long as is usual ends a minute later, where one has passed."""
    return re.sub(r"\d\d:\d\d UTC", "then", re.sub(r"(reservation|quote) \d+", r"\1", text))


def _quote(engine: sa.Engine, asked: Request, chance: random.Random) -> list[object]:
    """Make a quote, accept it, and sell it or not; give what was told, without what differs by the clock."""
    models = chance.sample((TOWER.name, CENTRE.name, CENTRE.name, TOWER.name), chance.randrange(1, 4))
    if asked.note == "June":
        models = [TOWER.name, CENTRE.name]
    finish = chance.choice((None, None, None, "Oak"))
    finish, sizes = (None, (None,)) if asked.note == "June" else (finish, (None, 2, 1, 6))
    items = [quotes.Item(name, chance.choice(sizes), finish=finish, discount=12.5) for name in models]
    steps = [desk.make_quote(engine, asked.job or "Barn", items, note="n", who="anna")]
    number = steps[0].offer.number
    steps.append(desk.accept_quote(engine, number, who="anna"))
    if asked.job == "Mill House" or (asked.note != "June" and chance.random() < 0.6):
        steps.append(desk.sell_quote(engine, number, who="ben"))
    elif chance.random() < 0.6 or asked.note == "June":
        steps.append(desk.lapse_quote(engine, number, who="ben"))
    told: list[object] = []
    for step in steps:
        offer = replace(step.offer, number=0, made_at=UNTIL, until=UNTIL)
        moved = [replace(one, lines=(len(one.lines),), until=one.until and "then") for one in step.moved]
        told.append((offer, moved, [_timeless(text) for text in step.warnings]))
    return told


@pytest.mark.parametrize("seed", range(3))
def test_one_call_answers_as_the_long_way(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest, seed: int
) -> None:
    called: list[tuple[str, bool]] = []

    def watch(module: Any, name: str) -> None:
        whole = getattr(module, name)

        def watched(engine: sa.Engine, asked: Any, *more: Any) -> Any:
            found = whole(engine, asked, *more)
            short = isinstance(found, ShortAtOnce)
            kind = asked.kind.value if isinstance(asked, Call) else name
            called.append((f"{kind} refused" if short else kind, found is not None))
            return found

        monkeypatch.setattr(module, name, watched)

    quick = ((desk_cases, "at_once"), (desk_cases, "arrived_at_once"), (desk, "offered_at_once"))
    for module, name in (*quick, *((quote_steps, f"{step}_at_once") for step in ("accepted", "sold", "lapsed"))):
        watch(module, name)
    usual = _played(engine, seed)
    assert {kind for kind, found in called if found} - {"split_pair refused"} == QUICK, sorted(Counter(called).items())
    assert not all(found for _, found in called)
    _empty(engine)
    for module in (in_file, call_server, desk, quote_steps):
        for name in (
            "asked_once",
            "past_statements",
            "offered_at_once",
            "accepted_at_once",
            "sold_at_once",
            "lapsed_at_once",
        ):
            if hasattr(module, name):
                monkeypatch.setattr(module, name, lambda *_, **__: None)
    long = _played(engine, seed)
    pairs = [(_numberless(one), _numberless(other)) for one, other in zip(usual, long, strict=True)]
    assert [(one, other) for one, other in pairs if one != other] == []


@pytest.mark.parametrize("end", [desk.sell_quote, desk.lapse_quote])
def test_each_step_of_a_quote_is_signed_on_a_connection_that_wrote_nothing_before(
    engine: sa.Engine, end: Callable[[sa.Engine, int], desk.Step]
) -> None:
    # as each command has a connection of its own
    shop_in(engine, towers=2, centres=2, last=0)
    number = desk.make_quote(engine, "Barn", [quotes.Item(CENTRE.name, 2)]).offer.number
    for step in (desk.accept_quote, end):
        engine.dispose()
        step(engine, number)
    with reading(engine) as session:
        assert [finding for finding in check(session) if not finding.holds] == []


def _counted(engine: sa.Engine, folder: Path) -> list[object]:
    """Import counts: of changes, the same again, of fewer than are promised, and of none that were there."""
    shop_in(engine, towers=30, centres=20)
    desk.receive(engine, Request(CENTRE.name, "shop", 2, finish="Oak"))
    desk.reserve(engine, Request(CENTRE.name, "shop", 5, job="Barn"), UNTIL)
    told: list[object] = []
    for rows in ("6,shop", "6,shop", "4,shop", "0,shop", "8,shop", "3,store", "3,van"):
        file = folder / "count.csv"
        file.write_text(f"speaker,quantity,location\n{TOWER.name},28,shop\n{CENTRE.name},{rows}\n", encoding="utf-8")
        try:
            told.append(import_counts(engine, file, "June", who="anna"))
        except CatalogError as refusal:
            told.append((type(refusal), str(refusal).replace(str(folder), "")))
    with reading(engine) as session:
        told += session.execute(sa.select(Movement.kind, Movement.quantity, Movement.on_hand, Movement.note)).all()
        assert all(finding.holds for finding in check(session))
    return told


def test_counts_of_a_file_are_written_at_once_as_by_the_long_way(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    called: list[object] = []

    def watched(*asked: Any) -> list[int] | None:
        called.append(counted_at_once(*asked))
        return called[-1]  # type: ignore[return-value]  # as it was given

    monkeypatch.setattr(counts, "counted_at_once", watched)
    usual = _counted(engine, tmp_path)
    assert sum(found is not None for found in called) == 3, called
    _empty(engine)
    monkeypatch.setattr(counts, "counted_at_once", lambda *_: None)
    assert _counted(engine, tmp_path) == usual


def _empty(engine: sa.Engine) -> None:
    tables = "signature, reservation, ledger_end, movement, quote_line, quote, holding, location, job, price"
    tables += ", loudspeaker_role, loudspeaker, series, family, maker"
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
    if isinstance(told, tuple) and isinstance(told[-1], list) and isinstance(told[-1][0], desk.Done):
        return [replace(done, lines=(len(done.lines),)) for done in told[-1]]
    return re.sub(r"pair \d+ ", "pair ", repr(told))
