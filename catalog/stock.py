"""The stock ledger: what is on hand and what may be promised, and movements that cannot take more than there is."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from catalog.errors import BadInput, NotFound, Refused
from catalog.models import Grade, Loudspeaker, Movement, MovementKind

INTO: Final = (
    MovementKind.RECEIVE,
    MovementKind.RETURN,
    MovementKind.TRANSFER_IN,
    MovementKind.REGRADE_IN,
    MovementKind.COUNT,
)
"""Movements that add their quantity to what is on hand; that of a count has its own sign."""

OUT_OF: Final = (
    MovementKind.SELL,
    MovementKind.TRANSFER_OUT,
    MovementKind.REGRADE_OUT,
    MovementKind.WRITE_OFF,
)
"""Movements that take their quantity from what is on hand."""

LARGEST: Final = 1_000_000
"""The largest quantity that one movement is taken to mean."""


@dataclass(frozen=True, slots=True)
class Line:
    """One movement to be written: units of one model, finish and grade at one location."""

    loudspeaker_id: int
    kind: MovementKind
    quantity: int
    location: str
    grade: Grade = Grade.NEW
    finish: str | None = None
    job: str | None = None
    until: date | None = None
    reservation_id: int | None = None
    serial: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Level:
    """What there is of something: on hand, and reserved out of it."""

    on_hand: int
    reserved: int

    @property
    def available(self) -> int:
        """What may be promised."""
        return self.on_hand - self.reserved


def on_hand_effect() -> sa.Case[int]:
    """Give what a movement adds to what is on hand."""
    return sa.case(
        (Movement.kind.in_(INTO), Movement.quantity), (Movement.kind.in_(OUT_OF), -Movement.quantity), else_=0
    )


def _reserved_effect(day: date) -> sa.Case[int]:
    """Give what a movement adds to what is reserved on a day; a reservation that lapsed counts with all its ends."""
    reservation = aliased(Movement)
    holds = Movement.until >= day
    held = (
        sa.select(reservation.id)
        .where(reservation.id == Movement.reservation_id, reservation.until >= day)
        .correlate(Movement)
        .exists()
    )
    return sa.case(
        (sa.and_(Movement.kind == MovementKind.RESERVE, holds), Movement.quantity),
        (sa.and_(Movement.reservation_id.is_not(None), held), -Movement.quantity),
        else_=0,
    )


def available_query(day: date | None = None, grades: Collection[Grade] | None = None) -> sa.Select[int, int]:
    """Give the query of what may be promised of each loudspeaker that the ledger knows: id, units; in order of id."""
    units = on_hand_effect() - _reserved_effect(day or _today())
    if grades is not None:
        units = sa.case((Movement.grade.in_(grades), units), else_=0)
    total = sa.func.sum(units).label("available")
    return sa.select(Movement.loudspeaker_id, total).group_by(Movement.loudspeaker_id).order_by(Movement.loudspeaker_id)


def available(session: Session, loudspeaker_id: int, grades: Collection[Grade] | None = None) -> int | None:
    """Give how many units may be promised now, of all grades or of some; None where the ledger has no movement."""
    query = available_query(grades=grades).where(Movement.loudspeaker_id == loudspeaker_id)
    found = session.execute(query).first()
    return None if found is None else int(found[1])


def ids_in_stock(day: date | None = None) -> sa.Select[int]:
    """Give the query of the loudspeakers of which a unit may be promised."""
    found = available_query(day).order_by(None).subquery()
    return sa.select(found.c.loudspeaker_id).where(found.c.available > 0)


def level(session: Session, line: Line) -> Level:
    """Give what there is of the model, finish and grade at the location that a line speaks of."""
    query = sa.select(
        sa.func.coalesce(sa.func.sum(on_hand_effect()), 0),
        sa.func.coalesce(sa.func.sum(_reserved_effect(_today())), 0),
    ).where(
        Movement.loudspeaker_id == line.loudspeaker_id,
        Movement.finish.is_not_distinct_from(line.finish),
        Movement.grade == line.grade,
        Movement.location == line.location,
    )
    on_hand, reserved = session.execute(query).one()
    return Level(int(on_hand), int(reserved))


def record_movement(session: Session, line: Line, at: datetime | None = None) -> int:
    """Write one movement and give its number. The session must come from `database.writing`.

    Raises
    ------
    BadInput
        The line is incomplete, or its quantity is none.
    NotFound
        There is no such loudspeaker or reservation.
    Refused
        More would go out, or be promised, than there is. Nothing was written.
    """
    _refuse_incomplete(line)
    _lock(session, line.loudspeaker_id)
    if line.reservation_id is not None:
        _refuse_overdrawn(session, line)
    values = {name: getattr(line, name) for name in Line.__slots__}
    with session.begin_nested():
        insert = sa.insert(Movement).values(**values, at=at or datetime.now(UTC)).returning(Movement.id)
        number = session.scalars(insert).one()
        left = level(session, line)
        if left.on_hand < 0 or left.available < 0:
            raise Refused(_too_few(line, left))
    return number


def _today() -> date:
    return datetime.now(UTC).date()


def _refuse_incomplete(line: Line) -> None:
    sign_free = line.kind is MovementKind.COUNT
    if line.quantity == 0 or abs(line.quantity) > LARGEST or (line.quantity < 0 and not sign_free):
        raise BadInput(f"quantity {line.quantity}: must be from 1 to {LARGEST}")
    if not line.location.strip():
        raise BadInput("the movement has no location")
    if line.kind is MovementKind.RESERVE and (line.job is None or line.until is None):
        raise BadInput("a reservation needs a job and a date until which it holds")
    if line.kind is MovementKind.RELEASE and line.reservation_id is None:
        raise BadInput("a release needs the number of its reservation")
    if line.reservation_id is not None and line.kind not in (MovementKind.RELEASE, MovementKind.SELL):
        raise BadInput(f"a {line.kind.value} does not end a reservation")
    if line.serial is not None and abs(line.quantity) != 1:
        raise BadInput(f"serial {line.serial!r} names one unit, not {line.quantity}")


def _lock(session: Session, loudspeaker_id: int) -> None:
    """Let one writer at a time see and change what there is of a model; on SQLite there is only one writer anyway."""
    query = sa.select(Loudspeaker.id).where(Loudspeaker.id == loudspeaker_id).with_for_update()
    if session.scalar(query) is None:
        raise NotFound(f"no loudspeaker has the number {loudspeaker_id}")


def _refuse_overdrawn(session: Session, line: Line) -> None:
    reservation = session.get(Movement, line.reservation_id)
    if reservation is None or reservation.kind is not MovementKind.RESERVE or not _same_units(reservation, line):
        raise NotFound(f"no reservation of these units has the number {line.reservation_id}")
    ended = sa.select(sa.func.coalesce(sa.func.sum(Movement.quantity), 0)).where(
        Movement.reservation_id == line.reservation_id
    )
    rest = reservation.quantity - int(session.scalars(ended).one())
    if line.quantity > rest:
        raise Refused(f"reservation {line.reservation_id} holds {rest}, not {line.quantity}; nothing was written")


def _same_units(movement: Movement, line: Line) -> bool:
    return all(
        getattr(movement, name) == getattr(line, name) for name in ("loudspeaker_id", "finish", "grade", "location")
    )


def _too_few(line: Line, left: Level) -> str:
    effect = -line.quantity if line.kind in OUT_OF else line.quantity if line.kind in INTO else 0
    there = left.on_hand - effect
    what = f"{line.kind.value} {line.quantity}"
    return f"cannot {what} at {line.location!r}: {there} on hand, {_held(line, left)} reserved; nothing was written"


def _held(line: Line, left: Level) -> int:
    return left.reserved - (line.quantity if line.kind is MovementKind.RESERVE else 0)
