"""What an installer does with units, each as a whole: both halves of it, or neither.

Each looks at what there is by itself, unless `there` says what was looked at already.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from functools import cache
from typing import Any, Final, NamedTuple

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, Holding, Job, Location, Movement, MovementKind, Reservation
from triptych.catalog.database.stock_levels import clock
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import ledger, looking
from triptych.catalog.stock.articles import model_of, sold_and_out
from triptych.catalog.stock.costs import cost_of_serials
from triptych.catalog.stock.job_names import JOB, whole_job, with_job
from triptych.catalog.stock.ledger import record_movement
from triptych.catalog.stock.looking import There
from triptych.catalog.stock.movement_lines import JOINED, LARGEST_QUANTITY, MovementLine, Target
from triptych.catalog.stock.shortfalls import fewer_reserved, refuse_forgotten, unpromised

PARTNER: Final = {
    MovementKind.TRANSFER_OUT: MovementKind.TRANSFER_IN,
    MovementKind.REGRADE_OUT: MovementKind.REGRADE_IN,
    MovementKind.SPLIT_PAIR: MovementKind.SPLIT_IN,
}
"""Which movement ends which."""

_ARRIVED: Final = aliased(Movement)


def send(session: Session, line: MovementLine, to: str, there: There | None = None) -> int:
    """Send units to another location; they are in transit, at neither end, until they arrive."""
    out = replace(line, kind=MovementKind.TRANSFER_OUT, to=Target(to, line.grade))
    number, _ = ledger.write(session, out, there or looking.look(session, out))
    return number


def arrive(
    session: Session,
    number: int,
    quantity: int | None = None,
    who: str | None = None,
    note: str | None = None,
    undoes_id: int | None = None,
) -> list[int]:
    """Take what was sent into stock where it was sent to; all that is still on its way, or so many.

    Raises
    ------
    NotFound
        Nothing was sent under that number.
    Refused
        More than is on its way would arrive. Nothing was written.
    """
    sent, goal, location, rest = _sent(session, number)
    if rest == 0:
        raise Refused(f"all of transfer {number} has arrived already; nothing was written")
    if quantity is not None and quantity > rest:
        raise Refused(f"{rest} of transfer {number} are on their way, not {quantity}; nothing was written")
    come, kind = rest if quantity is None else quantity, MovementKind.TRANSFER_IN
    line = MovementLine(
        sent.loudspeaker_id, kind, come, location, goal.grade, goal.finish, serial=sent.serial, pack=goal.pack
    )
    return [record_movement(session, replace(line, from_id=sent.id, who=who, note=note, undoes_id=undoes_id))]


def on_its_way(session: Session, number: int) -> int:
    """Give how many of what was sent under a number have not arrived."""
    return _sent(session, number)[3]


def _sent(session: Session, number: int) -> tuple[Movement, Holding, str, int]:
    """Give what was sent, where it goes to, and how many of it are still on their way."""
    come = sa.select(sa.func.coalesce(sa.func.sum(_ARRIVED.quantity), 0)).where(_ARRIVED.from_id == Movement.id)
    query = (
        sa.select(Movement, Holding, Location.name, Movement.quantity - come.scalar_subquery())
        .join(Holding, Holding.id == Movement.to_holding_id)
        .join(Location, Location.id == Holding.location_id)
        .where(Movement.id == number, Movement.kind == MovementKind.TRANSFER_OUT)
    )
    found = session.execute(query).first() if 1 <= number < 2**31 else None
    if found is None:
        raise NotFound(f"no transfer was sent under the number {number}: see the stock ledger")
    return found[0], found[1], found[2], int(found[3])


def transfer(
    session: Session, line: MovementLine, to: str, there: There | None = None, beyond: There | None = None
) -> list[int]:
    """Move units to another location at once; `beyond` is what there is at that one."""
    if not rows.name_key(to):
        raise BadInput("the location to go to has no name")
    return _through(session, line, MovementKind.TRANSFER_OUT, Target(to, line.grade), there, beyond)


def regrade(session: Session, line: MovementLine, grade: Grade) -> list[int]:
    """Put units into another grade; only what was in quarantine can be new."""
    if grade is Grade.NEW and line.grade is not Grade.QUARANTINE:
        raise Refused(f"cannot regrade {line.grade_words} to new: only what comes out of quarantine can be new")
    return _through(session, line, MovementKind.REGRADE_OUT, Target(line.location, grade))


def _through(
    session: Session,
    line: MovementLine,
    kind: MovementKind,
    to: Target,
    there: There | None = None,
    beyond: There | None = None,
) -> list[int]:
    out = replace(line, kind=kind, to=to)
    back = replace(line, kind=PARTNER[kind], location=to.location, grade=to.grade)
    return ledger.write_through(session, out, back, there, beyond)


def split(session: Session, line: MovementLine, serials: Sequence[str] = ()) -> list[int]:
    """Split one pair into two singles, each with a serial: those given, or made of the movement's number.

    Raises
    ------
    BadInput
        Serials are given, but not two different ones.
    """
    if serials and len(set(serials)) != 2:
        raise BadInput("a pair is split into two: give two different serials, or none")
    out = replace(line, kind=MovementKind.SPLIT_PAIR, quantity=2, pack=2, to=Target(line.location, line.grade, 1))
    there, beyond = ledger.ends(session, out)
    first, _ = ledger.write(session, out, there, beyond)
    names = serials or [f"{line.serial or f'pair {first}'} {letter}" for letter in "AB"]
    single = replace(line, kind=MovementKind.SPLIT_IN, quantity=1, pack=1, from_id=first)
    return [first, *(record_movement(session, replace(single, serial=name)) for name in names)]


def count(session: Session, line: MovementLine) -> int | None:
    """Write the difference between what was counted and what the ledger says; None where there is none.

    Raises
    ------
    BadInput
        The count is no number of units, or differs without a reason.
    Refused
        More is reserved than was counted.
    """
    there = looking.look_locked(session, line)
    refuse_uncounted(line, there.pack)
    difference = line.quantity - there.on_hand
    if difference == 0:
        return None
    refuse_forgotten(session, line, there)
    return ledger.write(session, replace(line, kind=MovementKind.COUNT, quantity=difference), there)[0]


def refuse_uncounted(line: MovementLine, pack: int) -> None:
    """Refuse a quantity that nobody counts.

    Raises
    ------
    BadInput
        It is no number of units, or of half a pair.
    """
    if not 0 <= line.quantity <= LARGEST_QUANTITY:
        raise BadInput(f"quantity {line.quantity}: must be from 0 to {LARGEST_QUANTITY}")
    if line.quantity % pack:
        raise BadInput(f"quantity {line.quantity}: it is sold in pairs; count pairs as 2, and singles with --single")


class Open(NamedTuple):
    """A reservation that still holds something."""

    number: int
    rest: int
    until: datetime
    serial: str | None
    job_id: int
    job: str
    quote_id: int | None


def open_reservations(session: Session, line: MovementLine, there: There) -> list[Open]:
    """Give the live reservations of a line's units, those of its job where it names one, oldest first.

    Their holding is locked, so that nobody else ends them meanwhile.
    """
    if there.holding_id is None:
        return []
    looking.lock(session, [there.holding_id])
    values = {"holding": there.holding_id, "now": there.now}
    values |= {} if line.job is None else {"job": rows.name_key(line.job)}
    values |= {} if line.serial is None else {"serial": line.serial}
    query = _open(of_job=line.job is not None, of_serial=line.serial is not None)
    return [Open(*row) for row in session.connection().execute(query, values)]


@cache
def _open(*, of_job: bool, of_serial: bool) -> sa.Select[*tuple[Any, ...]]:
    columns = (Reservation.movement_id, Reservation.rest, Reservation.until, Reservation.serial)
    query = (
        with_job(
            sa.select(*columns, JOB.id, JOB.name, Movement.quote_id).join(
                Movement, Movement.id == Reservation.movement_id
            ),
            Movement.job_id,
        )
        .where(Reservation.holding_id == sa.bindparam("holding"), Reservation.rest > 0)
        .where(Reservation.until > sa.bindparam("now"))
        .order_by(Reservation.movement_id)
    )
    if of_job:
        named = sa.select(whole_job(Job)).where(Job.name_key == sa.bindparam("job"))
        query = query.where(JOB.id == named.scalar_subquery())
    if of_serial:
        query = query.where(sa.or_(Reservation.serial.is_(None), Reservation.serial == sa.bindparam("serial")))
    return query


def end_reservations(session: Session, line: MovementLine, there: There | None = None) -> list[int]:
    """Release or sell so many units out of the reservations of a job, oldest first.

    Raises
    ------
    Refused
        Fewer are reserved for it. Nothing was written.
    """
    if not 1 <= line.quantity <= LARGEST_QUANTITY:
        raise BadInput(f"quantity {line.quantity}: must be from 1 to {LARGEST_QUANTITY}")
    there = there or looking.look(session, line)
    found = open_reservations(session, line, there)
    jobs = sorted({item.job for item in found})
    if len(jobs) > 1:
        raise BadInput(f"they are reserved for {' and '.join(map(repr, jobs))}: say which job")
    held = sum(item.rest for item in found)
    if held < line.quantity:
        raise unpromised(session, line, there, fewer_reserved(line, held))
    numbers, _, _ = _end(session, line, there, found)
    return numbers


def sell(session: Session, line: MovementLine, there: There | None = None) -> list[int]:
    """Sell units; what is reserved for the job goes first, and the rest must be available. All or none."""
    there = there or looking.look(session, line)
    # for a job that nobody knows yet nothing is reserved, and nothing need be locked
    found = [] if line.job is None or there.job_id is None else open_reservations(session, line, there)
    numbers, missing, there = _end(session, line, there, found)
    if missing or not numbers:
        numbers.append(ledger.write(session, replace(line, quantity=missing), there)[0])
    return numbers


def _end(session: Session, line: MovementLine, there: There, found: Sequence[Open]) -> tuple[list[int], int, There]:
    """End reservations in their order until there are enough; give also how many are missing, and what there is."""
    numbers: list[int] = []
    missing = line.quantity
    for item in found:
        part = min(item.rest, missing)
        if part <= 0:
            break
        made = replace(line, quantity=part, job=item.job, reservation_id=item.number, serial=item.serial or line.serial)
        # how often a serial moved is known of the line's own only
        seen = there if item.serial in (None, line.serial) else looking.look(session, made)
        seen = replace(seen, job_id=item.job_id, rest=item.rest, until=item.until, serial=item.serial)
        number, there = ledger.write(session, made, seen)
        numbers.append(number)
        missing -= part
    return numbers, missing, there


def kept_for_job(session: Session, line: MovementLine, holding: int | None) -> list[str]:
    """Say what of a line's model is reserved for its job apart from one holding: singles, another finish, elsewhere."""
    query = with_job(
        sa.select(Reservation.rest, Location.name, Holding.finish, Holding.pack, Holding.grade)
        .join(Holding, Holding.id == Reservation.holding_id)
        .join(Location, Location.id == Holding.location_id)
        .join(Movement, Movement.id == Reservation.movement_id)
        .where(Holding.loudspeaker_id == line.loudspeaker_id, Reservation.rest > 0, Reservation.until > clock(session)),
        Movement.job_id,
    )
    named = sa.select(whole_job(Job)).where(Job.name_key == rows.name_key(line.job)).scalar_subquery()
    pack = model_of(session, line.loudspeaker_id).pack
    apart = (JOB.id == named, Holding.id != holding)
    found = session.execute(query.where(*apart).order_by(Reservation.movement_id))
    return [
        apart_words(units, place, finish, single < pack, grade.value) for units, place, finish, single, grade in found
    ]


