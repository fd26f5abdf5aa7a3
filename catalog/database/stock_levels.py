"""What may be promised, as queries: on hand less what is reserved and has not lapsed."""

from __future__ import annotations

import functools
from collections.abc import Collection
from datetime import UTC, date, datetime, time
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database.models import Grade, Holding, Location, Loudspeaker, Movement, Reservation
from triptych.catalog.database.models.base import UtcTime
from triptych.catalog.records import SoldAs

SELLABLE: Final = tuple(grade for grade in Grade if grade is not Grade.QUARANTINE)
"""Grades whose units may be promised."""

PACK: Final = sa.case((Loudspeaker.sold_as == SoldAs.PAIR, 2), else_=1)
"""How many loudspeakers a box of the trade holds: 2 of a model that is sold in pairs, else 1."""

_UNDOING: Final = aliased(Movement)
_HELD: Final = aliased(Reservation)
"""Made once, as are all that queries are made of again and again: its columns are worked out with its first query."""


def moment(day: date | datetime | None = None) -> datetime:
    """Give the instant at which a day's reservations are looked at: now, where the day is none or today."""
    if isinstance(day, datetime):
        return day.astimezone(UTC)
    now = datetime.now(UTC)
    return now if day is None or day == now.date() else datetime.combine(day, time(), UTC)


def on_server(session: Session) -> bool:
    """Say whether a server keeps the catalogue: it has a clock of its own, and many writers."""
    return bool(session.get_bind().dialect.name != "sqlite")


def clock(session: Session) -> datetime | sa.ColumnElement[datetime]:
    """Give the instant that it is now, by the clock of the database."""
    return sa.func.clock_timestamp(type_=UtcTime) if on_server(session) else datetime.now(UTC)


def reserved_of(holding_id: sa.ColumnElement[int] | Any, now: Any) -> sa.ScalarSelect[int]:
    """Give the query of what is reserved of a holding at an instant: what lapsed doesn't count."""
    live = sa.and_(_HELD.holding_id == holding_id, _HELD.rest > 0, _HELD.until > now)
    return sa.select(sa.func.coalesce(sa.func.sum(_HELD.rest), 0)).where(live).scalar_subquery()


@functools.cache
def is_undone() -> sa.ColumnElement[bool]:
    """Give the condition under which a movement is taken back, for a query of movements."""
    return sa.exists().where(_UNDOING.undoes_id == Movement.id)


def is_last_line() -> sa.ColumnElement[bool]:
    """Give the condition under which a movement is the last line of its holding, for a query of holdings."""
    newest = sa.select(sa.func.max(Movement.sequence)).where(Movement.holding_id == Holding.id)
    return sa.and_(Movement.holding_id == Holding.id, Movement.sequence == newest.correlate(Holding).scalar_subquery())


def on_hand_of() -> sa.ScalarSelect[int]:
    """Give what is on hand of a holding by its last line, for a query of holdings; NULL where it has none.

    It is looked up for each holding: joined to the ledger, SQLite would read all of that and look for the holdings.
    """
    lines = sa.select(Movement.on_hand).where(Movement.holding_id == Holding.id).correlate(Holding)
    return lines.order_by(Movement.sequence.desc()).limit(1).scalar_subquery()


@functools.cache
def last_lines() -> sa.Select[int, int, Grade, int]:
    """Give the query of the last line of each holding: holding, loudspeaker, grade, on hand."""
    moved = sa.select(Movement.id).where(Movement.holding_id == Holding.id).correlate(Holding).exists()
    on_hand = on_hand_of().label("on_hand")
    return sa.select(Holding.id, Holding.loudspeaker_id, Holding.grade, on_hand).where(moved)


@functools.cache
def free_lines() -> sa.Select[int, int, Grade, int]:
    """Give the query of the last line of each holding whose units can be promised to others: what is lent cannot."""
    lent = sa.select(Location.id).where(Location.loan_job_id.is_not(None))
    return last_lines().where(Holding.location_id.not_in(lent))


def available_query(day: date | datetime | None = None, grades: Collection[Grade] | None = None) -> sa.Select[int, int]:
    """Give the query of all that may be promised of each loudspeaker that the ledger knows: id, units; in order of id.

    Units in pairs and single ones, of every finish, are counted together: see `alike_query` for what goes together.
    """
    lines = free_lines().subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, moment(day))
    units = sa.case((lines.c.grade.in_(_sellable(grades)), free), else_=0)
    total = sa.cast(sa.func.sum(units), sa.Integer).label("available")
    number = lines.c.loudspeaker_id
    return sa.select(number, total).group_by(number).order_by(number)


def alike_query(day: date | datetime | None = None, grades: Collection[Grade] | None = None) -> sa.Select[int, int]:
    """Give the query of how many may be promised together of each loudspeaker that the ledger knows: id, units.

    Together go units of one finish and grade, as the model is sold: of what is sold in pairs no single ones.
    In order of id.
    """
    lines = free_lines().add_columns(Holding.pack, Holding.finish_key).subquery()
    free = lines.c.on_hand - reserved_of(lines.c.id, moment(day))
    fits = sa.and_(lines.c.grade.in_(_sellable(grades)), lines.c.pack == PACK)
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
