"""A shop for tests: a pair of mains, two centres of their family, and what is on hand of them."""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any, Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from tests.catalog.filling import filled
from triptych.catalog import stock
from triptych.catalog.database import reads, writes
from triptych.catalog.database.engine import writing
from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind
from triptych.catalog.records import LoudspeakerRecord, PricePer, Role, SoldAs, Status, Tax
from triptych.catalog.stock import quotes
from triptych.catalog.stock.movement_lines import MovementLine

TOWER = LoudspeakerRecord(
    maker="Oatfell",
    series="Linden",
    model="Tower",
    family="Linden",
    roles=frozenset({Role.MAIN}),
    sold_as=SoldAs.PAIR,
    price=Decimal("1200.00"),
    currency="EUR",
    price_per=PricePer.PAIR,
    tax=Tax.INCLUDED,
    tax_rate=20.0,
)
CENTRE = LoudspeakerRecord(
    maker="Oatfell",
    series="Linden",
    model="Centre",
    family="Linden",
    roles=frozenset({Role.CENTRE}),
    sold_as=SoldAs.SINGLE,
    price=Decimal("480.00"),
    currency="EUR",
    price_per=PricePer.EACH,
    tax=Tax.INCLUDED,
    tax_rate=20.0,
)
LAST = replace(CENTRE, model="Old Centre", status=Status.LAST_OF_LINE)
EVIL = "O'Brien; DROP TABLE movement;-- [red]%s {0} <b> ½"
LATER = datetime.now(UTC) + timedelta(days=7)


@dataclass(frozen=True)
class Shop:
    """Numbers of what is sold."""

    tower: int
    centre: int
    last: int

    def line(self, kind: MovementKind = MovementKind.RECEIVE, quantity: int = 1, **fields: Any) -> MovementLine:
        """Give a line of centres at the shop, or what the fields say."""
        line = MovementLine(self.centre, kind, quantity, "shop")
        return replace(line, **fields)


def open_shop(session: Session, towers: int = 0, centres: int = 0, last: int = 0) -> Shop:
    """Store the models, and receive so many of each at the shop."""
    writes.save_loudspeakers(session, [TOWER, CENTRE, LAST])
    shop = Shop(*(reads.number(session, record.name) for record in (TOWER, CENTRE, LAST)))
    for number, quantity in ((shop.tower, towers), (shop.centre, centres), (shop.last, last)):
        if quantity:
            stock.record_movement(session, MovementLine(number, MovementKind.RECEIVE, quantity, "shop"))
    return shop


def shop_in(engine: sa.Engine, towers: int = 0, centres: int = 0, last: int = 0) -> Shop:
    """Open a shop in an empty catalogue; one in a file is a copy of the first that was opened with as much."""
    wanted = _Wanted(engine.dialect.name, towers, centres, last)
    filled(engine, _opening(wanted))
    return _SHOPS[wanted]


class _Wanted(NamedTuple):
    dialect: str
    towers: int
    centres: int
    last: int


_SHOPS: Final[dict[_Wanted, Shop]] = {}


@functools.cache
def _opening(wanted: _Wanted) -> Callable[[sa.Engine], None]:
    def fill(engine: sa.Engine) -> None:
        with writing(engine) as session:
            _SHOPS[wanted] = open_shop(session, *wanted[1:])

    return fill


def there(session: Session, shop: Shop, **fields: Any) -> int:
    """Give what is on hand of the centres at the shop, or of what the fields say."""
    return stock.level(session, shop.line(**fields)).on_hand


def on_hand_by_replay(session: Session) -> dict[int, int]:
    """Give what is on hand by holding as the movements sum to it; nothing but their kinds and quantities is read."""
    totals: Counter[int] = Counter()
    for holding, kind, quantity in session.execute(sa.select(Movement.holding_id, Movement.kind, Movement.quantity)):
        totals[holding] += quantity if kind in stock.INTO else -quantity if kind in stock.OUT_OF else 0
    return dict(totals)


def raw_line(session: Session, shop: Shop, **changes: Any) -> sa.Insert:
    """Give the statement that adds a line for one more centre: a right one, or wrong where the changes make it so."""
    holding = session.scalars(
        sa.select(Holding.id).where(Holding.loudspeaker_id == shop.centre, Holding.grade == Grade.NEW)
    ).first()
    last = session.scalars(
        sa.select(Movement).where(Movement.holding_id == holding).order_by(Movement.sequence.desc())
    ).first()
    assert last is not None
    values = {
        "loudspeaker_id": shop.centre,
        "holding_id": holding,
        "sequence": last.sequence + 1,
        "kind": MovementKind.RECEIVE,
        "quantity": 1,
        "effect": 1,
        "on_hand": last.on_hand + 1,
        "tracked": last.tracked,
        "at": datetime.now(UTC),
    }
    return sa.insert(Movement).values(**values | changes)


def made_quote(session: Session, *asked: Any, **more: Any) -> tuple[int, list[str]]:
    """Make a quote in one session, and give its number and what is worth telling about it."""
    draft = quotes.draft(session, *asked, **more)
    return quotes.written(session, draft).number, draft.remarks
