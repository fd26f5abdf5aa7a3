"""The stock, its ledger and the quotes as rows for people and programs, detached from the session."""

from __future__ import annotations

import functools
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.direct import asker
from triptych.catalog.database.listings import Holds, holdings_shown, serials_held
from triptych.catalog.database.models import (
    Holding,
    Location,
    Movement,
    Reservation,
)
from triptych.catalog.money import to_amount
from triptych.catalog.stock.articles import model_named, named, speaker_name
from triptych.catalog.stock.days import day_between
from triptych.catalog.stock.job_names import JOB, job_named, with_job
from triptych.catalog.stock.locations import known_name


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the ledger; `amount` is of one, without tax: what it cost that came, or the price of a sale."""

    number: int
    at: datetime
    kind: str
    quantity: int
    on_hand: int
    location: str
    grade: str
    finish: str | None
    pack: int
    to: str | None
    job: str | None
    until: datetime | None
    reservation: int | None
    ends: int | None
    serial: str | None
    who: str | None
    note: str | None
    zone: str
    amount: Decimal | None
    currency: str | None
    quote: int | None
    order: int | None
    undoes: int | None
    speaker: str


def stock_list(
    session: Session,
    loudspeaker_id: int | None = None,
    location: str | None = None,
    *,
    include_empty: bool = False,
    now: datetime | None = None,
) -> list[Holds]:
    """Give what there is, of all or of one loudspeaker or location, in order of name, location, grade and finish."""
    return holdings_shown(asker(session), loudspeaker_id, location, include_empty=include_empty, now=now)


def serials_at(session: Session, holdings: Collection[int] | None) -> list[tuple[int, str]]:
    """Give the serials whose last line that moved them brought them to a holding, oldest received first."""
    return serials_held(asker(session), None if holdings is None else list(holdings))


@dataclass(frozen=True, slots=True)
class LinesAsked:
    """Which lines of the ledger are asked for; what is None is not asked. Days are those of each line's location."""

    speaker: str | None = None
    first: date | None = None
    last: date | None = None
    who: str | None = None
    job: str | None = None
    location: str | None = None


def ledger(session: Session, asked: LinesAsked, limit: int | None = None) -> list[Entry]:
    """Give the lines of the ledger that are asked for, oldest first; the newest `limit` of them where it is given.

    Raises
    ------
    NotFound
        There is no such loudspeaker, location or job; the nearest is told.
    """
    newest = (Movement.at.desc(), Movement.holding_id.desc(), Movement.sequence.desc())
    query = _entries().where(*_asked(session, asked)).order_by(*newest).limit(limit)
    return [_entry(*row)[1] for row in reversed(session.execute(query).all())]


def _asked(session: Session, asked: LinesAsked) -> list[sa.ColumnElement[bool]]:
    which: list[sa.ColumnElement[bool]] = []
    if asked.speaker is not None:
        which.append(Holding.loudspeaker_id == model_named(session, asked.speaker).number)
    if asked.location is not None:
        which.append(Location.name_key == rows.name_key(known_name(session, asked.location)))
    if asked.who is not None:
        which.append(sa.func.lower(Movement.who) == asked.who.strip().lower())
    if asked.job is not None:
        which.append(JOB.id == job_named(session, asked.job))
    first, last = asked.first or asked.last, asked.last or asked.first
    if first is not None and last is not None:
        zones = session.scalars(sa.select(Location.zone).distinct()).all()
        days = (sa.and_(Location.zone == zone, *day_between(session, Movement.at, first, last, zone)) for zone in zones)
        which.append(sa.or_(sa.false(), *days))
    return which


def entries(session: Session, numbers: Sequence[int]) -> list[tuple[int, Entry]]:
    """Give lines of the ledger by their numbers, each with the number of its loudspeaker."""
    return [_entry(*row) for row in session.connection().execute(_numbered(), {"numbers": list(numbers)})]


@cache
def _numbered() -> sa.Select[*tuple[Any, ...]]:
    return _entries().where(Movement.id.in_(sa.bindparam("numbers", expanding=True))).order_by(Movement.id)


def entries_of(
    session: Session, *which: sa.ColumnElement[bool], order: sa.orm.InstrumentedAttribute[Any]
) -> list[tuple[int, Entry]]:
    """Give the lines of the ledger of which all this holds, each with the number of its loudspeaker."""
    return [_entry(*row) for row in session.execute(_entries().where(*which).order_by(order))]


@functools.cache
def _entries() -> sa.Select[*tuple[Any, ...]]:
    """Give the query of the ledger's lines: the loudspeaker's number, and what an `Entry` has, in its order."""
    goal, there = aliased(Holding), aliased(Location)
    kind, grade = (sa.type_coerce(column, sa.String) for column in (Movement.kind, Holding.grade))
    holding = (Location.name, grade, Holding.finish, Holding.pack, there.name)
    promise = (JOB.name, Movement.until, Movement.reservation_id, Movement.from_id, Movement.serial)
    money = (Movement.amount, Movement.currency, Movement.quote_id, Movement.order_id, Movement.undoes_id)
    query = (
        sa.select(Movement.loudspeaker_id, Movement.id, Movement.at, kind, Movement.quantity, Movement.on_hand)
        .add_columns(*holding, *promise, Movement.who, Movement.note, Location.zone, *money, speaker_name())
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .outerjoin(goal, goal.id == Movement.to_holding_id)
        .outerjoin(there, there.id == goal.location_id)
    )
    return with_job(named(query, Movement.loudspeaker_id), Movement.job_id, outer=True)


def _entry(loudspeaker_id: int, *row: Any) -> tuple[int, Entry]:
    *said, amount, currency, quote, order, undoes, speaker = row
    money = None if amount is None else to_amount(amount, currency)
    values: tuple[Any, ...] = (*said, money, currency, quote, order, undoes, speaker)
    return loudspeaker_id, Entry(*values)


@dataclass(frozen=True, slots=True)
class Held:
    """A reservation that holds something now, or that lapsed with something left."""

    number: int
    speaker: str
    location: str
    grade: str
    job: str
    units: int
    until: datetime
    lapsed: bool
    serial: str | None
    zone: str
    finish: str | None
    pack: int


def reservations(session: Session, *, lapsed: bool = False, now: datetime | None = None) -> list[Held]:
    """Give what is reserved, soonest to lapse first; with `lapsed` what lapsed too."""
    moment = now or datetime.now(UTC)
    query = with_job(
        named(
            sa.select(
                Reservation.movement_id,
                speaker_name(),
                Location.name,
                Holding.grade,
                JOB.name,
                Reservation.rest,
                Reservation.until,
                Reservation.serial,
                Location.zone,
                Holding.finish,
                Holding.pack,
            ).join(Holding, Holding.id == Reservation.holding_id),
            Holding.loudspeaker_id,
        )
        .join(Location, Location.id == Holding.location_id)
        .join(Movement, Movement.id == Reservation.movement_id)
        .where(Reservation.rest > 0)
        .order_by(Reservation.until, Reservation.movement_id),
        Movement.job_id,
    )
    if not lapsed:
        query = query.where(Reservation.until > moment)
    return [
        Held(number, name, at, grade.value, job, rest, until, until <= moment, serial, zone, finish, pack)
        for number, name, at, grade, job, rest, until, serial, zone, finish, pack in session.execute(query)
    ]
