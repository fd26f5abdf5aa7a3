"""Refusals of a line that is wrong by itself, or in what it says of a serial, a reservation, a pair or a day."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Holding, Location, Movement, MovementKind
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock.looking import There
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, MovementLine, at_place, instant
from triptych.catalog.stock.shortfalls import too_few
from triptych.catalog.stock.timing import until_words


def no_reservation(line: MovementLine) -> NotFound:
    """Give the refusal of a reservation that is none of a line's units."""
    return NotFound(f"no reservation of these units has the number {line.reservation_id}")


def serial_taken(session: Session, line: MovementLine, serial: str) -> Refused:
    """Give the refusal of what comes under a serial that is somewhere, or named a pair that was split."""
    query = (
        sa.select(Movement.id, Movement.kind, Location.name)
        .join(Holding, Holding.id == Movement.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Movement.loudspeaker_id == line.loudspeaker_id, Movement.serial == serial, Movement.effect != 0)
        .order_by(Movement.serial_sequence.desc())
    )
    number, kind, place = session.execute(query.limit(1)).one()
    if kind is MovementKind.SPLIT_PAIR:
        why = f"named a pair that was split by line {number}, and names nothing else: name another, or none"
    elif kind in OUT_OF:
        why = f"is on its way by line {number}: take that in with stock arrive"
    else:
        why = f"is {at_place(place, quoted=True)} already, by line {number}: each is in one place"
    return Refused(f"cannot {line.units}: serial {serial!r} {why}; nothing was written")


def refuse_overdrawn(line: MovementLine, there: There) -> None:
    """Refuse a line that takes more of a reservation than is left of it, or after it lapsed."""
    if there.rest is None or there.until is None:
        raise no_reservation(line)
    if there.until <= there.now:
        lapsed = until_words(there.until)
        raise Refused(f"reservation {line.reservation_id} lapsed at {lapsed}: reserve again; nothing was written")
    if line.quantity > there.rest:
        raise Refused(f"reservation {line.reservation_id} holds {there.rest}, not {line.quantity}; nothing was written")


def refuse_unfit(session: Session, line: MovementLine, there: There) -> None:
    """Refuse a line that is of half a pair or of the past, or takes or brings more than there can be."""
    pack = there.pack
    if line.quantity % pack:
        raise BadInput(f"quantity {line.quantity}: it is sold in pairs, so give an even number, or split a pair first")
    if line.serial is not None and abs(line.quantity) != pack:
        one = "one pair, which is 2" if pack == 2 else "one unit"
        raise BadInput(f"serial {line.serial!r} names {one}, not {line.quantity}")
    if line.until is not None and instant(line.until) <= there.now:
        past = until_words(instant(line.until))
        raise BadInput(f"until {past}: that has passed; a reservation ends in the future")
    if line.kind in OUT_OF or line.kind is MovementKind.RESERVE or line.quantity < 0:
        _refuse_too_few(session, line, there)
    if there.on_hand + line.quantity > LARGEST_QUANTITY * 1000:
        raise Refused(f"cannot {line.units}: {there.on_hand} are on hand already, which cannot be meant")


def _refuse_too_few(session: Session, line: MovementLine, there: There) -> None:
    wanted = -line.quantity if line.kind in INTO else line.quantity
    own = line.quantity if line.reservation_id is not None else 0
    if wanted > there.on_hand - there.reserved + own:
        raise too_few(session, line, there)
