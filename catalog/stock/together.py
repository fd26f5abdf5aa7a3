"""Which lines of the ledger are one deed: of those with one number, of older ones by how they follow each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Holding, Location, Movement, MovementKind, Reservation, SupplyOrder
from triptych.catalog.stock.movement_lines import JOINED

_AT_ONCE: Final = timedelta(seconds=0.25)
"""Lines without a number that follow each other within it come of one deed: no two commands of a person do."""

_SOON: Final = timedelta(seconds=30)
"""Parts of one deed, which waits for nobody once it began to write, lie within it."""

Deed = list[Movement]
"""Lines that are one, in their order; of two halves of a move that which left."""


def one_with(session: Session, row: Movement) -> Deed:
    """Give the lines that are one deed with a line, itself among them.

    A receipt takes along what was reserved of it at once; that promise, named itself, is one of its own.
    """
    return next((deed for find in _FINDERS for deed in [find(session, row)] if row in deed), [row])


def _line(session: Session, holding: int | None, sequence: int) -> Movement | None:
    query = sa.select(Movement).where(Movement.holding_id == holding, Movement.sequence == sequence)
    return session.scalars(query).first()


_LONGEST: Final = timedelta(hours=1)
"""A server that was set up anew counts its transactions from the beginning, and a clock can be set back."""


def _near(one: Movement, other: Movement | None, apart: timedelta = _SOON) -> bool:
    if other is None or one.who != other.who or other.undoes_id is not None or one.deed_number != other.deed_number:
        return False
    return abs(one.at - other.at) <= (apart if one.deed_number is None else _LONGEST)


def _lends(session: Session, holding: int | None) -> bool:
    query = sa.select(Location.loan_job_id).join(Holding, Holding.location_id == Location.id)
    return session.scalar(query.where(Holding.id == holding)) is not None


def _arrived(session: Session, left: Movement) -> Movement | None:
    """Give the line by which all that left arrived."""
    query = sa.select(Movement).where(Movement.from_id == left.id, Movement.quantity == left.quantity)
    return session.scalars(query).first()


def _promised_on(session: Session, row: Movement) -> Deed:
    """Give what is promised where it was moved to, be it carried or lent, and for that let go of where it was."""
    if row.kind is MovementKind.RELEASE:
        left = _line(session, row.holding_id, row.sequence + 1)
        return _promised_on(session, left) if left is not None and left.kind is MovementKind.TRANSFER_OUT else []
    if row.kind is MovementKind.TRANSFER_OUT:
        came = _arrived(session, row)
        kept = None if came is None else _line(session, came.holding_id, came.sequence + 1)
    else:
        kept = row
        came = _line(session, row.holding_id, row.sequence - 1)
    if kept is None or came is None or kept.kind is not MovementKind.RESERVE or not _near(came, kept):
        return []
    if came.kind is not MovementKind.TRANSFER_IN or came.quantity != kept.quantity:
        return []
    left = session.get_one(Movement, came.from_id)
    if kept.carries_id is None:
        return [left, kept] if _lends(session, kept.holding_id) else []
    freed = _line(session, left.holding_id, left.sequence - 1)
    if freed is None or freed.reservation_id != kept.carries_id or freed.kind is not MovementKind.RELEASE:
        return []
    return [freed, left, kept]


def _carried(session: Session, row: Movement) -> Deed:
    """Give all parts of what was carried or lent at once: each is of another reservation."""
    deed = _promised_on(session, row) if row.kind in _CARRYING else []
    if len(deed) != 3:
        return deed
    found = list(deed)
    for step, kind in ((-1, MovementKind.TRANSFER_OUT), (1, MovementKind.RELEASE)):
        part = deed
        while part:
            edge = part[0] if step < 0 else part[1]
            beside = _line(session, edge.holding_id, edge.sequence + step)
            near = beside is not None and beside.kind is kind and _near(edge, beside, _AT_ONCE)
            part = _promised_on(session, beside) if near and beside is not None else []
            part = part if len(part) == 3 and part[0].job_id == deed[0].job_id else []
            found += part
    return sorted(found, key=_number)


def _brought_back(session: Session, row: Movement) -> Deed:
    """Give what came back of a loan, with the promises that ended for it."""
    left: Movement | None = row
    while left is not None and left.kind is MovementKind.RELEASE:
        left = _line(session, left.holding_id, left.sequence + 1)
    if left is None or left.kind is not MovementKind.TRANSFER_OUT or not _lends(session, left.holding_id):
        return []
    freed: Deed = []
    for one in _beside(session, left, -1, _SOON):
        if one.kind is not MovementKind.RELEASE or sum(each.quantity for each in (*freed, one)) > left.quantity:
            break
        freed.append(one)
    return [*freed[::-1], left]


def _beside(session: Session, row: Movement, step: int, apart: timedelta) -> Iterator[Movement]:
    """Give the lines of a holding before or after one, each soon after the other and by the same person."""
    one, other = row, _line(session, row.holding_id, row.sequence + step)
    while other is not None and _near(one, other, apart):
        yield other
        one, other = other, _line(session, other.holding_id, other.sequence + step)


def _joined(session: Session, row: Movement) -> Deed:
    """Give the two counts by which singles went, and that by which their pair came."""
    if row.kind is not MovementKind.COUNT or not (row.note or "").startswith(JOINED):
        return []
    alike = (Movement.loudspeaker_id == row.loudspeaker_id, Movement.kind == row.kind, Movement.note == row.note)
    found = session.scalars(sa.select(Movement).where(*alike).order_by(Movement.id)).all()
    deed = [one for one in found if _near(row, one)]
    return deed if sorted(one.quantity for one in deed) == [-1, -1, 2] else []


def _came(session: Session, row: Movement) -> Deed:
    """Give what came of an order for a job, and what is still reserved of it."""
    if row.kind is not MovementKind.RECEIVE or row.order_id is None:
        return []
    if session.get_one(SupplyOrder, row.order_id).job_id is None:
        return []
    held = (Movement.kind == MovementKind.RESERVE, Movement.holding_id == row.holding_id, Movement.id > row.id)
    query = (
        sa.select(Movement)
        .join(Reservation, Reservation.movement_id == Movement.id)
        .where(*held, Movement.quantity == row.quantity, Movement.serial.is_not_distinct_from(row.serial))
        .where(Movement.carries_id.is_(None), Movement.quote_id.is_(None), Reservation.rest > 0)
        .order_by(Movement.id)
    )
    kept = session.scalars(query).first()
    if kept is None or not _near(row, kept) or (row.serial is None and kept.sequence != row.sequence + 1):
        return []
    return [row, kept]


def _from_promises(session: Session, row: Movement) -> Deed:
    """Give the lines by which units of several reservations were sold or let go of at once."""
    if row.kind not in (MovementKind.SELL, MovementKind.RELEASE) or row.quote_id is not None:
        return []
    found = [row]
    for step in (-1, 1):
        for one in _beside(session, row, step, _AT_ONCE):
            alike = (one.kind, one.job_id, one.quote_id, one.note) == (row.kind, row.job_id, None, row.note)
            if not alike or _promised_on(session, one):
                break
            found.append(one)
    # a sale ends promises first, and writes at most one line of what nobody held
    if sum(one.reservation_id is None for one in found) > 1:
        return []
    return sorted(found, key=_number)


def _delivered(session: Session, row: Movement) -> Deed:
    """Give what of a quote was delivered at once."""
    if row.kind is not MovementKind.SELL or row.quote_id is None:
        return []
    query = sa.select(Movement).where(Movement.quote_id == row.quote_id, Movement.kind == row.kind)
    sold = session.scalars(query.order_by(Movement.id)).all()
    place = sold.index(row)
    first = last = place
    while first and _near(sold[first], sold[first - 1], _AT_ONCE):
        first -= 1
    while last + 1 < len(sold) and _near(sold[last], sold[last + 1], _AT_ONCE):
        last += 1
    return list(sold[first : last + 1])


def _number(row: Movement) -> int:
    return row.id


_CARRYING: Final = (MovementKind.RELEASE, MovementKind.TRANSFER_OUT, MovementKind.RESERVE)

_FINDERS: Final[tuple[Callable[[Session, Movement], Deed], ...]] = (
    _carried,
    _brought_back,
    _joined,
    _came,
    _from_promises,
    _delivered,
)


def taken_up(session: Session, row: Movement) -> int | None:
    """Give the quote of which became a part what a release let go of; None where it was let go of for good."""
    if row.kind is not MovementKind.RELEASE or row.job_id is None:
        return None
    query = sa.select(Movement).where(
        Movement.kind == MovementKind.RESERVE,
        Movement.loudspeaker_id == row.loudspeaker_id,
        Movement.job_id == row.job_id,
        Movement.quote_id.is_not(None),
        Movement.carries_id.is_(None),
        Movement.id > row.id,
    )
    kept = session.scalars(query.order_by(Movement.id)).first()
    return kept.quote_id if kept is not None and _near(row, kept, timedelta(seconds=5)) else None
