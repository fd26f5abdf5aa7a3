"""Two rows of one loudspeaker made one, and a loudspeaker that nothing refers to taken away."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import reads, rows
from triptych.catalog.database.kinship import drop_unused, kindred_of
from triptych.catalog.database.models import (
    Article,
    Curve,
    GradePrice,
    Loudspeaker,
    Price,
    Quote,
    QuoteLine,
    QuoteState,
    ReorderPoint,
    SupplierPrice,
    SupplyOrder,
    every_table,
)
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.database.renaming import follow, named_by_text
from triptych.catalog.database.writes import replace_loudspeaker, retire_loudspeaker, whole
from triptych.catalog.errors import BadInput, Refused
from triptych.catalog.records import LoudspeakerRecord
from triptych.catalog.stated_records import filled
from triptych.catalog.stock.grade_prices import Tag, grade_words
from triptych.catalog.stock.reading import stock_list

_WORDS: Final = {
    "holding": "the stock's ledger",
    "quote_line": "quotes",
    "supply_order": "orders from suppliers",
    "supplier_price": "prices of suppliers",
}
"""What can refer to a loudspeaker by its row, by table."""

_GOES_ALONG: Final = ("supplier_price",)
"""What can be given to another loudspeaker; the rest was written once and stays."""


@dataclass(frozen=True, slots=True)
class Merged:
    """What became of two loudspeakers; `kept` says that the one keeps its row, retired, for what was written of it.

    `lost` is what is gone, and `told` what else is to be known.
    """

    record: LoudspeakerRecord
    kept: bool
    lost: tuple[str, ...]
    told: tuple[str, ...] = ()


def merge_loudspeakers(session: Session, name: str, into: str) -> Merged:
    """Make one of two loudspeakers: what only the first knows goes to the second, with prices, curves and rooms.

    Where one of them has stock, quotes or orders, its row stays, under the second's name. Where both have, neither's
    history can be rewritten: the first is retired and keeps what was written of it, once nothing of it is left.

    Raises
    ------
    NotFound
        One of the two is not there; the nearest names are told.
    BadInput
        They are one already.
    Refused
        Both have a history, and units or promises of the first are open; or they have two reorder points of one
        finish, or two prices of one grade.
    """
    held = {one: reads.stored(session, one, hold=True) for one in sorted((name, into))}  # in one order, for others too
    old, new = held[name], held[into]
    if old.id == new.id:
        raise BadInput(f"{name!r} and {into!r} are one loudspeaker already")
    record = filled(new.record, old.record)
    with whole(session, f"{record.name!r}"):
        if _written(session, old.id) and _written(session, new.id):
            _refuse_open(session, old)
            told = _carry_over(session, old.id, new.id, record.name)
            replace_loudspeaker(session, new, record)
            retire_loudspeaker(session, old.record.name)
            follow(session, {old.key: record.name})
            return Merged(record, True, (), told)
        stays, goes = (old, new) if _written(session, old.id) else (new, old)
        lost = _hand_over(session, goes.id, stays.id)
        told = _carry_over(session, goes.id, stays.id, record.name)
        before = [*kindred_of(session, goes.id), *kindred_of(session, stays.id)]
        session.execute(sa.delete(Loudspeaker).where(Loudspeaker.id == goes.id))
        replace_loudspeaker(session, stays, record)
        session.execute(sa.update(Loudspeaker).where(Loudspeaker.id == stays.id).values(retired=new.retired))
        follow(session, {old.key: record.name})
        drop_unused(session, before)
    return Merged(record, False, lost, told)


def remove_loudspeaker(session: Session, name: str) -> LoudspeakerRecord:
    """Take a loudspeaker away with its figures, prices and curves; nothing else may refer to it.

    Raises
    ------
    NotFound
        None has that name; the nearest names are told.
    Refused
        Says what refers to it.
    """
    item = reads.stored(session, name, hold=True)
    told = [*(words for words in _written(session, item.id, movable=True)), *named_by_text(session, item.key)]
    if told:
        raise Refused(
            f"{item.record.name!r} is kept, for {_listed(told)} {'tells' if len(told) == 1 else 'tell'} of it;"
            " triptych speaker retire hides it"
        )
    before = kindred_of(session, item.id)
    session.execute(sa.delete(Loudspeaker).where(Loudspeaker.id == item.id))
    drop_unused(session, before)
    return item.record


def _written(session: Session, number: int, *, movable: bool = False) -> list[str]:
    """What refers to a loudspeaker and does not go with it, in words; `movable` what could be given to another too."""
    told = []
    for table in every_table().sorted_tables:
        if table.name in _GOES_ALONG and not movable:
            continue
        for key in table.foreign_keys:
            if key.column is Loudspeaker.__table__.c.id and key.ondelete != "CASCADE":
                refers = sa.select(sa.literal(1)).select_from(table).where(key.parent == number).limit(1)
                if session.scalar(refers) is not None:
                    told.append(_WORDS.get(table.name, table.name))
    return told


def _refuse_open(session: Session, item: reads.Stored) -> None:
    """Refuse where units of a loudspeaker are there, on their way, ordered or offered."""
    now = datetime.now(UTC)
    ordered = sa.and_(SupplyOrder.cancelled_at.is_(None), SupplyOrder.quantity > come_of_order())
    offered = sa.and_(QuoteLine.quote_id == Quote.id, Quote.state.in_((QuoteState.OPEN, QuoteState.ACCEPTED)))
    told = [f"{one.on_hand + one.in_transit} at {one.location}" for one in stock_list(session, item.id)]
    for words, query in (
        ("an open order", sa.select(SupplyOrder.id).where(SupplyOrder.loudspeaker_id == item.id, ordered)),
        ("an open quote", sa.select(Quote.id).where(QuoteLine.loudspeaker_id == item.id, offered, Quote.until > now)),
    ):
        if session.scalar(query.limit(1)) is not None:
            told.append(words)
    if told:
        raise Refused(
            f"both have a history in the ledger, and of {item.record.name!r} there is {_listed(told)}: sell, write off,"
            " cancel or let lapse what is open, then merge; nothing was changed"
        )


def _hand_over(session: Session, goes: int, stays: int) -> tuple[str, ...]:
    """Give the curves and the dated prices of one row to another, but for what that has itself; tell what is lost."""
    lost = []
    there = {(kind, angle) for kind, angle in session.execute(_of(Curve, stays, Curve.kind, Curve.angle))}
    for number, kind, angle in session.execute(_of(Curve, goes, Curve.id, Curve.kind, Curve.angle)).all():
        if (kind, angle) in there:
            lost.append(f"its curve {kind.value}{'' if angle is None else f' {angle:g} deg'}")
        else:
            session.execute(sa.update(Curve).where(Curve.id == number).values(loudspeaker_id=stays))
    for table, whose, words in (
        (Price, sa.null(), "its price"),
        (SupplierPrice, SupplierPrice.supplier_id, "a supplier's price"),
    ):
        columns = (table.id, whose, table.valid_from, table.valid_to)
        kept = [row[1:] for row in session.execute(_of(table, stays, *columns))]
        for number, owner, start, end in session.execute(_of(table, goes, *columns)).all():
            if any(owner == other and _overlap(start, end, *days) for other, *days in kept):
                lost.append(f"{words} from {start}")
            else:
                session.execute(sa.update(table).where(table.id == number).values(loudspeaker_id=stays))
    return tuple(lost)


def _carry_over(session: Session, goes: int, stays: int, name: str) -> tuple[str, ...]:
    """Give articles, reorder points and prices of grades of one row to another; tell of a second number for one sort.

    Raises
    ------
    Refused
        Both have a point of one finish, or a price of one grade, that say two things.
    """
    _carry_single(session, ReorderPoint, (goes, stays), ("finish_key",), ("least", "up_to"), _point_words)
    _carry_single(session, GradePrice, (goes, stays), ("grade",), ("amount", "currency", "per"), _price_words)
    numbered = {(one.supplier_id, rows.name_key(one.finish)): one.number for one in _rows(session, Article, stays)}
    told = []
    for one in _rows(session, Article, goes):
        session.execute(sa.update(Article).where(Article.id == one.id).values(loudspeaker_id=stays))
        second = numbered.get((one.supplier_id, rows.name_key(one.finish)))
        if second is not None:
            told.append(f"article {one.number} is {name} too, as {second} is")
    return tuple(told)


def _carry_single(
    session: Session,
    table: Any,
    numbers: tuple[int, int],
    sort: tuple[str, ...],
    says: tuple[str, ...],
    words: Callable[[Any], str],
) -> None:
    """Give rows of which the first has one a sort to the second of two; those that say the same become one."""
    goes, stays = numbers
    there = {_values(row, sort): row for row in _rows(session, table, stays)}
    for row in _rows(session, table, goes):
        other = there.get(_values(row, sort))
        if other is None:
            session.execute(sa.update(table).where(table.id == row.id).values(loudspeaker_id=stays))
        elif _values(row, says) == _values(other, says):
            session.execute(sa.delete(table).where(table.id == row.id))
        else:
            two = f"both have {words(row)} and {words(other)}"
            raise Refused(f"{two}: take one of the two away, then merge; nothing was changed")


def _values(row: Any, names: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(getattr(row, name) for name in names)


def _rows(session: Session, table: Any, number: int) -> list[Any]:
    return list(session.scalars(sa.select(table).where(table.loudspeaker_id == number).order_by(table.id)))


def _point_words(row: ReorderPoint) -> str:
    finish = f" in {row.finish!r}" if row.finish else ""
    return f"a reorder point{finish} of at least {row.least} up to {row.up_to}"


def _price_words(row: GradePrice) -> str:
    return f"a price of {grade_words(row.grade)}, {Tag(row.amount, row.currency, row.per).words}"


def _of(table: Any, number: int, *columns: Any) -> sa.Select[*tuple[Any, ...]]:
    return sa.select(*columns).where(table.loudspeaker_id == number).order_by(table.id)


def _overlap(start: date, end: date | None, other: date, other_end: date | None) -> bool:
    return (other_end is None or start < other_end) and (end is None or other < end)


def _listed(told: Sequence[str]) -> str:
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)
