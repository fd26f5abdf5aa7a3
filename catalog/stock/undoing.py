"""A mistyped movement taken back by those that counter it: nothing leaves the ledger, so both stay in it."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session

from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind, Reservation
from triptych.catalog.database.stock_levels import clock
from triptych.catalog.errors import NotFound, Refused
from triptych.catalog.stock import ledger, looking, operations
from triptych.catalog.stock.movement_lines import UNDO, MovementLine
from triptych.catalog.stock.reading import Entry, entries
from triptych.catalog.stock.timing import until_words

Counters = list[int]
"""The numbers of the lines that were written."""


def undo(session: Session, number: int, note: str | None = None, who: str | None = None) -> tuple[Entry, Counters]:
    """Counter one movement, whole; give it, and the lines that do. Of two halves either may be named.

    Raises
    ------
    NotFound
        The ledger has no such line.
    Refused
        It is undone already, or others stand on it, which are told. Nothing was written.
    """
    speaker, entry = _meant(session, number)
    row = session.get_one(Movement, entry.number)
    # before anything is looked at: another may be undoing it
    looking.lock(session, [one for one in (row.holding_id, row.to_holding_id) if one is not None])
    _refuse_not_ours(session, entry)
    said = UNDO.format(entry.number) + (f": {note}" if note else "")
    line = MovementLine(speaker, MovementKind(entry.kind), entry.quantity, entry.location, Grade(entry.grade))
    line = replace(line, finish=entry.finish, pack=entry.pack, serial=entry.serial)
    line = replace(line, note=said, who=who, undoes_id=row.id)
    return entry, _COUNTER[line.kind](session, row, line, entry)


def _meant(session: Session, number: int) -> tuple[int, Entry]:
    """Give the line of a number with its loudspeaker; of what came from elsewhere, the line by which it left."""
    found = entries(session, [number]) if 1 <= number < 2**31 else []
    if not found:
        raise NotFound(f"the ledger has no line {number}: see the stock ledger")
    speaker, entry = found[0]
    if entry.ends is None:
        return speaker, entry
    left = entries(session, [entry.ends])[0]
    if entry.kind == MovementKind.TRANSFER_IN.value and entry.quantity != left[1].quantity:
        raise Refused(
            f"line {number} is a part of what line {entry.ends} sent: undo that one, or send this back with stock"
            " transfer; nothing was written"
        )
    return left


def _refuse_not_ours(session: Session, entry: Entry) -> None:
    """Refuse what was undone, what is an undo itself, and what a quote accounts for."""
    number = entry.number
    if entry.undoes is not None:
        raise Refused(f"line {number} is itself an {entry.note}: do anew what is right; nothing was written")
    done = session.scalar(sa.select(sa.func.min(Movement.id)).where(Movement.undoes_id == number))
    if done is not None:
        raise Refused(f"line {number} is undone already, by line {done}; nothing was written")
    if entry.quote is not None:
        way = (
            "take them back with stock return" if entry.kind == "sell" else f"let it go with quote lapse {entry.quote}"
        )
        raise Refused(f"line {number} is of quote {entry.quote}: {way}; nothing was written")


def _refuse_stood_on(session: Session, entry: Entry, query: sa.Select[Movement]) -> None:
    """Refuse where one of these stands on the line; what is undone, and what undid it, stand on nothing."""
    later = list(session.scalars(query.where(Movement.id > entry.number).order_by(Movement.id)))
    gone = _undone(session, later[0].loudspeaker_id) if later else set()
    standing = [one for one in later if one.undoes_id is None and not {one.id, one.from_id} & gone]
    if not standing:
        return
    told = ", ".join(f"{one.id} ({one.kind.value.replace('_', ' ')} {one.quantity})" for one in standing)
    lines, stand = ("line", "stands") if len(standing) == 1 else ("lines", "stand")
    raise Refused(
        f"line {entry.number} ({entry.kind.replace('_', ' ')} {entry.quantity}) cannot be undone:"
        f" {lines} {told} {stand} on it; undo what is later first; nothing was written"
    )


def _undone(session: Session, speaker: int) -> set[int | None]:
    """Give the numbers of those lines of a loudspeaker that are undone."""
    marked = (Movement.loudspeaker_id == speaker, Movement.undoes_id.is_not(None))
    return set(session.scalars(sa.select(Movement.undoes_id).where(*marked)))


def _refuse_gone(session: Session, entry: Entry, line: MovementLine) -> None:
    """Refuse to take units out that were taken, or promised, since."""
    there = looking.look_locked(session, line)
    if line.serial is not None:
        _refuse_moved(session, entry, line)
    elif there.level.available >= line.quantity:
        return
    now = clock(session)
    promised = sa.select(Reservation.movement_id).where(Reservation.rest > 0, Reservation.until > now)
    takes = sa.or_(Movement.effect < 0, Movement.id.in_(promised))
    query = sa.select(Movement).where(Movement.holding_id == there.holding_id, takes)
    if line.serial is not None:
        query = query.where(Movement.serial == line.serial)
    _refuse_stood_on(session, entry, query)


def _refuse_moved(session: Session, entry: Entry, line: MovementLine) -> None:
    """Refuse where the one of a serial went on since; its two halves of one move are one."""
    own = sa.or_(Movement.from_id.is_(None), Movement.from_id != entry.number)
    query = sa.select(Movement).where(
        Movement.loudspeaker_id == line.loudspeaker_id,
        Movement.serial == line.serial,
        Movement.effect != 0,
        own,
    )
    _refuse_stood_on(session, entry, query)


def _counted(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Count in what went out, or out what came in."""
    if row.effect > 0:
        _refuse_gone(session, entry, replace(line, quantity=row.effect))
    elif line.serial is not None:
        _refuse_moved(session, entry, line)
    return [ledger.record_movement(session, replace(line, kind=MovementKind.COUNT, quantity=-row.effect))]


