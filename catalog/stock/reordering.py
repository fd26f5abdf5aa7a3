"""What is to be ordered and from whom: points below which stock is filled up, and the numbers articles go by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import (
    Article,
    Grade,
    Holding,
    ReorderPoint,
    Supplier,
    SupplierPrice,
    SupplyOrder,
)
from triptych.catalog.database.order_levels import come_of_order
from triptych.catalog.database.stock_levels import free_lines, reserved_of
from triptych.catalog.errors import BadInput
from triptych.catalog.money import to_amount
from triptych.catalog.stock.articles import Model, model_named, models, named, speaker_name
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, refuse_text
from triptych.catalog.stock.suppliers import supplier_named


@dataclass(frozen=True, slots=True)
class ToOrder:
    """What is below its point: what is free and coming, how many to order, and from whom it is cheapest.

    Attributes
    ----------
    free, coming : int
        New ones that nobody is promised, and ordered for stock and not come; where the point is of all finishes, with
        what is to be ordered in those that have a point of their own.
    cost_each : Decimal, optional
        What the supplier charges for one, without tax, in `currency`.
    lead_time : int, optional
        Days until they come.
    """

    speaker: str
    finish: str | None
    article: str | None
    free: int
    coming: int
    least: int
    up_to: int
    to_order: int
    supplier: str | None
    cost_each: Decimal | None
    currency: str | None
    lead_time: int | None

    @property
    def called(self) -> str:
        """Its name with its finish and its article number."""
        return ", ".join(filter(None, (self.speaker, self.finish, self.article and f"article {self.article}")))

    @property
    def source(self) -> str:
        """From whom it is cheapest, for how much, and how long that takes."""
        cost = "" if self.cost_each is None else f"{self.cost_each} {self.currency} each"
        days = "" if self.lead_time is None else f"{self.lead_time} days"
        return ", ".join(filter(None, (self.supplier or "nobody has stated a price", cost, days)))


@dataclass(frozen=True, slots=True)
class Numbered:
    """The number of a loudspeaker in a finish: a supplier's, or our own."""

    number: str
    speaker: str
    finish: str | None
    supplier: str | None


def set_reorder_point(session: Session, speaker: str, least: int, up_to: int, finish: str | None = None) -> None:
    """Say below how many new ones, free or coming, it is to be ordered, and up to how many; 0 takes the point away.

    Raises
    ------
    BadInput
        They are no numbers of units, or of half a pair.
    NotFound
        No loudspeaker has that name.
    """
    refuse_text("finish", finish)
    model = model_named(session, speaker)
    key = rows.name_key(finish)
    mine = (ReorderPoint.loudspeaker_id == model.number, ReorderPoint.finish_key == key)
    if least == 0:
        session.execute(sa.delete(ReorderPoint).where(*mine))
        return
    if not 1 <= least <= up_to <= LARGEST_QUANTITY:
        raise BadInput(f"at least {least}, up to {up_to}: both from 1 to {LARGEST_QUANTITY}, the second not below")
    if up_to % model.pack:
        raise BadInput(f"up to {up_to}: it is sold in pairs, so give an even number")
    values = {"least": least, "up_to": up_to}
    if session.scalar(sa.select(ReorderPoint.id).where(*mine)) is not None:
        session.execute(sa.update(ReorderPoint).where(*mine).values(**values))
    else:
        about = {"loudspeaker_id": model.number, "finish": finish, "finish_key": key}
        session.execute(sa.insert(ReorderPoint).values(**about, **values))


