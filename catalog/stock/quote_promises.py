"""What is promised to a quote, or to a job apart from any: the live reservations, as they stand."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import UTC, datetime
from functools import cache
from typing import Any, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Holding, Job, Location, Movement, MovementKind, Reservation
from triptych.catalog.database.models.base import UtcTime
from triptych.catalog.database.stock_levels import clock, on_server
from triptych.catalog.stock import looking
from triptych.catalog.stock.job_names import JOB, parts_of, whole_job, with_job
from triptych.catalog.stock.quote_units import Kept
from triptych.catalog.stock.timing import until_words


def now_of(session: Session) -> datetime:
    """Give the instant that it is now, by the clock of the database."""
    now = clock(session)
    return now if isinstance(now, datetime) else session.scalars(sa.select(now)).one()


def kept_for(session: Session, number: int) -> list[Kept]:
    """Give the live reservations of a quote, oldest first; their holdings are locked together."""
    query = _of_quote(server=on_server(session))
    found = _live(session, query, {"quote": number})
    if not on_server(session):
        return found
    looking.lock(session, {one.holding for one in found})
    return _live(session, query, {"quote": number})


def held_by(session: Session, job: str, holdings: Collection[int] | None = None) -> list[Kept]:
    """Give the live reservations of a job apart from any quote, everywhere or in some holdings, oldest first."""
    values: dict[str, object] = {"job": rows.name_key(job)}
    values |= {} if holdings is None else {"holdings": list(holdings)}
    return _live(session, _of_job(everywhere=holdings is None, server=on_server(session)), values)


def _live(session: Session, query: sa.Select[*tuple[Any, ...]], values: dict[str, object]) -> list[Kept]:
    return [
        Kept(
            number,
            holding,
            location,
            (speaker, grade, finish_key, pack),
            finish,
            job,
            rest,
            serial,
            until,
        )
        for speaker, number, holding, location, grade, finish_key, pack, finish, job, rest, serial, until in (
            session.connection().execute(query, {"now": datetime.now(UTC), **values})
        )
    ]


@cache
def _of_quote(*, server: bool) -> sa.Select[*tuple[Any, ...]]:
    return _live_query(server=server).where(Movement.quote_id == sa.bindparam("quote"))


@cache
def _of_job(*, everywhere: bool, server: bool) -> sa.Select[*tuple[Any, ...]]:
    named = sa.select(whole_job(Job)).where(Job.name_key == sa.bindparam("job")).scalar_subquery()
    query = _live_query(server=server).where(Movement.job_id.in_(parts_of(named)), Movement.quote_id.is_(None))
    return query if everywhere else query.where(Movement.holding_id.in_(sa.bindparam("holdings", expanding=True)))


def _live_query(*, server: bool) -> sa.Select[*tuple[Any, ...]]:
    now = sa.func.clock_timestamp(type_=UtcTime) if server else sa.bindparam("now", type_=UtcTime)
    return (
        with_job(
            sa.select(Movement.loudspeaker_id, Reservation.movement_id, Holding.id, Location.name, Holding.grade)
            .add_columns(Holding.finish_key, Holding.pack, Holding.finish, JOB.name)
            .add_columns(Reservation.rest, Reservation.serial, Reservation.until)
            .join(Reservation, Reservation.movement_id == Movement.id)
            .join(Holding, Holding.id == Movement.holding_id)
            .join(Location, Location.id == Holding.location_id),
            Movement.job_id,
        )
        .where(Movement.kind == MovementKind.RESERVE, Reservation.rest > 0, Reservation.until > now)
        .order_by(Movement.id)
    )


class Swallowed(NamedTuple):
    """A reservation that becomes part of a quote: its number and until when it held, how many of what, and where."""

    number: int
    until: datetime
    quantity: int
    speaker: str
    location: str


def swallowed_words(quote: int, job: str, zone: str, given: Sequence[Swallowed], asked: datetime) -> list[str]:
    """Tell of what a job held that it is part of its quote now, and what that changes of its day."""
    told = []
    end = max([asked, *(one.until for one in given)])
    held, wanted = until_words(end, zone), until_words(asked, zone)
    for one in given:
        before = until_words(one.until, zone)
        # less than a minute is no difference that the words tell
        was = "" if before == held else f", until {held} where it was {before}"
        told.append(
            f"reservation {one.number} of {job}, {one.quantity} × {one.speaker} at {one.location},"
            f" is part of quote {quote} now{was}"
        )
    if asked < end and wanted != held:
        told.append(
            f"all of quote {quote} is reserved until {held}, as {job} held some of it so long, and not until {wanted}"
        )
    return told