def _reserved(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Release what was promised, and what of it was sold, taken back and so promised again."""
    numbers: Counters = []
    promises = [row.id]
    for number in promises:
        ended = sa.select(Movement).where(Movement.reservation_id == number)
        _refuse_stood_on(session, entry, ended)
        taken_back = [one.id for one in session.scalars(ended)]
        again = (Movement.kind == MovementKind.RESERVE, Movement.undoes_id.in_(taken_back))
        promises += session.scalars(sa.select(Movement.id).where(*again).order_by(Movement.id))
        kept = session.get_one(Reservation, number)
        freed = replace(line, kind=MovementKind.RELEASE, job=entry.job, reservation_id=number, quantity=kept.rest)
        numbers += [ledger.record_movement(session, freed)] if kept.rest else []
    return numbers


def _released(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    again = _promised_again(session, row, line, entry)
    if again is None:
        until = session.get_one(Reservation, row.reservation_id).until
        raise Refused(f"line {entry.number}: what it released lapsed at {until_words(until)}; nothing was written")
    _refuse_gone(session, entry, line)
    return [ledger.record_movement(session, again)]


def _promised_again(session: Session, row: Movement, line: MovementLine, entry: Entry) -> MovementLine | None:
    """Give the promise that a line ended, where it would still hold."""
    live = (Reservation.movement_id == row.reservation_id, Reservation.until > clock(session))
    kept = session.scalars(sa.select(Reservation).where(*live)).first()
    if kept is None:
        return None
    return replace(line, kind=MovementKind.RESERVE, job=entry.job, until=kept.until, serial=kept.serial)


def _sold(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Take back what was sold, into the grade that it had, and promise it again where it was promised."""
    if line.serial is not None:
        _refuse_moved(session, entry, line)
    else:
        _refuse_come_back(session, entry, line)
    back = replace(line, kind=MovementKind.RETURN, grade=Grade.QUARANTINE, job=entry.job)
    numbers = [ledger.record_movement(session, back)]
    numbers += operations.regrade(session, replace(back, kind=MovementKind.REGRADE_OUT, job=None), line.grade)
    again = _promised_again(session, row, line, entry)
    return [*numbers, *([ledger.record_movement(session, again)] if again else [])]


def _refuse_come_back(session: Session, entry: Entry, line: MovementLine) -> None:
    """Refuse to take back what came back since: no more may come back than was sold."""
    back = replace(line, kind=MovementKind.RETURN)
    if operations.never_sold(session, back) is None:
        return
    query = sa.select(Movement).where(
        Movement.loudspeaker_id == line.loudspeaker_id,
        Movement.kind == MovementKind.RETURN,
    )
    _refuse_stood_on(session, entry, query)


def _returned(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Give back what came back: in the grade in which the last of its kind was sold."""
    _refuse_gone(session, entry, line)
    query = (
        sa.select(Holding.grade)
        .join(Movement, Movement.holding_id == Holding.id)
        .where(Movement.loudspeaker_id == row.loudspeaker_id, Movement.kind == MovementKind.SELL, Movement.id < row.id)
        .order_by(Movement.id.desc())
    )
    if line.serial is not None:
        query = query.where(Movement.serial == line.serial)
    grade = session.scalars(query.limit(1)).first() or Grade.NEW
    numbers = operations.regrade(session, replace(line, kind=MovementKind.REGRADE_OUT), grade)
    return [
        *numbers,
        ledger.record_movement(session, replace(line, kind=MovementKind.SELL, grade=grade, job=entry.job)),
    ]


def _sent(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Bring back what went elsewhere; what is still on its way arrives for it first."""
    to = entry.to or line.location
    rest = operations.on_its_way(session, entry.number)
    said = (line.who, line.note, line.undoes_id)
    numbers = operations.arrive(session, entry.number, rest, *said) if rest else []
    away = replace(line, location=to, kind=MovementKind.TRANSFER_OUT)
    _refuse_gone(session, entry, away)
    return [*numbers, *operations.transfer(session, away, line.location)]


def _regraded(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Give them the grade that they had; what was new comes by quarantine, as only that can be new."""
    goal = session.get_one(Holding, row.to_holding_id).grade
    there = replace(line, grade=goal)
    _refuse_gone(session, entry, there)
    numbers: Counters = []
    if line.grade is Grade.NEW and goal is not Grade.QUARANTINE:
        numbers += operations.regrade(session, there, Grade.QUARANTINE)
        there = replace(there, grade=Grade.QUARANTINE)
    return numbers + operations.regrade(session, there, line.grade)


def _split(session: Session, row: Movement, line: MovementLine, entry: Entry) -> Counters:
    """Count the two singles out and the pair in; of their cost nothing changes."""
    serials = session.scalars(sa.select(Movement.serial).where(Movement.from_id == row.id).order_by(Movement.id)).all()
    singles = [replace(line, quantity=1, pack=1, serial=serial) for serial in serials]
    for single in singles:
        _refuse_gone(session, entry, single)
    out = [replace(single, kind=MovementKind.COUNT, quantity=-1) for single in singles]
    return [ledger.record_movement(session, one) for one in (*out, replace(line, kind=MovementKind.COUNT))]


_COUNTER: Final = {
    MovementKind.RECEIVE: _counted,
    MovementKind.COUNT: _counted,
    MovementKind.WRITE_OFF: _counted,
    MovementKind.RESERVE: _reserved,
    MovementKind.RELEASE: _released,
    MovementKind.SELL: _sold,
    MovementKind.RETURN: _returned,
    MovementKind.TRANSFER_OUT: _sent,
    MovementKind.REGRADE_OUT: _regraded,
    MovementKind.SPLIT_PAIR: _split,
}
"""What counters each kind; the other halves are countered by the line that they end."""
