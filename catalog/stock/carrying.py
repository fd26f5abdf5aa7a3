"""Units that are promised, moved without letting go of them: to a van, or to a job for demonstration and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database import rows
from triptych.catalog.database.models import Holding, Job, Location, Movement, MovementKind, Reservation
from triptych.catalog.errors import BadInput, NotFound, Refused
from triptych.catalog.stock import ledger_rows, looking, operations
from triptych.catalog.stock.articles import named, speaker_name
from triptych.catalog.stock.job_names import JOB, job_named, parts_of, with_job
from triptych.catalog.stock.ledger import record_movement
from triptych.catalog.stock.movement_lines import LARGEST_QUANTITY, LENT, MovementLine
from triptych.catalog.stock.operations import Open
from triptych.catalog.stock.shortfalls import unpromised


def carry(session: Session, line: MovementLine, to: str) -> list[int]:
    """Move what is reserved for a job, oldest first, and reserve it there as it was; give the lines' numbers.

    Raises
    ------
    BadInput
        No job is named, or the quantity is none.
    Refused
        Fewer are reserved for it. Nothing was written.
    """
    if line.job is None:
        raise BadInput("say for which job they are reserved")
    if not 1 <= line.quantity <= LARGEST_QUANTITY:
        raise BadInput(f"quantity {line.quantity}: must be from 1 to {LARGEST_QUANTITY}")
    goal = replace(line, location=to)
    there, beyond = looking.look(session, line), looking.look(session, goal)
    # both ends together and in one order, so that who goes the other way never waits for us for ever
    looking.lock(session, [one.holding_id for one in (there, beyond) if one.holding_id is not None])
    found = operations.open_reservations(session, line, looking.look(session, line))
    held = sum(item.rest for item in found)
    if held < line.quantity:
        said = f"cannot move {line.quantity} from {line.location!r}: {held} reserved for {line.job!r}"
        raise unpromised(session, line, there, said)
    return [number for part in _parts(line, found) for number in _carried(session, line, to, *part)]


def _parts(line: MovementLine, found: Sequence[Open]) -> list[tuple[Open, int]]:
    missing, parts = line.quantity, []
    for item in found:
        part = min(item.rest, missing)
        missing -= part
        parts += [(item, part)] if part else []
    return parts


def _carried(session: Session, line: MovementLine, to: str, item: Open, units: int) -> list[int]:
    """Let go of a part of one reservation, move its units, and reserve them where they are then."""
    part = replace(line, quantity=units, job=item.job, serial=item.serial or line.serial)
    end = replace(part, kind=MovementKind.RELEASE, reservation_id=item.number, quote_id=item.quote_id)
    again = replace(part, kind=MovementKind.RESERVE, location=to, until=item.until)
    again = replace(again, quote_id=item.quote_id, carries_id=item.number, serial=item.serial)
    moved = replace(part, kind=MovementKind.TRANSFER_OUT, job=None)
    numbers = [record_movement(session, end), *operations.transfer(session, moved, to)]
    return [*numbers, record_movement(session, again)]


def lend(session: Session, line: MovementLine, until: datetime) -> tuple[str, list[int]]:
    """Give units to a job for demonstration until a day; give where they stand then, and the lines' numbers.

    What is reserved for the job where they are goes along; the rest must be free.

    Raises
    ------
    BadInput
        No job is named.
    Refused
        There are not so many. Nothing was written.
    """
    if line.job is None:
        raise BadInput("say to which job they are lent")
    place = _lending_place(session, line.job)
    numbers = operations.transfer(session, replace(line, kind=MovementKind.TRANSFER_OUT, job=None), place)
    kept = replace(line, kind=MovementKind.RESERVE, location=place, until=until, note=line.note)
    return place, [*numbers, record_movement(session, kept)]


def _lending_place(session: Session, job: str) -> str:
    """Give the name of the location of what is lent to a job, and make it where there is none yet."""
    number = ledger_rows.job_id(session, job)
    kept = session.scalar(sa.select(Location.name).where(Location.loan_job_id.in_(parts_of(number))))
    if kept is not None:
        return kept
    called = LENT.format(session.get_one(Job, number).name)
    key = rows.name_key(called)
    if session.scalar(sa.select(Location.id).where(Location.name_key == key)) is not None:
        raise Refused(f"a location is named {called!r} already, and nothing is lent there; nothing was written")
    ledger_rows.insert_once(
        session, Location, [{"name": called, "name_key": key, "zone": "UTC", "loan_job_id": number}]
    )
    return called


def bring_back(session: Session, line: MovementLine, to: str) -> list[int]:
    """Take back what was lent to a job, in the grade that it had; give the lines' numbers.

    Raises
    ------
    NotFound
        Nothing was ever lent to that job.
    Refused
        Fewer are there. Nothing was written.
    """
    job = job_named(session, line.job or "")
    place = session.scalar(sa.select(Location.name).where(Location.loan_job_id.in_(parts_of(job))))
    if place is None:
        raise NotFound(f"nothing is lent to {line.job!r}: see stock loans")
    there = replace(line, location=place)
    held = operations.open_reservations(session, there, looking.look(session, there))
    promised = min(line.quantity, sum(item.rest for item in held))
    numbers = []
    if promised:
        numbers = operations.end_reservations(session, replace(there, kind=MovementKind.RELEASE, quantity=promised))
    back = replace(there, kind=MovementKind.TRANSFER_OUT, job=None)
    return [*numbers, *operations.transfer(session, back, to)]


@dataclass(frozen=True, slots=True)
class Loan:
    """Units that are lent: to whom, until when, and whether that has passed."""

    job: str
    speaker: str
    finish: str | None
    grade: str
    units: int
    serial: str | None
    location: str
    until: datetime | None
    overdue: bool
    zone: str


def loans(session: Session, now: datetime | None = None) -> list[Loan]:
    """Give what is lent, soonest to come back first; what nobody holds any more is overdue."""
    moment = now or datetime.now(UTC)
    last = sa.select(sa.func.max(Movement.sequence)).where(Movement.holding_id == Holding.id).correlate(Holding)
    query = with_job(
        named(
            sa.select(JOB.name, speaker_name(), Holding.finish, Holding.grade, Movement.on_hand, Location.name)
            .add_columns(Location.zone, Holding.id)
            .join(Holding, Holding.id == Movement.holding_id)
            .join(Location, Location.id == Holding.location_id)
            .where(Movement.sequence == last.scalar_subquery(), Movement.on_hand > 0),
            Holding.loudspeaker_id,
        ),
        Location.loan_job_id,
    )
    found: list[Loan] = []
    for job, speaker, finish, grade, units, place, zone, holding in session.execute(query).all():
        rest = units
        held = sa.select(Reservation).where(Reservation.holding_id == holding, Reservation.rest > 0)
        for one in session.scalars(held.order_by(Reservation.until.desc())):
            part = min(rest, one.rest)
            if part:
                late = one.until <= moment
                about = (job, speaker, finish, grade.value, part, one.serial, place, one.until, late, zone)
                found.append(Loan(*about))
            rest -= part
        if rest:
            found.append(Loan(job, speaker, finish, grade.value, rest, None, place, None, True, zone))
    return sorted(found, key=lambda one: (one.until or moment, one.job, one.speaker))
