"""What may be promised now, in queries and model by model."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import UTC, date, datetime, time
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, Holding, Loudspeaker, Movement
from triptych.catalog.records import SoldAs, Status
from triptych.catalog.stock.holdings import reserved_of
from triptych.catalog.stock.promising import Asked, Model, Promise, Shelf, promise_of
from triptych.catalog.stock.sources import read_sources

__all__ = [
    "NEVER_AGAIN",
    "SELLABLE",
    "Asked",
    "Promise",
    "alike_query",
    "available",
    "available_query",
    "ids_in_stock",
    "last_lines",
    "moment",
    "promised",
    "promises",
]

SELLABLE: Final = tuple(grade for grade in Grade if grade is not Grade.QUARANTINE)
"""Grades whose units may be promised."""

NEVER_AGAIN: Final = (Status.LAST_OF_LINE, Status.DISCONTINUED)
"""Models that are never back-ordered."""


def moment(day: date | datetime | None = None) -> datetime:
    """Give the instant at which a day's reservations are looked at: now, where the day is none or today."""
    if isinstance(day, datetime):
        return day.astimezone(UTC)
    now = datetime.now(UTC)
    return now if day is None or day == now.date() else datetime.combine(day, time(), UTC)


def last_lines() -> sa.Select[int, int, Grade, int]:
    """Give the query of the last line of each holding: holding, loudspeaker, grade, on hand."""
    newest = (
        sa.select(sa.func.max(Movement.sequence))
        .where(Movement.holding_id == Holding.id)
        .correlate(Holding)
        .scalar_subquery()
    )
    return sa.select(Holding.id, Holding.loudspeaker_id, Holding.grade, Movement.on_hand).join(
        Movement, sa.and_(Movement.holding_id == Holding.id, Movement.sequence == newest)
    )


def available_query(day: date | datetime | None = None, grades: Collection[Grade] | None = None) -> sa.Select[int, int]:
    """Give the query of all that may be promised of each loudspeaker that the ledger knows: id, units; in order of id.

    Units in pairs and single ones, of every finish, are counted together: see `alike_query` for what goes together.
    """
    wanted = _sellable(grades)
    lines = last_lines().subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, moment(day))
    units = sa.case((lines.c.grade.in_(wanted), free), else_=0)
    total = sa.cast(sa.func.sum(units), sa.Integer).label("available")
    number = lines.c.loudspeaker_id
    return sa.select(number, total).group_by(number).order_by(number)


def alike_query(day: date | datetime | None = None, grades: Collection[Grade] | None = None) -> sa.Select[int, int]:
    """Give the query of how many may be promised together of each loudspeaker that the ledger knows: id, units.

    Together go units of one finish and grade, as the model is sold: of what is sold in pairs no single ones.
    In order of id.
    """
    lines = last_lines().add_columns(Holding.pack, Holding.finish_key).subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, moment(day))
    fits = sa.and_(lines.c.grade.in_(_sellable(grades)), lines.c.pack == _PACK)
    number, sold_as = lines.c.loudspeaker_id, Loudspeaker.sold_as
    units = sa.func.sum(sa.case((fits, free), else_=0)).label("units")
    alike = (
        sa.select(number, units)
        .join(Loudspeaker, Loudspeaker.id == number)
        .group_by(number, lines.c.grade, lines.c.finish_key, sold_as)
        .subquery()
    )
    most = sa.cast(sa.func.max(alike.c.units), sa.Integer).label("available")
    return sa.select(alike.c.loudspeaker_id, most).group_by(alike.c.loudspeaker_id).order_by(alike.c.loudspeaker_id)


_PACK: Final = sa.case((Loudspeaker.sold_as == SoldAs.PAIR, 2), else_=1)


def _sellable(grades: Collection[Grade] | None) -> list[Grade]:
    return [grade for grade in SELLABLE if grades is None or grade in grades]


def available(session: Session, loudspeaker_id: int, grades: Collection[Grade] | None = None) -> int | None:
    """Give how many units may be promised now, of all grades or of some; None where the ledger has no movement."""
    query = available_query(grades=grades).subquery()
    found = session.execute(sa.select(query.c.available).where(query.c.loudspeaker_id == loudspeaker_id)).first()
    return None if found is None else int(found[0])


def ids_in_stock(day: date | datetime | None = None) -> sa.Select[int]:
    """Give the query of the loudspeakers of which a unit may be promised."""
    found = available_query(day).order_by(None).subquery()
    return sa.select(found.c.loudspeaker_id).where(found.c.available > 0)


def promises(
    session: Session,
    ids: Iterable[int],
    quantity: int = 1,
    grades: Collection[Grade] = (Grade.NEW,),
    day: date | datetime | None = None,
) -> dict[int, Promise]:
    """Give for each loudspeaker whether `quantity` alike may be promised now, in any finish, and when otherwise.

    Parameters
    ----------
    ids : iterable of int
        Loudspeakers' numbers.
    quantity : int
        How many are wanted together.
    grades : collection of Grade
        Which are acceptable.

    Returns
    -------
    dict of int to Promise
        By number; one for each of `ids` that is a loudspeaker.
    """
    return promised(session, ids, Asked(quantity, tuple(grades)), day)


def promised(
    session: Session, ids: Iterable[int], asked: Asked, day: date | datetime | None = None
) -> dict[int, Promise]:
    """Give for each loudspeaker whether what is asked may be promised now, and when otherwise.

    Reservations that lapse and orders that come are added up over time; where they don't suffice, the lead time of a
    supplier counts. What is discontinued or last of its line, single ones of what is sold in pairs, and grades other
    than new are never back-ordered. An order doesn't say in which finish it comes, so it is taken to come as asked.
    """
    now, wanted = moment(day), sorted(set(ids))
    shelves = _shelves(session, wanted, now)
    sources = read_sources(session, wanted, now)
    return {
        model.number: promise_of(model, shelves.get(model.number, []), asked, sources)
        for model in _models(session, wanted)
    }


def _models(session: Session, ids: list[int]) -> list[Model]:
    query = sa.select(Loudspeaker.id, Loudspeaker.status, Loudspeaker.sold_as).where(Loudspeaker.id.in_(ids))
    return [
        Model(number, 2 if sold_as is SoldAs.PAIR else 1, _gone(status))
        for number, status, sold_as in session.execute(query)
    ]


def _gone(status: Status | None) -> str | None:
    return str(status.value).replace("_", " ") if status is not None and status in NEVER_AGAIN else None


def _shelves(session: Session, ids: list[int], now: Any) -> dict[int, list[Shelf]]:
    lines = last_lines().where(Holding.loudspeaker_id.in_(ids)).subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, now)
    query = (
        sa.select(Holding.loudspeaker_id, Holding.pack, Holding.grade, Holding.finish, Holding.finish_key, free)
        .join(lines, lines.c.id == Holding.id)
        .where(Holding.grade.in_(SELLABLE))
        .order_by(Holding.id)
    )
    found: dict[int, list[Shelf]] = {}
    for number, *shelf in session.execute(query):
        found.setdefault(number, []).append(Shelf(*shelf))
    return found
