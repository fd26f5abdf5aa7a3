"""A mistyped movement taken back by those that counter it: nothing leaves the ledger, so both stay in it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from triptych.catalog.database import reads
from triptych.catalog.database.models import Grade, Holding, Movement, MovementKind, Quote, QuoteState, Reservation
from triptych.catalog.database.stock_levels import clock
from triptych.catalog.errors import NotFound, Refused
from triptych.catalog.stock import ledger, looking, operations, together
from triptych.catalog.stock.movement_lines import UNDO, MovementLine
from triptych.catalog.stock.quote_promises import now_of
from triptych.catalog.stock.reading import Entry, entries
from triptych.catalog.stock.timing import until_words

Counters = list[int]
"""The numbers of the lines that were written."""


@dataclass(frozen=True, slots=True)
class Undone:
    """The line that was named, those that are one deed with it and went too, the lines that counter them, and words."""

    entry: Entry
    beside: tuple[Entry, ...]
    lines: Counters
    remarks: tuple[str, ...]


def undo(session: Session, number: int, note: str | None = None, who: str | None = None) -> Undone:
    """Counter one movement with all that is one deed with it. Of two halves either may be named.

    Raises
    ------
    NotFound
        The ledger has no such line.
    Refused
        It is undone already, or others stand on it, which are told. Nothing was written.
    """
    entry = _meant(session, number)
    named = session.get_one(Movement, entry.number)
    deed = together.one_with(session, named)
    _lock(session, deed)
    _refuse_undone(session, entry)
    gone = _undone(session, {one.id for one in deed})
    told, lines, remarks = [], Counters(), list[str]()
    # what was written last goes first
    for row in [one for one in reversed(deed) if one.id not in gone]:
        speaker, one = entries(session, [row.id])[0]
        _refuse_not_ours(session, row, deed)
        case = _Case(session, row, _line_of(speaker, row, one, note, who), one, remarks, _carried_on(row, deed))
        try:
            lines += _COUNTER[row.kind](case)
        except Refused as refusal:
            raise Refused(_of_deed(number, one, str(refusal))) from refusal
        told += [one] if one.number != entry.number else []
    remarks += _to_be_delivered_again(session, deed)
    return Undone(entry, tuple(told[::-1]), lines, tuple(dict.fromkeys(remarks)))


@dataclass(frozen=True, slots=True)
class _Case:
    """One line that is countered: its row, the line that counters it but for its kind, and what is to be told.

    `carried_on` is the promise elsewhere by which what it let go of went on.
    """

    session: Session
    row: Movement
    line: MovementLine
    entry: Entry
    remarks: list[str]
    carried_on: int | None


def _to_be_delivered_again(session: Session, deed: Sequence[Movement]) -> list[str]:
    """Let a quote that was sold whole be delivered again, and say so."""
    remarks = []
    for number in sorted({row.quote_id for row in deed if row.kind is MovementKind.SELL and row.quote_id is not None}):
        quote = session.get_one(Quote, number)
        if quote.state is QuoteState.SOLD:
            quote.state = QuoteState.ACCEPTED
            remarks.append(f"quote {number} is accepted again, as it was before that delivery")
    session.flush()
    return remarks


def _lock(session: Session, deed: Sequence[Movement]) -> None:
    """Hold all that a deed moved before anything is looked at: another may be undoing it."""
    quotes = sorted({row.quote_id for row in deed if row.quote_id is not None})
    for number in quotes:
        session.scalars(sa.select(Quote).where(Quote.id == number).with_for_update()).one()
    held = {one for row in deed for one in (row.holding_id, row.to_holding_id) if one is not None}
    looking.lock(session, held)


def _line_of(speaker: int, row: Movement, entry: Entry, note: str | None, who: str | None) -> MovementLine:
    line = MovementLine(speaker, row.kind, entry.quantity, entry.location, Grade(entry.grade), entry.finish)
    said = UNDO.format(entry.number) + (f": {note}" if note else "")
    return replace(line, pack=entry.pack, serial=entry.serial, note=said, who=who, undoes_id=row.id)


def _carried_on(row: Movement, deed: Sequence[Movement]) -> int | None:
    if row.reservation_id is None:
        return None
    return next((one.id for one in deed if one.id > row.id and one.carries_id == row.reservation_id), None)


def _of_deed(named: int, one: Entry, refusal: str) -> str:
    """Say of a refusal of which line it speaks, and what that has to do with the line that was named."""
    if f"line {one.number} " not in refusal:
        refusal = f"line {one.number} ({one.kind.replace('_', ' ')} {one.quantity}) cannot be undone: {refusal}"
    return refusal if named == one.number else f"line {named} goes with line {one.number}: {refusal}"


def _meant(session: Session, number: int) -> Entry:
    """Give the line of a number; of what came from elsewhere, the line by which it left."""
    found = entries(session, [number]) if 1 <= number < 2**31 else []
    if not found:
        raise NotFound(f"the ledger has no line {number}: see the stock ledger")
    entry = found[0][1]
    if entry.ends is None:
        return entry
    left = entries(session, [entry.ends])[0][1]
    if entry.kind == MovementKind.TRANSFER_IN.value and entry.quantity != left.quantity:
        raise Refused(
            f"line {number} is a part of what line {entry.ends} sent: undo that one, or send this back with stock"
            " transfer; nothing was written"
        )
    return left


def _refuse_undone(session: Session, entry: Entry) -> None:
    """Refuse what was undone, and what is an undo itself."""
    number = entry.number
    if entry.undoes is not None:
        raise Refused(f"line {number} is itself an {entry.note}: do anew what is right; nothing was written")
    done = session.scalar(sa.select(sa.func.min(Movement.id)).where(Movement.undoes_id == number))
    if done is not None:
        raise Refused(f"line {number} is undone already, by line {done}; nothing was written")


def _refuse_not_ours(session: Session, row: Movement, deed: Sequence[Movement]) -> None:
    """Refuse what a quote accounts for, other than a part that was delivered of it or carried elsewhere."""
    number = row.quote_id or together.taken_up(session, row)
    if number is None or any(one.carries_id is not None for one in deed):
        return
    state = session.get_one(Quote, number).state
    if row.kind is MovementKind.SELL:
        if state is not QuoteState.LAPSED:
            return
        way = "has lapsed: take them back with stock return"
    elif row.kind is MovementKind.RELEASE and row.quote_id is None:
        way = f"took up what it let go of: let that go with quote lapse {number}"
    elif state is QuoteState.ACCEPTED:
        way = f"accounts for it: let go of all that is left of it with quote lapse {number}"
    else:
        way = f"is {state.value}: make a new one, or reserve what is wanted anew"
    raise Refused(f"line {row.id} is of quote {number}, which {way}; nothing was written")


def _refuse_stood_on(case: _Case, query: sa.Select[Movement]) -> None:
    """Refuse where one of these stands on the line; what is undone, and what undid it, stand on nothing."""
    session, entry = case.session, case.entry
    later = list(session.scalars(query.where(Movement.id > entry.number).order_by(Movement.id)))
    gone = _undone(session, {number for one in later for number in (one.id, one.from_id) if number is not None})
    standing = [one for one in later if one.undoes_id is None and not {one.id, one.from_id} & gone]
    if not standing:
        return
    told = ", ".join(f"{one.id} ({one.kind.value.replace('_', ' ')} {one.quantity})" for one in standing)
    lines, stand = ("line", "stands") if len(standing) == 1 else ("lines", "stand")
    raise Refused(
        f"line {entry.number} ({entry.kind.replace('_', ' ')} {entry.quantity}) cannot be undone:"
        f" {lines} {told} {stand} on it; undo what is later first; nothing was written"
    )


def _undone(session: Session, numbers: Collection[int]) -> set[int | None]:
    """Give those of some lines that are undone."""
    found: set[int | None] = set()
    for part in reads.chunks(sorted(numbers)):
        found |= set(session.scalars(sa.select(Movement.undoes_id).where(Movement.undoes_id.in_(part))))
    return found


def _refuse_gone(case: _Case, line: MovementLine) -> None:
    """Refuse to take units out that were taken, or promised, since."""
    session = case.session
    there = looking.look_locked(session, line)
    if line.serial is not None:
        _refuse_moved(case, line.serial)
    if line.serial is None and there.level.available >= line.quantity:
        return
    now = clock(session)
    promised = sa.select(Reservation.movement_id).where(Reservation.rest > 0, Reservation.until > now)
    takes = sa.or_(Movement.effect < 0, Movement.id.in_(promised))
    query = sa.select(Movement).where(Movement.holding_id == there.holding_id, takes)
    if line.serial is not None and there.level.available >= line.quantity:
        query = query.where(Movement.serial == line.serial)
    _refuse_stood_on(case, query)


def _refuse_moved(case: _Case, serial: str) -> None:
    """Refuse where the one of a serial went on since; its two halves of one move are one."""
    own = sa.or_(Movement.from_id.is_(None), Movement.from_id != case.row.id)
    query = sa.select(Movement).where(
        Movement.loudspeaker_id == case.row.loudspeaker_id,
        Movement.serial == serial,
        Movement.effect != 0,
        own,
    )
    _refuse_stood_on(case, query)


def _counted(case: _Case) -> Counters:
    """Count in what went out, or out what came in."""
    line, effect = case.line, case.row.effect
    if effect > 0:
        _refuse_gone(case, replace(line, quantity=effect))
    elif line.serial is not None:
        _refuse_moved(case, line.serial)
    return [ledger.record_movement(case.session, replace(line, kind=MovementKind.COUNT, quantity=-effect))]


def _reserved(case: _Case) -> Counters:
    """Release what was promised, and what of it was sold, taken back and so promised again."""
    session = case.session
    numbers: Counters = []
    promises = [case.row.id]
    for number in promises:
        ended = sa.select(Movement).where(Movement.reservation_id == number)
        _refuse_stood_on(case, ended)
        taken_back = [one.id for one in session.scalars(ended)]
        again = (Movement.kind == MovementKind.RESERVE, Movement.undoes_id.in_(taken_back))
        promises += session.scalars(sa.select(Movement.id).where(*again).order_by(Movement.id))
        kept = session.get_one(Reservation, number, populate_existing=True)
        if kept.rest and kept.until > now_of(session):
            freed = replace(case.line, kind=MovementKind.RELEASE, job=case.entry.job, reservation_id=number)
            freed = replace(freed, quantity=kept.rest, quote_id=case.row.quote_id, serial=kept.serial)
            numbers.append(ledger.record_movement(session, freed))
    return numbers


def _released(case: _Case) -> Counters:
    again = _promised_again(case)
    if again is None:
        until = case.session.get_one(Reservation, case.row.reservation_id).until
        if case.carried_on is None:
            said = f"line {case.entry.number}: what it released lapsed at {until_words(until)}"
            raise Refused(f"{said}; nothing was written")
        case.remarks.append(f"what line {case.entry.number} let go of lapsed at {until_words(until)}: nobody holds it")
        return []
    _refuse_gone(case, case.line)
    return [ledger.record_movement(case.session, again)]


def _promised_again(case: _Case) -> MovementLine | None:
    """Give the promise that a line ended, where it would still hold; what a quote kept stays a part of it."""
    number = case.row.reservation_id or _let_go_for(case)
    if number is None:
        return None
    live = (Reservation.movement_id == number, Reservation.until > clock(case.session))
    kept = case.session.scalars(sa.select(Reservation).where(*live)).first()
    if kept is None:
        return None
    serial = kept.serial if case.row.reservation_id else case.row.serial
    again = replace(case.line, kind=MovementKind.RESERVE, job=case.entry.job, until=kept.until, serial=serial)
    goes_on = case.carried_on or (number if case.row.quote_id is not None else None)
    return replace(again, quote_id=case.row.quote_id, carries_id=goes_on)


def _let_go_for(case: _Case) -> int | None:
    """Give the reservation that was let go of so that another unit of its quote could be sold in its place."""
    if case.row.kind is not MovementKind.SELL or case.row.quote_id is None:
        return None
    again = aliased(Movement)
    query = sa.select(Movement.reservation_id).where(
        ~sa.exists().where(again.carries_id == Movement.reservation_id),
        Movement.quote_id == case.row.quote_id,
        Movement.holding_id == case.row.holding_id,
        Movement.kind == MovementKind.RELEASE,
        Movement.undoes_id.is_(None),
        Movement.id < case.row.id,
    )
    return case.session.scalars(query.order_by(Movement.id.desc()).limit(1)).first()


def _sold(case: _Case) -> Counters:
    """Take back what was sold, into the grade that it had, and promise it again where it was promised."""
    session, line = case.session, case.line
    if line.serial is not None:
        _refuse_moved(case, line.serial)
    else:
        _refuse_come_back(case)
    back = replace(line, kind=MovementKind.RETURN, grade=Grade.QUARANTINE, job=case.entry.job)
    numbers = [ledger.record_movement(session, back)]
    numbers += operations.regrade(session, replace(back, kind=MovementKind.REGRADE_OUT, job=None), line.grade)
    again = _promised_again(case)
    if again is None and case.row.quote_id is not None:
        case.remarks.append(
            f"what quote {case.row.quote_id} held of line {case.entry.number} has lapsed: nobody holds it now"
        )
    return [*numbers, *([ledger.record_movement(session, again)] if again else [])]


def _refuse_come_back(case: _Case) -> None:
    """Refuse to take back what came back since: no more may come back than was sold."""
    back = replace(case.line, kind=MovementKind.RETURN)
    if operations.never_sold(case.session, back) is None:
        return
    query = sa.select(Movement).where(
        Movement.loudspeaker_id == case.line.loudspeaker_id,
        Movement.kind == MovementKind.RETURN,
    )
    _refuse_stood_on(case, query)


def _returned(case: _Case) -> Counters:
    """Give back what came back: in the grade in which the last of its kind was sold."""
    session, row, line = case.session, case.row, case.line
    _refuse_gone(case, line)
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
    sold = replace(line, kind=MovementKind.SELL, grade=grade, job=case.entry.job)
    return [*numbers, ledger.record_movement(session, sold)]


def _sent(case: _Case) -> Counters:
    """Bring back what went elsewhere; what is still on its way arrives for it first."""
    session, line = case.session, case.line
    to = case.entry.to or line.location
    rest = operations.on_its_way(session, case.entry.number)
    said = (line.who, line.note, line.undoes_id)
    numbers = operations.arrive(session, case.entry.number, rest, *said) if rest else []
    away = replace(line, location=to, kind=MovementKind.TRANSFER_OUT)
    _refuse_gone(case, away)
    return [*numbers, *operations.transfer(session, away, line.location)]


def _regraded(case: _Case) -> Counters:
    """Give them the grade that they had; what was new comes by quarantine, as only that can be new."""
    session, line = case.session, case.line
    goal = session.get_one(Holding, case.row.to_holding_id).grade
    there = replace(line, grade=goal)
    _refuse_gone(case, there)
    numbers: Counters = []
    if line.grade is Grade.NEW and goal is not Grade.QUARANTINE:
        numbers += operations.regrade(session, there, Grade.QUARANTINE)
        there = replace(there, grade=Grade.QUARANTINE)
    return numbers + operations.regrade(session, there, line.grade)


def _split(case: _Case) -> Counters:
    """Count the two singles out and the pair in; of their cost nothing changes."""
    session, line = case.session, case.line
    came = sa.select(Movement.serial).where(Movement.from_id == case.row.id).order_by(Movement.id)
    singles = [replace(line, quantity=1, pack=1, serial=serial) for serial in session.scalars(came)]
    for single in singles:
        _refuse_gone(case, single)
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