def to_order(session: Session, *, every: bool = False, day: date | None = None) -> list[ToOrder]:
    """Give what is below its point, or every point, in order of names: how many, and from whom."""
    points = session.execute(
        named(
            sa.select(
                ReorderPoint.loudspeaker_id, speaker_name(), ReorderPoint.finish, ReorderPoint.finish_key
            ).add_columns(ReorderPoint.least, ReorderPoint.up_to),
            ReorderPoint.loudspeaker_id,
        ).order_by(speaker_name(), ReorderPoint.finish_key)
    ).all()
    numbers = {row[0] for row in points}
    known, today = models(session, numbers), day or datetime.now(UTC).date()
    found: dict[tuple[int, str], ToOrder] = {}
    of_finishes: Counter[int] = Counter()
    # those of one finish go first: what they order is coming for the one of all
    for number, name, finish, key, least, up_to in sorted(points, key=lambda row: row[3] == ""):
        free, coming = _free(session, known[number], key), _coming(session, number, key)
        coming += of_finishes[number] if not key else 0
        short = up_to - free - coming if free + coming < least else 0
        pack = known[number].pack
        wanted = 0 if known[number].gone else -(-short // pack) * pack
        of_finishes[number] += wanted
        if wanted or every:
            source = _cheapest(session, number, today)
            article = _article_of(session, number, finish, source[0] if source else None)
            about = (None, None, None, None) if source is None else source[1:]
            found[number, key] = ToOrder(name, finish, article, free, coming, least, up_to, wanted, *about)
    return [found[row[0], row[3]] for row in points if (row[0], row[3]) in found]


def _free(session: Session, model: Model, finish_key: str) -> int:
    """Give how many new ones nobody is promised, of one finish, or of all where the key is empty."""
    lines = free_lines().where(
        Holding.loudspeaker_id == model.number, Holding.grade == Grade.NEW, Holding.pack == model.pack
    )
    if finish_key:
        lines = lines.where(Holding.finish_key == finish_key)
    there = lines.subquery()
    free = there.c.on_hand - reserved_of(there.c.id, datetime.now(UTC))
    return int(session.scalar(sa.select(sa.func.coalesce(sa.func.sum(free), 0))) or 0)


def _coming(session: Session, number: int, finish_key: str) -> int:
    """Give how many are ordered for stock and have not come."""
    rest = SupplyOrder.quantity - come_of_order()
    query = sa.select(SupplyOrder.finish, rest).where(
        SupplyOrder.loudspeaker_id == number, SupplyOrder.job_id.is_(None), SupplyOrder.cancelled_at.is_(None), rest > 0
    )
    return sum(int(units) for finish, units in session.execute(query) if finish_key in ("", rows.name_key(finish)))


def _cheapest(
    session: Session, number: int, day: date
) -> tuple[int, str, Decimal | None, str | None, int | None] | None:
    """Give who delivers it at the lowest cost now: number, name, cost, currency, days; of equals the fastest."""
    holds = (SupplierPrice.valid_from <= day, sa.or_(SupplierPrice.valid_to.is_(None), SupplierPrice.valid_to > day))
    query = (
        sa.select(Supplier.id, Supplier.name, SupplierPrice.cost, SupplierPrice.currency, Supplier.lead_time)
        .join(Supplier, Supplier.id == SupplierPrice.supplier_id)
        .where(SupplierPrice.loudspeaker_id == number, *holds)
    )
    found = session.execute(query).all()
    last = session.execute(
        sa.select(Supplier.id, Supplier.name, sa.null(), sa.null(), Supplier.lead_time)
        .join(SupplyOrder, SupplyOrder.supplier_id == Supplier.id)
        .where(SupplyOrder.loudspeaker_id == number)
        .order_by(SupplyOrder.id.desc())
        .limit(1)
    ).all()
    ranked = sorted(found, key=lambda row: (row[2] is None, row[2] or 0, row[4] is None, row[4] or 0, row[1])) or last
    if not ranked:
        return None
    supplier, name, cost, currency, days = ranked[0]
    return supplier, name, None if cost is None else to_amount(cost, currency), currency if cost else None, days


def save_article(
    session: Session, speaker: str, number: str, supplier: str | None = None, finish: str | None = None
) -> None:
    """Keep the number under which a loudspeaker in a finish goes: a supplier's, or our own where none is named.

    Raises
    ------
    BadInput
        The number is blank or too long, or is that of another.
    NotFound
        No loudspeaker or supplier has that name.
    """
    for name, text in (("finish", finish), ("article number", number)):
        refuse_text(name, text)
    model = model_named(session, speaker)
    owner = None if supplier is None else supplier_named(session, supplier)
    key = rows.name_key(number)
    mine = Article.supplier_id.is_(None) if owner is None else Article.supplier_id == owner
    there = session.execute(
        sa.select(Article.loudspeaker_id, Article.finish).where(mine, Article.number_key == key)
    ).first()
    if there is not None and there[0] != model.number:
        other = models(session, [there[0]])[there[0]].name
        raise BadInput(f"article {number!r} is {other} already")
    session.execute(sa.delete(Article).where(mine, Article.number_key == key))
    alike = [
        one.id
        for one in session.scalars(sa.select(Article).where(mine, Article.loudspeaker_id == model.number))
        if rows.name_key(one.finish) == rows.name_key(finish)
    ]
    session.execute(sa.delete(Article).where(Article.id.in_(alike)))
    kept = {"number": " ".join(number.split()), "number_key": key}
    session.execute(sa.insert(Article).values(loudspeaker_id=model.number, supplier_id=owner, finish=finish, **kept))


def article_numbers(session: Session) -> list[Numbered]:
    """Give the numbers of articles in order of loudspeakers: our own first, then those of suppliers."""
    query = named(
        sa.select(Article.number, speaker_name(), Article.finish, Supplier.name).outerjoin(
            Supplier, Supplier.id == Article.supplier_id
        ),
        Article.loudspeaker_id,
    ).order_by(speaker_name(), Supplier.name.is_not(None), Supplier.name, Article.number_key)
    return [Numbered(*row) for row in session.execute(query)]


def articles_by_number(
    session: Session, numbers: Iterable[str], supplier: int | None
) -> dict[str, tuple[int, str | None]]:
    """Give loudspeaker and finish of article numbers by their keys; a supplier's own go before ours."""
    keys = {rows.name_key(number) for number in numbers}
    mine = Article.supplier_id.is_(None)
    theirs = mine if supplier is None else sa.or_(mine, Article.supplier_id == supplier)
    query = sa.select(Article.number_key, Article.loudspeaker_id, Article.finish, Article.supplier_id).where(theirs)
    found = sorted((row for row in session.execute(query) if row[0] in keys), key=lambda row: row[3] is not None)
    return {key: (speaker, finish) for key, speaker, finish, _ in found}


def _article_of(session: Session, number: int, finish: str | None, supplier: int | None) -> str | None:
    """Give the number to order by: the supplier's, or ours."""
    query = sa.select(Article).where(Article.loudspeaker_id == number)
    alike = [one for one in session.scalars(query) if rows.name_key(one.finish) == rows.name_key(finish)]
    for owner in (supplier, None):
        for one in alike:
            if one.supplier_id == owner:
                return one.number
    return None