def apart_words(units: int, place: str, finish: str | None, single: bool, grade: str) -> str:
    """Say what is reserved apart from other units of the model."""
    sort = None if grade == Grade.NEW.value else grade.replace("_", " ")
    return ", ".join(filter(None, (f"{units}{' single' if single else ''} at {place}", finish, sort)))


def join(session: Session, line: MovementLine, serials: Sequence[str]) -> list[int]:
    """Make two singles a pair, by counts: out the two of the serials, in the pair at what they cost.

    Raises
    ------
    BadInput
        Not two different serials are named, or the model is not sold in pairs.
    Refused
        One of them is not there, or promised. Nothing was written.
    """
    if len({" ".join(serial.split()) for serial in serials}) != 2 or len(serials) != 2:
        raise BadInput("a pair is joined of two: name their two serials")
    if model_of(session, line.loudspeaker_id).pack != 2:
        raise BadInput(f"{model_of(session, line.loudspeaker_id).name} is not sold in pairs")
    note = "; ".join(filter(None, (f"{JOINED}{' and '.join(serials)}", line.note)))
    cost = cost_of_serials(session, line.loudspeaker_id, (rows.name_key(line.finish), line.grade), serials)
    counted = replace(line, kind=MovementKind.COUNT, note=note)
    numbers = [record_movement(session, replace(counted, quantity=-1, pack=1, serial=serial)) for serial in serials]
    amount, currency = cost or (None, None)
    pair = replace(counted, quantity=2, pack=2, amount=amount, currency=currency)
    return [*numbers, record_movement(session, pair)]


def never_sold(session: Session, line: MovementLine) -> str | None:
    """Say that more come back than the ledger knows of, before they are written; None where they were sold.

    What was sold before the ledger began comes back too, so who asks decides whether to refuse it.
    """
    if line.serial is not None:
        serial = " ".join(line.serial.split())
        last = (
            sa.select(Movement.kind)
            .where(Movement.loudspeaker_id == line.loudspeaker_id, Movement.serial == serial, Movement.effect != 0)
            .order_by(Movement.serial_sequence.desc())
        )
        if session.scalars(last.limit(1)).first() is not MovementKind.SELL:
            return f"the ledger did not sell {model_of(session, line.loudspeaker_id).name} {serial}"
    out = sold_and_out(session, [line.loudspeaker_id]).get(line.loudspeaker_id, 0)
    if line.quantity <= out:
        return None
    name = model_of(session, line.loudspeaker_id).name
    return f"of {name} the ledger sold {out} that did not come back, not {line.quantity}"


def grade_meant(session: Session, line: MovementLine, goal: Grade) -> Grade:
    """Give the only grade, other than the goal, of which there are so many; quarantine goes before all others.

    Raises
    ------
    BadInput
        It could be two.
    Refused
        There are not so many of any.
    """
    levels = {grade: looking.level(session, replace(line, grade=grade)) for grade in Grade if grade is not goal}
    enough = [grade for grade, there in levels.items() if there.available >= line.quantity]
    if Grade.QUARANTINE in enough:
        return Grade.QUARANTINE
    if len(enough) > 1:
        raise BadInput(f"there are {' and '.join(grade.value for grade in enough)}: say which with --from")
    if not enough:
        held = {grade.value.replace("_", " "): found.available for grade, found in levels.items() if found.on_hand}
        there = ", ".join(f"{free} {grade}" for grade, free in held.items())
        raise Refused(
            f"cannot regrade {line.quantity} at {line.location!r}: {there or 'none'} available; nothing was written"
        )
    return enough[0]
